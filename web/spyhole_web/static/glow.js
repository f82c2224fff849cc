// The colour of heat. A picture, not a measure.
//
// Chromaticity of a black body: the rational fit of M. Krystek, "An algorithm to calculate correlated colour temperature",
// Color Research and Application 10 (1985) 38-40, made for 1000 to 15000 K; down to 798 K it is off by less than 0.002.
// sRGB as in IEC 61966-2-1. Nothing glows below the Draper point, 798 K (Draper 1847).

const KELVIN = 273.15;
const DRAPER_KELVIN = 798;
const FULL_KELVIN = 1590; // where this picture is brightest: about the hottest a studio kiln goes

/** CIE 1931 x, y of a black body. @param {number} kelvin @returns {[number, number]} */
export function chromaticity(kelvin) {
  const square = kelvin * kelvin;
  const u = (0.860117757 + 1.54118254e-4 * kelvin + 1.28641212e-7 * square) / (1 + 8.42420235e-4 * kelvin + 7.08145163e-7 * square);
  const v = (0.317398726 + 4.22806245e-5 * kelvin + 4.20481691e-8 * square) / (1 - 2.89741816e-5 * kelvin + 1.61456053e-7 * square);
  const scale = 2 * u - 8 * v + 4; // CIE 1960 u, v to CIE 1931 x, y
  return [(3 * u) / scale, (2 * v) / scale];
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
