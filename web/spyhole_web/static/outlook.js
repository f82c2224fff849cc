// What a plan should do, drawn: the band of the reference ring, the rings in it, where each stage begins, the cone.

import { mark, svg } from "./dom.js";
import { duration } from "./time.js";
import { temperature, unitName } from "./units.js";

/** @typedef {import("../../types/plans").Outlook} Outlook */
/** @typedef {import("../../types/shapes").Unit} Unit */

const WIDEST = 640;
const NARROWEST = 300;
const LEFT = 46;
const RIGHT = 74; // the rings' names
const TOP = 26;
const BOTTOM = 30;
const DASHES = ["", "9 4", "2 4", "12 4 2 4"];
const HOUR_MS = 3_600_000;

/** @param {number} hours */
export const hoursWords = (hours) => duration(hours * HOUR_MS);

/**
 * @param {SVGSVGElement} picture
 * @param {Outlook} seen
 * @param {{ unit: Unit, cone: string, when: (hours: number) => string }} manner when: what stands below an hour
 */
export function drawOutlook(picture, seen, { unit, cone, when }) {
  // Drawn in the page's own pixels, so that its words are as large as the others.
  const wide = Math.min(WIDEST, Math.max(NARROWEST, picture.clientWidth || WIDEST));
  const tall = Math.round(Math.max(170, wide * 0.46));
  const last = Math.max(...[seen.hours, seen.quick.hours, seen.slow.hours].map((each) => each.at(-1) ?? 1), 1);
  const hottest = Math.max(...seen.rings.flatMap((ring) => ring.celsius), ...seen.slow.celsius, 100);
  const step = unit === "degF" ? 400 : 200;
  const highest = Math.ceil((temperature(hottest, unit) * 1.04) / step) * step;
  /** @param {number} hours */
  const x = (hours) => LEFT + (hours / last) * (wide - LEFT - RIGHT);
  /** @param {number} shown in the reader's unit */
  const level = (shown) => tall - BOTTOM - (shown / highest) * (tall - TOP - BOTTOM);
  /** @param {number} celsius */
  const y = (celsius) => level(Math.max(0, temperature(celsius, unit)));
  /** @param {{ hours: number[], celsius: number[] }} edge */
  const points = (edge) => edge.hours.map((at, i) => `${x(at).toFixed(1)},${y(edge.celsius[i] ?? 0).toFixed(1)}`);

  /** @type {SVGElement[]} */
  const parts = [];
  for (let shown = 0; shown <= highest; shown += step) {
    parts.push(svg("line", { class: "course", x1: LEFT, x2: wide - RIGHT, y1: level(shown), y2: level(shown) }));
    parts.push(words(LEFT - 6, level(shown) + 5, String(shown), "end"));
  }
  parts.push(words(LEFT - 6, 14, unitName(unit), "end"));
  const every = [1, 2, 3, 4, 6, 8, 12, 24].find((hours) => last / hours <= (wide > 450 ? 7 : 5)) ?? 24;
  for (let at = 0; at <= last; at += every) parts.push(words(x(at), tall - 8, when(at), "middle"));
  parts.push(svg("polygon", { class: "ribbon", points: [...points(seen.quick), ...points(seen.slow).reverse()].join(" ") }));
  let free = -1;
  seen.stages.forEach((stage, i) => {
    const at = x(stage.from_hours);
    if (i > 0) parts.push(svg("line", { class: "turn", x1: at, x2: at, y1: TOP - 8, y2: tall - BOTTOM }));
    if (at < free) return;
    parts.push(words(at + 3, 14, stage.name, "start"));
    free = at + 3 + stage.name.length * 8.4;
  });
  const ends = seen.rings.map((ring, i) => ({ ring, i, at: y(ring.celsius.at(-1) ?? 0) })).sort((a, b) => a.at - b.at);
  let below = -Infinity;
  for (const { ring, i, at } of ends) {
    const dash = DASHES[i % DASHES.length] ?? "";
    parts.push(svg("polyline", { class: `ring-${i % 4}`, "stroke-dasharray": dash, points: points({ hours: seen.hours, celsius: ring.celsius }).join(" ") }));
    below = Math.max(at + 5, below + 16);
    parts.push(words(x(seen.hours.at(-1) ?? last) + 8, below, ring.name, "start"));
  }
  if (seen.down) {
    const at = x(seen.down.likely);
    parts.push(svg("line", { class: "down", x1: at, x2: at, y1: TOP, y2: tall - BOTTOM }));
  }
  picture.replaceChildren(...parts);
  mark(picture, "viewBox", `0 0 ${wide} ${tall}`);
  mark(picture, "role", "img");
  mark(picture, "aria-label", `Expected curve. ${endWords(seen, cone)}`);
}

/** Draw again when a phone is turned: the picture is made for its width. @param {() => void} again */
export function whenTurned(again) {
  let wide = window.innerWidth;
  window.addEventListener("resize", () => {
    if (window.innerWidth === wide) return;
    wide = window.innerWidth;
    again();
  });
}

/** @param {Outlook} seen @param {string} cone */
export function endWords(seen, cone) {
  if (!seen.down) {
    return seen.off ? `Heating ends after ${hoursWords(seen.off.likely)}, with cone ${cone} not down.` : "This may never end.";
  }
  const { low, likely, high } = seen.down;
  const late = high === null ? ", or never if the kiln is weaker than thought" : ` and ${hoursWords(high)}`;
  const early = high === null ? `at the earliest ${hoursWords(low)}` : `between ${hoursWords(low)}`;
  return `Cone ${cone} should be down after ${hoursWords(likely)}, ${early}${late}.`;
}

/** @param {number} left @param {number} top @param {string} text @param {string} anchor */
function words(left, top, text, anchor) {
  const made = svg("text", { x: left.toFixed(1), y: top.toFixed(1), "text-anchor": anchor });
  made.append(text);
  return made;
}
