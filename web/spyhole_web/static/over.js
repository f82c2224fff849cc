// Firings laid over one another: the curves, and under them how much hotter each was than the first.

import { ask } from "./act.js";
import { at, el, say, svg } from "./dom.js";
import { titleOf } from "./firing_words.js";
import { duration } from "./time.js";
import { difference, temperature, unitName, whole } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/book").Overlay} Overlay */

const HEIGHT = 340;
const UNDER = 150;
const EDGE = { left: 46, right: 8, top: 12, bottom: 26 };
const HOUR = 3_600_000;
const WAYS = /** @type {const} */ ([["clock", "By the clock, from lighting"], ["stage", "Stage upon stage"]]);

/** @type {string} */
let by = "clock";

/** @param {number[]} ids the first is the measure @param {Snapshot} now */
export async function showOver(ids, now) {
  const asked = new URLSearchParams([...ids.map((id) => ["firing", String(id)]), ["by", by]]);
  const overlay = /** @type {Overlay} */ (await ask("GET", `/api/book/overlay?${asked}`));
  const ways = WAYS.map(([value, words]) => {
    const pressed = String(value === by);
    return el("button", { type: "button", "aria-pressed": pressed, click: () => { by = value; void showOver(ids, now); } }, words);
  });
  const readout = el("p", { class: "readout", role: "status" });
  const titles = overlay.firings.map((each) => titleOf(each.firing, now));
  at("over").replaceChildren(
    el("a", { class: "back", href: "#" }, "Back to the book"),
    el("h2", { id: "over-title" }, "Laid over one another"),
    el("p", {}, by === "clock" ? `The ${overlay.ring} ring, hours from lighting.` : `The ${overlay.ring} ring. Each stage is stretched to the hours the first firing gave it.`),
    el("div", { class: "settings", role: "group", "aria-label": "How they are laid" }, ...ways),
    el("ul", { class: "key" }, ...titles.map((words, i) => el("li", {}, sample(i), el("span", {}, words)))),
    readout, charts(overlay, titles, now, readout),
    el("h3", {}, "How long each stage took"), stageTable(overlay, titles),
  );
}

/** @param {number} i */
export function sample(i) {
  return svg("svg", { viewBox: "0 0 48 16", "aria-hidden": "true" }, svg("path", { class: `line${i}`, d: "M0 8H48" }));
}

/** @param {{ hours: number[], firings: Pick<import("../../types/book").Over, "celsius" | "against_first">[] }} overlay
 * @param {string[]} titles @param {Snapshot} now @param {HTMLElement} readout @param {HTMLElement} room as wide as this */
export function charts(overlay, titles, now, readout, room = at("over")) {
  const { hours, firings } = overlay;
  // So that its letters are as large as the page's; a room with nothing in it yet has no width of its own.
  const WIDTH = Math.max(320, (room.clientWidth || (room.parentElement?.clientWidth ?? 0)) - (room.id ? 38 : 0));
  const until = hours.at(-1) ?? 1;
  const x = (/** @type {number} */ hour) => EDGE.left + (hour / until) * (WIDTH - EDGE.left - EDGE.right);
  const hottest = Math.max(100, ...firings.flatMap((each) => each.celsius.map((celsius) => temperature(celsius ?? 0, now.unit))));
  const y = (/** @type {number} */ celsius) => HEIGHT - EDGE.bottom - (temperature(celsius, now.unit) / hottest) * (HEIGHT - EDGE.top - EDGE.bottom);
  const furthest = Math.max(20, ...firings.flatMap((each) => each.against_first.map((apart) => Math.abs(difference(apart ?? 0, now.unit)))));
  const zero = HEIGHT + UNDER / 2;
  const lower = (/** @type {number} */ celsius) => zero - (difference(celsius, now.unit) / furthest) * (UNDER / 2 - 8);
  const hair = svg("line", { class: "hair", y1: EDGE.top, y2: HEIGHT + UNDER, visibility: "hidden" });
  const chart = svg(
    "svg", { class: "chart", viewBox: `0 0 ${WIDTH} ${HEIGHT + UNDER}`, role: "img", tabindex: "0", "aria-label": `Curves of ${titles.join("; ")}, and under them how much hotter each was than the first. Arrows read a moment.` },
  );
  for (const value of steps(hottest, 5)) {
    const at = y(now.unit === "degF" ? (value - 32) / 1.8 : value);
    chart.append(svg("line", { class: "rule", x1: EDGE.left, x2: WIDTH - EDGE.right, y1: at, y2: at }), text(EDGE.left - 6, at + 4, whole(value), "end"));
  }
  for (const hour of steps(until, 8)) chart.append(text(x(hour), HEIGHT - 6, `${hour} h`, x(hour) > WIDTH - 24 ? "end" : "middle"));
  chart.append(svg("line", { class: "zero", x1: EDGE.left, x2: WIDTH - EDGE.right, y1: zero, y2: zero }));
  for (const sign of [1, -1]) {
    const edge = Math.floor(furthest / 10) * 10 * sign;
    chart.append(text(EDGE.left - 6, zero - (edge / furthest) * (UNDER / 2 - 8) + 4, `${sign > 0 ? "+" : ""}${whole(edge)}`, "end"));
  }
  firings.forEach((each, i) => {
    chart.append(svg("path", { class: `trace line${i}`, d: trace(hours, each.celsius, x, y) }));
    if (i > 0) chart.append(svg("path", { class: `trace line${i}`, d: trace(hours, each.against_first, x, lower) }));
  });
  chart.append(hair);
  let shown = hours.length - 1;
  const read = (/** @type {number} */ i) => {
    shown = Math.max(0, Math.min(hours.length - 1, i));
    const hour = hours[shown] ?? 0;
    for (const end of ["x1", "x2"]) hair.setAttribute(end, String(x(hour)));
    hair.setAttribute("visibility", "visible");
    const parts = firings.map((each, k) => {
      const celsius = each.celsius[shown];
      if (celsius === null || celsius === undefined) return `${ordinal(k)} not known`;
      const apart = each.against_first[shown];
      const more = k === 0 || apart === null || apart === undefined ? "" : ` (${apart >= 0 ? "+" : ""}${whole(difference(apart, now.unit))})`;
      return `${ordinal(k)} ${whole(temperature(celsius, now.unit))}${more}`;
    });
    say(readout, `${duration(hour * HOUR)} after lighting: ${parts.join(", ")} ${unitName(now.unit)}.`);
  };
  chart.addEventListener("pointermove", (event) => {
    const box = chart.getBoundingClientRect();
    const at = ((event.clientX - box.left) / box.width) * WIDTH;
    read(Math.round(((at - EDGE.left) / (WIDTH - EDGE.left - EDGE.right)) * (hours.length - 1)));
  });
  chart.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: -5, ArrowRight: 5, Home: -Infinity, End: Infinity }[event.key];
    if (way === undefined) return;
    event.preventDefault();
    read(Number.isFinite(way) ? shown + way : way > 0 ? hours.length - 1 : 0);
  });
  say(readout, "Touch the curves, or use the arrow keys, to read a moment.");
  const drawnAt = room.clientWidth;
  const turned = () => {
    if (chart.isConnected && room.clientWidth === drawnAt) return;
    window.removeEventListener("resize", turned);
    if (chart.isConnected) chart.replaceWith(charts(overlay, titles, now, readout, room));
  };
  window.addEventListener("resize", turned);
  return chart;
}

/** @param {number} i */
const ordinal = (i) => ["first", "second", "third", "fourth"][i] ?? `number ${i + 1}`;

/** @param {number} x @param {number} y @param {string} words @param {string} anchor */
function text(x, y, words, anchor) {
  const made = svg("text", { x, y, "text-anchor": anchor });
  made.textContent = words;
  return made;
}

/** Round numbers up to the largest. @param {number} largest @param {number} most */
function steps(largest, most) {
  const step = [1, 2, 4, 6, 12, 24, 50, 100, 200, 250, 500, 1000].find((each) => largest / each <= most) ?? largest;
  const all = [];
  for (let value = 0; value <= largest; value += step) all.push(value);
  return all;
}

/** @param {number[]} hours @param {(number | null)[]} values @param {(hour: number) => number} x @param {(value: number) => number} y */
function trace(hours, values, x, y) {
  let path = "";
  let pen = false;
  hours.forEach((hour, i) => {
    const value = values[i];
    if (value === null || value === undefined) pen = false;
    else {
      path += `${pen ? "L" : "M"}${x(hour).toFixed(1)} ${y(value).toFixed(1)}`;
      pen = true;
    }
  });
  return path;
}

/** @param {Overlay} overlay @param {string[]} titles */
function stageTable(overlay, titles) {
  const names = [...new Set(overlay.firings.flatMap((each) => each.stages.map((stage) => stage.stage)))];
  const head = el("tr", {}, el("th", { scope: "col" }, "Stage"), ...titles.map((words) => el("th", { scope: "col" }, words.split(":")[0] ?? words)));
  const rows = names.map((name) => {
    const first = overlay.firings[0]?.stages.find((stage) => stage.stage === name)?.hours;
    const cells = overlay.firings.map((each, i) => {
      const took = each.stages.find((stage) => stage.stage === name)?.hours;
      if (took === undefined) return el("td", {}, "none");
      const apart = first === undefined || i === 0 ? 0 : (took - first) * HOUR;
      const more = Math.abs(apart) < HOUR / 20 ? "" : `, ${duration(apart)} ${apart > 0 ? "longer" : "shorter"}`;
      return el("td", {}, `${duration(took * HOUR)}${more}`);
    });
    return el("tr", {}, el("th", { scope: "row" }, name), ...cells);
  });
  return el("div", { class: "wide", tabindex: "0", role: "region", "aria-label": "How long each stage took" }, el("table", { class: "course" }, el("thead", {}, head), el("tbody", {}, ...rows)));
}
