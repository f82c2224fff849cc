// What is the kiln's own on the curve, drawn onto uPlot's canvas: the band a plan expects, the ceiling as a hem, the
// forecast as a fan, a course of brick where quartz turns, entries on the time axis, alarms as flags, names at the ends.

import { wall } from "./chart.js";
import { day } from "./time.js";
import { degrees, temperature } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").Curve} Curve */
/** @typedef {import("../../types/shapes").Unit} Unit */
/** @typedef {import("uplot")} Chart */
/** @typedef {{ curve: Curve, unit: Unit, zone: string, now: Snapshot | null }} Shown now: the firing under way, if that is shown */

// Alpha to beta: Dodd and Murfin, Dictionary of Ceramics, 3rd ed. 1994; 226 from memory.
const QUARTZ_CELSIUS = 573;
const CRISTOBALITE_CELSIUS = /** @type {const} */ ([220, 226]);
// One face at one size on the whole canvas, the axes too: each other one costs a slow phone ten milliseconds.
export const DASHES = [[], [9, 4], [2, 3.5], [9, 3, 2, 3]];
const RINGS = /** @type {const} */ (["ink", "accent", "clay"]);
const TONES = /** @type {const} */ (["ink", "accent", "clay", "soft", "line", "hem", "course", "ribbon", "fan"]);

/** The page's tones and type, asked for once a drawing. @param {Element} room */
export function palette(room) {
  const style = getComputedStyle(room);
  const tones = /** @type {Record<typeof TONES[number], string>} */ ({});
  for (const name of TONES) tones[name] = style.getPropertyValue(`--${name}`).trim();
  const face = getComputedStyle(document.body).fontFamily;
  return { ...tones, face, ring: (/** @type {number} */ i) => tones[RINGS[i % RINGS.length] ?? "ink"] };
}

/** @typedef {ReturnType<typeof palette>} Palette */

/** A ceiling belongs to a stage: it steps. @returns {import("uplot").Series.PathBuilder} */
export function stairs() {
  if (!uPlot.paths.stepped) throw new Error("this uPlot draws no steps");
  return uPlot.paths.stepped({ align: 1 });
}

const two = (/** @type {number} */ value) => String(value).padStart(2, "0");

/** A ring's line, from point to point: all of them are shown, since there are as many as columns. @type {import("uplot").Series.PathBuilder} */
export function pointToPoint(u, k, from, to) {
  const stroke = new Path2D();
  const times = u.data[0];
  const values = u.data[k] ?? [];
  const [x, y] = [along(u, "x"), along(u, "y")];
  let pen = false;
  for (let i = from; i <= to; i += 1) {
    const value = values[i];
    if (value === null || value === undefined) pen = false;
    else if (pen) stroke.lineTo(x(times[i] ?? 0), y(value));
    else {
      stroke.moveTo(x(times[i] ?? 0), y(value));
      pen = true;
    }
  }
  return { stroke, fill: null, clip: null, flags: 1 };
}

/** The clock, and the day where it turns. @param {number[]} splits seconds @param {number} i @param {string} zone */
export function label(splits, i, zone) {
  const wallOf = (/** @type {number} */ k) => wall(splits[k] ?? 0, zone);
  const [there, first] = [wallOf(i), wallOf(0)];
  const time = `${two(there.getHours())}:${two(there.getMinutes())}`;
  const turned = i === 0 ? splits.length < 2 || first.getDate() === wallOf(1).getDate() : there.getDate() !== wallOf(i - 1).getDate();
  return turned ? `${time}\n${day((splits[i] ?? 0) * 1000, zone)}` : time;
}

/** A straight scale's places on the canvas; uPlot works out each anew. @param {Chart} u @param {"x" | "y"} name */
function along(u, name) {
  const { min = 0, max = 1 } = /** @type {{ min?: number, max?: number }} */ (u.scales[name] ?? {});
  const from = u.valToPos(min, name, true);
  const slope = max === min ? 0 : (u.valToPos(max, name, true) - from) / (max - min);
  return (/** @type {number} */ value) => from + (value - min) * slope;
}

/** A soft ribbon where the plan wants every ring. @param {Chart} u @param {Shown} shown @param {Palette} tones */
export function ribbon(u, { curve, unit }, tones) {
  const band = curve.expected;
  if (!band) return;
  const { ctx } = u;
  const [x, y] = [along(u, "x"), along(u, "y")];
  /** @param {number} i @param {number[]} side @returns {[number, number]} */
  const point = (i, side) => [x((band.utc_ms[i] ?? 0) / 1000), y(temperature(side[i] ?? 0, unit))];
  clipped(u, () => {
    ctx.beginPath();
    for (let i = 0; i < band.utc_ms.length; i += 1) ctx.lineTo(...point(i, band.high));
    for (let i = band.utc_ms.length - 1; i >= 0; i -= 1) ctx.lineTo(...point(i, band.low));
    ctx.fillStyle = tones.ribbon;
    ctx.fill();
  });
}

/** The forecast ahead: from the reference ring as it is to where the cone should go down. @param {Chart} u @param {Shown} shown @param {Palette} tones */
export function fan(u, { unit, now }, tones) {
  const ring = now?.rings.find((each) => each.name === now.reference_ring);
  const end = now?.firing?.cone_celsius;
  if (!now?.cone_down || ring?.celsius == null || end == null || end <= ring.celsius) return;
  const { ctx } = u;
  const down = now.cone_down;
  const top = u.valToPos(temperature(end, unit), "y", true);
  const at = (/** @type {number} */ ms) => u.valToPos(ms / 1000, "x", true);
  const [x, y] = [at(now.now_utc_ms), u.valToPos(temperature(ring.celsius, unit), "y", true)];
  clipped(u, () => {
    ctx.beginPath();
    ctx.moveTo(x, y);
    ctx.lineTo(at(down.low), top);
    ctx.lineTo(at(down.high), top);
    ctx.closePath();
    ctx.fillStyle = tones.fan;
    ctx.fill();
    ctx.beginPath();
    ctx.setLineDash([2 * uPlot.pxRatio, 4 * uPlot.pxRatio]);
    ctx.moveTo(x, y);
    ctx.lineTo(at(down.median), top);
    ctx.strokeStyle = tones.soft;
    ctx.lineWidth = uPlot.pxRatio;
    ctx.stroke();
  });
}

/** @param {Chart} u @param {() => void} draw */
function clipped(u, draw) {
  const { ctx, bbox } = u;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  draw();
  ctx.restore();
}

/** A faint course of brick where quartz turns, and cristobalite where the plan minds it. @param {Chart} u @param {Shown} shown @param {Palette} tones */
export function courses(u, { curve, unit }, tones) {
  course(u, QUARTZ_CELSIUS, `${degrees(QUARTZ_CELSIUS, unit)} quartz turns`, unit, tones);
  if (!curve.cristobalite) return;
  const [from, to] = CRISTOBALITE_CELSIUS;
  course(u, (from + to) / 2, `${degrees(from, unit)} to ${degrees(to, unit)} cristobalite turns`, unit, tones);
}

/** @param {Chart} u @param {number} celsius @param {string} words @param {Unit} unit @param {Palette} tones */
function course(u, celsius, words, unit, tones) {
  const middle = u.valToPos(temperature(celsius, unit), "y", true);
  const { left, top, width, height } = u.bbox;
  if (middle < top || middle > top + height) return;
  const { ctx } = u;
  const [tall, long, joint] = [9 * uPlot.pxRatio, 26 * uPlot.pxRatio, 1.5 * uPlot.pxRatio];
  ctx.save();
  ctx.fillStyle = tones.course;
  for (let x = left; x < left + width; x += long) ctx.fillRect(x, middle - tall / 2, Math.min(long - joint, left + width - x), tall);
  ctx.fillStyle = tones.soft;
  ctx.font = `${12 * uPlot.pxRatio}px ${tones.face}`;
  ctx.textAlign = "left";
  ctx.textBaseline = "bottom";
  ctx.fillText(words, left + 4 * uPlot.pxRatio, middle - tall / 2 - 2);
  ctx.restore();
}

/** Small stitches hang from the ceiling, so that it is told from a ring by shape. @param {Chart} u @param {Palette} tones */
export function hem(u, tones) {
  const ceiling = u.data.at(-1) ?? [];
  const times = u.data[0];
  const { ctx, bbox } = u;
  const stitch = 9 * uPlot.pxRatio;
  ctx.save();
  ctx.strokeStyle = tones.hem;
  ctx.lineWidth = uPlot.pxRatio;
  ctx.beginPath();
  const [across, up] = [along(u, "x"), along(u, "y")];
  let from = -Infinity;
  let before = 0;
  times.forEach((time, i) => {
    const x = across(time);
    const value = ceiling[i];
    if (value !== null && value !== undefined && x >= bbox.left && x <= bbox.left + bbox.width) {
      const y = up(value);
      for (let at = Math.max(from + stitch, i > 0 ? before : x); at <= x; at += stitch) {
        ctx.moveTo(at, y);
        ctx.lineTo(at + 0.4 * stitch, y - 0.6 * stitch);
        from = at;
      }
    }
    before = x;
  });
  ctx.stroke();
  ctx.restore();
}

/** Entries and prompts stand on the time axis, alarms fly as flags, the cone's hour is a bracket ahead. @param {Chart} u @param {Shown} shown @param {Palette} tones */
export function marks(u, { curve, now }, tones) {
  const { ctx, bbox } = u;
  const p = uPlot.pxRatio;
  const floor = bbox.top + bbox.height;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, 0, bbox.width + 62 * p, floor + 2 * p);
  ctx.clip();
  for (const mark of curve.marks) {
    const x = u.valToPos(mark.utc_ms / 1000, "x", true);
    if (x < bbox.left || x > bbox.left + bbox.width) continue;
    ctx.beginPath();
    if (mark.kind === "alarm") {
      ctx.strokeStyle = ctx.fillStyle = tones.ink;
      ctx.lineWidth = 1.5 * p;
      ctx.moveTo(x, floor);
      ctx.lineTo(x, bbox.top);
      ctx.stroke();
      ctx.beginPath();
      ctx.moveTo(x, bbox.top);
      ctx.lineTo(x + 15 * p, bbox.top + 5 * p);
      ctx.lineTo(x, bbox.top + 10 * p);
      ctx.fill();
    } else {
      const tall = mark.kind === "prompt" ? 5 * p : 9 * p;
      ctx.fillStyle = mark.kind === "prompt" ? tones.soft : tones.ink;
      ctx.moveTo(x, floor - tall);
      ctx.lineTo(x + 4 * p, floor);
      ctx.lineTo(x - 4 * p, floor);
      ctx.fill();
    }
  }
  const down = now?.cone_down;
  if (down && now?.firing) {
    const position = (/** @type {number} */ ms) => u.valToPos(ms / 1000, "x", true);
    const mid = position(down.median);
    const [low, high] = [Math.min(position(down.low), mid - 4 * p), Math.max(position(down.high), mid + 4 * p)];
    if (mid < bbox.left + bbox.width) {
      const y = floor - 13 * p;
      ctx.strokeStyle = ctx.fillStyle = tones.ink;
      ctx.lineWidth = 1.5 * p;
      ctx.beginPath();
      ctx.moveTo(low, y - 5 * p);
      ctx.lineTo(low, y);
      ctx.lineTo(high, y);
      ctx.lineTo(high, y - 5 * p);
      ctx.stroke();
      ctx.font = `${12 * p}px ${tones.face}`;
      ctx.textAlign = "right";
      ctx.textBaseline = "bottom";
      ctx.fillText(`cone ${now.firing.cone}`, Math.max(high, low + 40 * p), y - 8 * p);
    }
  }
  ctx.restore();
}

/** Each line says its own name where it ends. @param {Chart} u @param {Palette} tones */
export function ends(u, tones) {
  const { ctx, bbox } = u;
  const p = uPlot.pxRatio;
  const [from, to] = [u.scales["x"]?.min ?? 0, u.scales["x"]?.max ?? 0];
  const labels = u.series.slice(1).flatMap((series, i) => {
    const column = u.data[i + 1] ?? [];
    for (let k = column.length - 1; k >= 0; k -= 1) {
      const [value, time] = [column[k], u.data[0][k] ?? 0];
      if (value === null || value === undefined || time > to || time < from) continue;
      const tone = series.label === "ceiling" ? tones.hem : tones.ring(i);
      return [{ words: String(series.label), tone, x: u.valToPos(time, "x", true), y: u.valToPos(value, "y", true) }];
    }
    return [];
  });
  labels.sort((a, b) => a.y - b.y);
  labels.forEach((each, i) => {
    const above = labels[i - 1];
    if (above && each.y - above.y < 14 * p) each.y = above.y + 14 * p;
  });
  ctx.save();
  ctx.font = `${12 * p}px ${tones.face}`;
  ctx.textAlign = "left";
  ctx.textBaseline = "middle";
  for (const each of labels) {
    ctx.fillStyle = each.tone;
    ctx.fillText(each.words, Math.min(each.x, bbox.left + bbox.width) + 6 * p, each.y);
  }
  ctx.restore();
}
