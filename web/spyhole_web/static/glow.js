// The colour of heat. A picture, not a measure.
//
// Planck's law over the CIE 1931 2 degree observer, in the closed fit of Wyman, Sloan and Shirley, "Simple Analytic
// Approximations to the CIE XYZ Color Matching Functions", Journal of Computer Graphics Techniques 2(2), 2013
// (the multi-lobe fit). sRGB as in IEC 61966-2-1. Nothing glows below the Draper point, 798 K (Draper 1847).

const KELVIN = 273.15;
const SECOND_RADIATION_CONSTANT = 1.438776877e-2; // m K, CODATA 2018
const DRAPER_KELVIN = 798;
const FULL_KELVIN = 1590; // where this picture is brightest: about the hottest a studio kiln goes

/** One lobe, with its own width on each side. @param {number} x @param {number} peak @param {number} left @param {number} right */
const lobe = (x, peak, left, right) => Math.exp(-0.5 * ((x - peak) * (x < peak ? left : right)) ** 2);

/** @param {number} nm @returns {[number, number, number]} the observer at this wavelength */
function observer(nm) {
  return [
    0.362 * lobe(nm, 442.0, 0.0624, 0.0374) + 1.056 * lobe(nm, 599.8, 0.0264, 0.0323) - 0.065 * lobe(nm, 501.1, 0.049, 0.0382),
    0.821 * lobe(nm, 568.8, 0.0213, 0.0247) + 0.286 * lobe(nm, 530.9, 0.0613, 0.0322),
    1.217 * lobe(nm, 437.0, 0.0845, 0.0278) + 0.681 * lobe(nm, 459.0, 0.0385, 0.0725),
  ];
}

/** XYZ of a black body, relative. @param {number} kelvin @returns {[number, number, number]} */
function tristimulus(kelvin) {
  /** @type {[number, number, number]} */
  const sum = [0, 0, 0];
  for (let nm = 360; nm <= 830; nm += 5) {
    const metres = nm * 1e-9;
    const radiance = 1e-30 / (metres ** 5 * Math.expm1(SECOND_RADIATION_CONSTANT / (metres * kelvin)));
    observer(nm).forEach((weight, i) => {
      sum[/** @type {0 | 1 | 2} */ (i)] += weight * radiance;
    });
  }
  return sum;
}

/** CIE 1931 x, y of a black body. @param {number} kelvin @returns {[number, number]} */
export function chromaticity(kelvin) {
  const [x, y, z] = tristimulus(kelvin);
  return [x / (x + y + z), y / (x + y + z)];
}

/** How bright the picture is: 0 below the Draper point, 1 at the top. Even steps of the eye, not of the light.
 * @param {number} celsius @returns {number} */
export function brightness(celsius) {
  const share = (celsius + KELVIN - DRAPER_KELVIN) / (FULL_KELVIN - DRAPER_KELVIN);
  return Math.min(1, Math.max(0, share));
}

/** sRGB of the glow, 0..255, never quite white. @param {number} celsius @returns {[number, number, number]} */
export function glow(celsius) {
  const bright = brightness(celsius);
  if (bright === 0) return [0, 0, 0];
  const [x, y] = chromaticity(celsius + KELVIN);
  const [bigX, bigZ] = [x / y, (1 - x - y) / y];
  const linear = [
    3.2406 * bigX - 1.5372 - 0.4986 * bigZ,
    -0.9689 * bigX + 1.8758 + 0.0415 * bigZ,
    0.0557 * bigX - 0.204 + 1.057 * bigZ,
  ].map((part) => Math.max(0, part)); // redder than a screen can show: the nearest it can
  const most = Math.max(...linear);
  // An eye, or a film, that takes in more and more: red fills first, then the rest follows towards yellow.
  const exposure = 0.25 * bright + 2.9 * bright ** 2.2;
  const shown = linear.map((part) => {
    const value = 0.94 * (1 - Math.exp(-exposure * (part / most + 0.012 * bright)));
    return Math.round(255 * (value <= 0.0031308 ? 12.92 * value : 1.055 * value ** (1 / 2.4) - 0.055));
  });
  return /** @type {[number, number, number]} */ (shown);
}

/** @param {readonly [number, number, number]} a @param {readonly [number, number, number]} b @param {number} share of b */
export function mix(a, b, share) {
  const blended = a.map((part, i) => Math.round(part + (/** @type {number} */ (b[i]) - part) * share));
  return `rgb(${blended.join(" ")})`;
}
