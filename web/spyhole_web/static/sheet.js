// The report of a firing on the page: the same figures as on paper, and printed from here as well.

import { ask } from "./act.js";
import { el, svg } from "./dom.js";
import { clock, duration } from "./time.js";
import { degrees, difference, temperature, unitName, whole } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/report").ReportFigures} ReportFigures */

const HOUR = 3_600_000;
const KEPT = "–";

/** @param {number} firing @param {Snapshot} now */
export async function sheet(firing, now) {
  const figures = /** @type {ReportFigures} */ (await ask("GET", `/api/firings/${firing}/report.json`));
  const unit = unitName(now.unit);
  const rings = [...figures.rings].reverse();
  const names = rings.map((ring) => ring.name);
  /** @param {Record<string, number | null>} by @param {(value: number) => string} said */
  const each = (by, said) => names.map((name) => { const value = by[name]; return value === null || value === undefined ? KEPT : said(value); });
  const climb = (/** @type {number} */ value) => whole(difference(value, now.unit));
  const rows = [
    [`Peak, ${unit}`, ...rings.map((ring) => (ring.peak_celsius === null ? KEPT : degrees(ring.peak_celsius, now.unit)))],
    ["Heat work", ...rings.map(work)],
    ["Energy, kWh", ...rings.map((ring) => ring.kwh.toFixed(1))],
    ...figures.climbs_celsius_per_hour.map((one) => [
      `Climb ${degrees(one.from_celsius, now.unit)} to ${degrees(one.to_celsius, now.unit)}, ${unit} per hour`, ...each(one.rings, climb),
    ]),
    ...figures.hours_above.map((one) => [
      one.below_peak ? `Within ${whole(difference(one.celsius, now.unit))} of peak` : `Above ${degrees(one.celsius, now.unit)}`,
      ...each(one.rings, (hours) => duration(hours * HOUR)),
    ]),
  ];
  const { at_end: atEnd, widest } = figures.evenness_celsius;
  const apart = atEnd === null ? "" : `When heating ended the rings were ${climb(atEnd)} ${unit} apart${widest === null ? "" : `, ${climb(widest)} at most when hot`}.`;
  const cooling = figures.cooling_celsius_per_hour.map((band) => {
    const rate = band.whole === null ? "not known" : `${climb(band.whole)} ${unit} per hour${band.limit === null ? "" : ` (limit ${climb(band.limit)})`}`;
    return `${band.name || "plan"}, ${degrees(band.from_celsius, now.unit)} to ${degrees(band.to_celsius, now.unit)}: ${rate}`;
  });
  const cost = figures.cost ? `, ${figures.cost.currency} ${figures.cost.money.toFixed(2)}` : "";
  const other = figures.differences.filter((one) => one.matters).map((one) => changed(one, now));
  return el(
    "section", { class: "sheet", "aria-labelledby": "sheet-title" }, el("h3", { id: "sheet-title" }, "Report"),
    el("p", { class: "first" }, typeset(figures.headline)), onPaper(figures, now),
    el("div", { class: "wide" }, el("table", { class: "course" },
      el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Ring"), ...names.map((name) => el("th", { scope: "col" }, name)))),
      el("tbody", {}, ...rows.map(([head = "", ...cells]) => el("tr", {}, el("th", { scope: "row" }, head), ...cells.map((cell) => el("td", {}, cell))))))),
    el("p", {}, `${apart} In all ${figures.energy.kwh.toFixed(1)} kWh${cost}.`),
    ...list("Cooling", cooling), ...list("Other than last time", other), ...list("Asked of you", figures.questions), ...list("Not known", figures.not_known),
  );
}

/** The curve as lines, for the printer: what is on the screen is a picture in the screen's own colours.
 * @param {ReportFigures} figures @param {Snapshot} now */
function onPaper(figures, now) {
  const [wide, tall, left, foot, aside] = [700, 260, 44, 236, 100];
  const points = figures.curve.filter((_, i) => i % Math.max(1, Math.floor(figures.curve.length / 400)) === 0);
  const [first = 0, last = 1] = [points[0]?.utc_ms, points.at(-1)?.utc_ms];
  const hottest = Math.max(100, ...points.flatMap((point) => Object.values(point.celsius).map((celsius) => temperature(celsius ?? 0, now.unit))));
  const x = (/** @type {number} */ utcMs) => left + ((utcMs - first) / (last - first || 1)) * (wide - left - aside);
  const y = (/** @type {number} */ value) => foot - (value / hottest) * (foot - 12);
  const chart = svg("svg", { class: "chart printed", viewBox: `0 0 ${wide} ${tall}`, "aria-hidden": "true" });
  for (let value = 0; value <= hottest; value += 200) chart.append(svg("line", { class: "rule", x1: left, x2: wide - aside, y1: y(value), y2: y(value) }), words(left - 5, y(value) + 4, whole(value), "end"));
  const hour = Math.max(1, Math.ceil((last - first) / HOUR / 10)) * HOUR;
  for (let at = Math.ceil(first / hour) * hour; at <= last; at += hour) chart.append(words(x(at), tall - 8, clock(at, now.zone), "middle"));
  let told = 0;
  points.forEach((point, i) => {
    if (i > 0 && point.stage !== points[i - 1]?.stage) chart.append(svg("line", { class: "rule", x1: x(point.utc_ms), x2: x(point.utc_ms), y1: 12, y2: foot }), words(x(point.utc_ms) - 3, 20 + 13 * (told++ % 4), point.stage, "end"));
  });
  [...figures.rings].reverse().forEach((ring, n) => {
    let path = "";
    let pen = false;
    for (const point of points) {
      const celsius = point.celsius[ring.name];
      if (celsius !== null && celsius !== undefined) path += `${pen ? "L" : "M"}${x(point.utc_ms).toFixed(1)} ${y(temperature(celsius, now.unit)).toFixed(1)}`;
      pen = celsius !== null && celsius !== undefined;
    }
    chart.append(svg("path", { class: `trace line${n % 4}`, d: path }), svg("path", { class: `trace line${n % 4}`, d: `M${wide - aside + 8} ${24 + 18 * n}h22` }), words(wide - aside + 34, 28 + 18 * n, ring.name, "start"));
  });
  return chart;
}

/** @param {number} x @param {number} y @param {string} said @param {string} anchor */
function words(x, y, said, anchor) {
  const made = svg("text", { x, y, "text-anchor": anchor });
  made.textContent = said;
  return made;
}

/** @param {import("../../types/report").RingFigures} ring */
function work(ring) {
  if (!ring.heat_work) return "not known";
  const { cone_down: down, next_cone: next, next_cone_bend_degrees: bend } = ring.heat_work;
  return `${down ? `${down} down` : "none down"}${next && bend !== null ? `, ${next} bent ${whole(bend)}°` : ""}`;
}

/** @param {import("../../types/report").Changed} one @param {Snapshot} now */
function changed({ what, subject, before, now: after }, now) {
  /** @param {number | string | null} value */
  const said = (value) => {
    if (value === null) return "not known";
    if (typeof value === "string") return value;
    if (what === "stage" || what === "heating") return duration(value * HOUR);
    return what === "peak" ? `${degrees(value, now.unit)} ${unitName(now.unit)}` : what === "work" ? value.toFixed(2) : `${value.toFixed(1)} kWh`;
  };
  const name = { stage: subject, heating: "heating in all", peak: "peak", work: "heat work", energy: "energy", end: "ended by" }[what] ?? what;
  return `${name}: ${said(after)}, last time ${said(before)}`;
}

/** On paper some faces lack the sign, so the report does without. @param {string} words */
const typeset = (words) => words.replaceAll(/\bdeg([CF])\b/g, "°$1");

/** @param {string} title @param {string[]} lines */
function list(title, lines) {
  return lines.length ? [el("h4", {}, title), el("ul", {}, ...lines.map((line) => el("li", {}, typeset(line))))] : [];
}
