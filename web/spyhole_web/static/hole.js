// The head of the page: a ragged hole in brick, the heat behind it, and three cones against the heat. No text in it.

import { slab } from "./cone.js";
import { at, el, keep, mark, say, svg } from "./dom.js";
import { brightness, glow, mix } from "./glow.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").ConeView} ConeView */

const COURSE = 52;
const BRICK = 176;
const WIDE = 1000;
const TALL = 320;
const TONES = 5; // of brick
/** @type {readonly [number, number, number]} */
const SOOT = [14, 10, 8];
/** @type {readonly [number, number, number]} */
const ASH = [118, 108, 98];
/** @type {Record<string, number>} */
const STAND = { guide: -22, firing: 20, guard: 60 };

/** The same raggedness at every visit. @param {number} seed */
function chance(seed) {
  let state = seed;
  return () => {
    state = (state * 1664525 + 1013904223) % 4294967296;
    return state / 4294967296;
  };
}

/** A closed, chipped outline. @param {number} radius @param {number} rough @param {number} seed */
function ragged(radius, rough, seed) {
  const next = chance(seed);
  const phase = [next() * 6, next() * 6, next() * 6];
  const points = [];
  for (let i = 0; i < 56; i += 1) {
    const turn = (i / 56) * 2 * Math.PI + (next() - 0.5) * 0.05;
    const wave = Math.sin(2 * turn + /** @type {number} */ (phase[0])) + 0.7 * Math.sin(5 * turn + /** @type {number} */ (phase[1]));
    const chip = next() < 0.16 ? 2.2 * next() : 0;
    const r = radius + rough * (0.9 * wave + (next() - 0.5) * 1.5 + chip);
    points.push(`${(r * Math.cos(turn)).toFixed(1)} ${(r * Math.sin(turn) * 0.98).toFixed(1)}`);
  }
  return `M${points.join("L")}Z`;
}

/** The wall as a few paths, not as hundreds: each element costs a slow phone some tenths of a millisecond. */
function bricks() {
  const next = chance(7);
  /** @type {string[]} */
  const tones = Array.from({ length: TONES }, () => "");
  for (let row = 0, y = -TALL / 2 - 22; y < TALL / 2; y += COURSE, row += 1) {
    for (let x = -WIDE / 2 - (row % 2 ? BRICK / 2 : 0) - 12; x < WIDE / 2; x += BRICK) {
      const [a, b, c, d] = [next() * 2, next() * 2, next() * 2, next() * 2];
      const corners = `M${(x + 1.5 + a).toFixed(1)} ${(y + 1.5 + b).toFixed(1)}H${(x + BRICK - 1.5 - c).toFixed(1)}V${(y + COURSE - 1.5 - d).toFixed(1)}H${(x + 1.5 + b).toFixed(1)}Z`;
      tones[Math.floor(next() * TONES)] += corners;
    }
  }
  let pores = "";
  for (let i = 0; i < 230; i += 1) {
    const [x, y] = [(next() - 0.5) * WIDE, (next() - 0.5) * TALL];
    const size = 0.5 + next() ** 3 * 2.2;
    const [wide, tall] = [(size * 1.4).toFixed(1), size.toFixed(1)];
    pores += `M${x.toFixed(0)} ${y.toFixed(0)}m-${wide} 0a${wide} ${tall} 0 1 0 ${(2 * Number(wide)).toFixed(1)} 0a${wide} ${tall} 0 1 0-${(2 * Number(wide)).toFixed(1)} 0`;
  }
  return svg(
    "g", { class: "wall" },
    ...tones.map((d, i) => svg("path", { d, class: "brick", "fill-opacity": (0.74 + (0.26 * i) / (TONES - 1)).toFixed(2) })),
    svg("path", { d: pores, class: "pore" }),
  );
}

const far = svg("radialGradient", { id: "far", cx: "50%", cy: "46%", r: "62%" });
const tunnel = svg("radialGradient", { id: "tunnel", cx: "52%", cy: "52%", r: "52%" });
const cast = svg("radialGradient", { id: "cast", cx: "50%", cy: "50%", r: "50%" });
/** @param {SVGGradientElement} of @param {string} offset */
function stop(of, offset) {
  const made = svg("stop", { offset });
  of.append(made);
  return made;
}
const heart = stop(far, "0");
const body = stop(far, "0.62");
const rim = stop(far, "1");
const deep = stop(tunnel, "0.72");
const mouth = stop(tunnel, "1");
const near = stop(cast, "0.45");
const gone = stop(cast, "1");

const shelf = svg("path", { d: "M-110 55L110 51V110H-110Z" });
/** @type {Map<string, { slab: SVGPathElement, edge: SVGPathElement, drawn: number }>} */
const cones = new Map();
const pack = svg("g", { "clip-path": "url(#opening)" });

function draw() {
  const opening = ragged(88, 1.5, 41);
  pack.append(svg("path", { d: "M-120-120H120V120H-120Z", fill: "url(#far)" }), shelf);
  for (const [role, x] of Object.entries(STAND)) {
    const drawn = { slab: svg("path", {}), edge: svg("path", { class: "edge" }), drawn: NaN };
    pack.append(svg("g", { transform: `translate(${x} 55)` }, drawn.slab, drawn.edge));
    cones.set(role, drawn);
  }
  const clip = svg("clipPath", { id: "opening" }, svg("path", { d: opening }));
  return svg(
    "svg",
    { viewBox: `-500 -132 1000 264`, preserveAspectRatio: "xMidYMid slice", class: "hole", "aria-hidden": "true", focusable: "false" },
    svg("defs", {}, far, tunnel, cast, clip),
    bricks(),
    svg("circle", { r: "215", fill: "url(#cast)" }),
    svg("path", { d: ragged(111, 2.6, 19), class: "lip" }),
    svg("path", { d: ragged(103, 2.3, 23), fill: "url(#tunnel)" }),
    svg("g", { transform: "translate(-2 2)" }, pack, svg("path", { d: opening, class: "depth" })),
  );
}

/** @type {Map<string, { node: HTMLElement, show: (cone: ConeView) => void }>} */
const legend = new Map();

/** One cone in words, outside the hole. */
function label() {
  const role = el("span", { class: "role" });
  const number = el("span", { class: "number" });
  const words = el("span", { class: "words" });
  return {
    node: el("li", {}, role, number, words),
    /** @param {ConeView} cone */
    show(cone) {
      say(role, cone.role);
      say(number, cone.cone);
      say(words, cone.words);
    },
  };
}

/** Brick and hole, while the first word from the kiln is on its way. */
export function openHole() {
  at("hole").append(draw());
}

/** @param {Snapshot} now */
export function showHole(now) {
  const seen = now.rings.find((ring) => ring.name === now.reference_ring) ?? null;
  // The ring that decides; when it cannot be seen, the hottest that can.
  const known = now.rings.flatMap((ring) => (ring.celsius === null ? [] : [ring.celsius]));
  paint(seen?.celsius ?? (known.length ? Math.max(...known) : 20));
  for (const cone of now.cones) bend(cone);
  for (const [role, drawn] of cones) {
    const there = now.cones.some((cone) => cone.role === role);
    mark(/** @type {Element} */ (drawn.slab.parentNode), "display", there ? null : "none");
  }
  at("cones").hidden = now.cones.length === 0;
  keep(at("cones"), legend, now.cones, (cone) => cone.role, label);
}

let painted = NaN;

/** @param {number} celsius */
function paint(celsius) {
  if (Math.abs(celsius - painted) < 1) return;
  painted = celsius;
  const heat = glow(celsius);
  const bright = brightness(celsius);
  mark(heart, "stop-color", mix(mix3(SOOT, heat, 1), [255, 236, 200], 0.1 * bright));
  mark(body, "stop-color", mix(SOOT, heat, bright ? 0.96 : 0));
  mark(rim, "stop-color", mix(SOOT, heat, 0.7));
  mark(deep, "stop-color", mix(SOOT, heat, 0.62));
  mark(mouth, "stop-color", mix(SOOT, heat, 0.2));
  mark(near, "stop-color", mix(heat, heat, 0));
  mark(near, "stop-opacity", (0.34 * bright).toFixed(2));
  mark(gone, "stop-color", mix(heat, heat, 0));
  mark(gone, "stop-opacity", "0");
  const clay = mix3(mix3(SOOT, ASH, 0.62), heat, Math.min(1, bright * 3));
  mark(shelf, "fill", mix(SOOT, clay, 0.62));
  for (const { slab: drawn, edge } of cones.values()) {
    mark(drawn, "fill", mix(clay, SOOT, 0.18 + 0.3 * Math.min(1, bright * 3)));
    mark(edge, "stroke", mix(clay, [255, 226, 180], 0.25));
  }
}

/** @param {readonly [number, number, number]} a @param {readonly [number, number, number]} b @param {number} share of b
 * @returns {[number, number, number]} */
function mix3(a, b, share) {
  return [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share, a[2] + (b[2] - a[2]) * share];
}

/** @param {ConeView} cone */
function bend(cone) {
  const drawn = cones.get(cone.role);
  if (!drawn || Math.abs(drawn.drawn - cone.bend_degrees) < 0.25) return;
  drawn.drawn = cone.bend_degrees;
  const path = slab(cone.bend_degrees, 80, 20, 6);
  mark(drawn.slab, "d", path);
  mark(drawn.edge, "d", path);
}
