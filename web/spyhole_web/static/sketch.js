// A firing's curve as a thumbnail: a line on the heat it went through, nothing to read off.

import { svg } from "./dom.js";

const WIDTH = 120;
const HEIGHT = 44;
const TALLEST_CELSIUS = 1300;
const LONGEST_GAP = 6; // of the usual steps between two points

/** @typedef {import("../../types/book").Sketch} Sketch */

/** @param {Sketch} sketch */
export function drawn(sketch) {
  const node = svg("svg", { class: "sketch", viewBox: `0 0 ${WIDTH} ${HEIGHT}`, preserveAspectRatio: "none", "aria-hidden": "true" });
  const { utc_ms: times, celsius } = sketch;
  const [first, last] = [times[0] ?? 0, times.at(-1) ?? 0];
  if (times.length < 2 || last <= first) return node;
  const step = (last - first) / (times.length - 1);
  let path = "";
  times.forEach((at, i) => {
    const x = ((at - first) / (last - first)) * WIDTH;
    const y = HEIGHT - 1 - (Math.max(0, celsius[i] ?? 0) / TALLEST_CELSIUS) * (HEIGHT - 3);
    const joined = i > 0 && at - (times[i - 1] ?? 0) < LONGEST_GAP * step;
    path += `${joined ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`;
  });
  node.append(svg("path", { class: "under", d: `${path}V${HEIGHT}H0Z` }), svg("path", { class: "trace", d: path }));
  return node;
}
