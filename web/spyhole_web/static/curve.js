// The curve: three rings, the ceiling as a hem, a faint course of brick at 573, entries on the time axis, alarms as flags.
// uPlot draws the lines; what is the kiln's own is drawn onto its canvas here. Touch or arrow keys read a moment.

import { ask, run } from "./act.js";
import { at, el, say } from "./dom.js";
import { clock, day, when } from "./time.js";
import { degrees, temperature, unitName, whole } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").Curve} Curve */
/** @typedef {import("uplot")} Chart */

const POINTS = 800;
const HOUR = 3600;
const RELOAD_MS = 2000;
const QUARTZ_CELSIUS = 573; // alpha to beta quartz; Dodd and Murfin, Dictionary of Ceramics, 3rd ed. 1994
const DASHES = [[], [9, 4], [2, 3.5], [9, 3, 2, 3]];
const REACH = /** @type {const} */ ([["Whole firing", 0], ["4 hours", 4], ["1 hour", 1]]);

/** @type {Curve | null} */
let curve = null;
/** @type {Snapshot | null} */
let latest = null;
/** @type {Chart | null} */
let plot = null;
/** An earlier firing laid in the place of the one under way. @type {{ id: number, words: string } | null} */
let earlier = null;
let hours = 0;
let state = "";
let asked = 0;
let waiting = false;
/** @type {number | null} */
let reading = null;

const title = el("h2", { id: "curve-title" }, "Curve");
const back = el("button", { type: "button", class: "small", hidden: true, click: () => void toNow() }, "Back to now");
const readout = el("p", { class: "readout", role: "status", "aria-live": "off" });
const room = el("div", {
  class: "plot", tabindex: "0", role: "img", "aria-label": "Curve of the rings. Left and right arrows read a moment.", keydown: step,
});
const empty = el("p", { class: "empty" }, "No curve yet.");
const line = el("p", { class: "line", role: "status" });
const reaches = REACH.map(([words, span]) => {
  /** @type {HTMLButtonElement} */
  const button = el("button", { type: "button", "aria-pressed": String(span === hours), click: () => reach(span) }, words);
  return button;
});

export function openCurve() {
  at("curve").append(
    el("div", { class: "title" }, title, back), readout, room, empty, line,
    el("div", { class: "settings", role: "group", "aria-label": "How far back" }, ...reaches),
  );
  new ResizeObserver(() => plot?.setSize(size())).observe(room);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", build);
}

/** @param {number} span hours, 0: all */
function reach(span) {
  hours = span;
  REACH.forEach(([, each], i) => reaches[i]?.setAttribute("aria-pressed", String(each === span)));
  build();
}

/** Lay an earlier firing in the curve's place. @param {number} id @param {string} words */
export async function showCurve(id, words) {
  const found = /** @type {Curve} */ (await ask("GET", `/api/curve?points=${POINTS}&firing=${id}`));
  earlier = { id, words };
  hours = 0;
  lay(found);
  at("curve").scrollIntoView({ block: "start" });
  back.focus({ preventScroll: true });
}

async function toNow() {
  earlier = null;
  await load();
}

/** After a gap the curve is asked for again, not patched. */
export function reloadCurve() {
  if (!earlier) void load();
}

async function load() {
  if (waiting) return;
  waiting = true;
  asked = Date.now();
  const done = await run(null, line, async () => {
    try {
      const found = /** @type {Curve} */ (await ask("GET", `/api/curve?points=${POINTS}`));
      if (!earlier) lay(found);
    } catch (error) {
      if (latest?.firing) throw error;
      lay(null); // nothing has been fired yet
    }
  });
  waiting = false;
  if (!done) state = "";
}

/** Lengthen the curve by a snapshot, or ask for it anew when something was written down. @param {Snapshot} now */
export function growCurve(now) {
  const first = latest === null;
  latest = now;
  if (earlier) return;
  const entry = now.entries[0];
  const marks = `${now.firing?.id} ${now.unit} ${now.zone} ${entry?.utc_ms} ${now.entries.map((each) => each.undone).join()} ${now.alarms.map((each) => each.episode + each.joined.length).join()}`;
  if ((first || marks !== state) && Date.now() - asked > RELOAD_MS) {
    state = marks;
    void load();
    return;
  }
  if (!curve || !now.firing || curve.firing !== now.firing.id) return;
  const times = curve.utc_ms;
  const last = times.at(-1) ?? 0;
  if (now.now_utc_ms <= last) return;
  // As coarse as the rest: a newer value takes the place of the last until a step has passed.
  const before = times.at(-2) ?? 0;
  const replace = now.now_utc_ms - before < (now.now_utc_ms - (times[0] ?? 0)) / POINTS;
  if (replace) times[times.length - 1] = now.now_utc_ms;
  else times.push(now.now_utc_ms);
  for (const ring of now.rings) put(curve.rings[ring.name], ring.celsius, replace);
  put(curve.ceiling, now.ceiling_celsius, replace);
  if (!plot) return;
  plot.setData(data(curve));
  read(plot);
}

/** @param {(number | null)[] | undefined} column @param {number | null} value @param {boolean} replace */
function put(column, value, replace) {
  if (!column) return;
  if (replace) column[column.length - 1] = value;
  else column.push(value);
}

/** @param {Curve | null} found */
function lay(found) {
  curve = found && found.utc_ms.length > 1 ? found : null;
  say(title, earlier ? earlier.words : "Curve");
  back.hidden = earlier === null;
  empty.hidden = curve !== null;
  room.hidden = curve === null;
  reading = null;
  build();
}

const unit = () => latest?.unit ?? "degC";
const zone = () => latest?.zone ?? "UTC";
/** Top above bottom, as in the kiln. */
const names = () => Object.keys(curve?.rings ?? {}).reverse();

/** @param {Curve} of @returns {import("uplot").AlignedData} */
function data(of) {
  const shown = (/** @type {number | null} */ celsius) => (celsius === null ? null : temperature(celsius, unit()));
  return [of.utc_ms.map((ms) => ms / 1000), ...names().map((name) => (of.rings[name] ?? []).map(shown)), of.ceiling.map(shown)];
}

function size() {
  const width = Math.max(240, room.clientWidth);
  return { width, height: Math.round(Math.min(420, Math.max(260, width * 0.58))) };
}

/** @returns {[number, number]} seconds */
function span() {
  const times = curve?.utc_ms ?? [];
  const [start, end] = [(times[0] ?? 0) / 1000, (times.at(-1) ?? 0) / 1000];
  const down = earlier ? null : latest?.cone_down;
  const ahead = down && down.high / 1000 > end ? down.high / 1000 + 0.2 * HOUR : end;
  if (hours) return [Math.max(start, end - hours * HOUR), Math.min(ahead, end + hours * HOUR)];
  return [Math.max(start, end - 48 * HOUR), Math.max(ahead, start + HOUR)];
}

/** @param {string} name */
const ink = (name) => getComputedStyle(room).getPropertyValue(name).trim();

function build() {
  plot?.destroy();
  plot = null;
  if (!curve) return;
  const tones = ["--ink", "--accent", "--clay"].map(ink);
  const text = ink("--soft");
  const face = `12px ${getComputedStyle(document.body).fontFamily}`;
  /** @type {import("uplot").Axis} */
  const plain = { stroke: text, font: face, ticks: { show: false }, grid: { show: false } };
  plot = new uPlot(
    {
      ...size(),
      padding: [14, 62, 0, 0],
      tzDate: (seconds) => uPlot.tzDate(new Date(seconds * 1000), zone()),
      legend: { show: false },
      cursor: { drag: { x: false, y: false }, points: { size: 7 }, y: false },
      select: { show: false, left: 0, top: 0, width: 0, height: 0 },
      scales: {
        x: { time: true, range: () => span() },
        y: { range: (_, low, high) => [Math.min(0, low), Math.max(temperature(100, unit()), high * 1.06)] },
      },
      axes: [
        { ...plain, space: 56, values: (_, splits) => splits.map((_at, i) => label(splits, i)) },
        { ...plain, size: 44, space: 44, grid: { show: true, stroke: ink("--line"), width: 1 }, values: (_, splits) => splits.map(whole) },
      ],
      series: [
        {},
        ...names().map((name, i) => ({
          label: name, stroke: tones[i % tones.length] ?? text, width: 2, dash: DASHES[i % DASHES.length] ?? [], points: { show: false },
        })),
        { label: "ceiling", stroke: ink("--hem"), width: 1.25, points: { show: false }, paths: stairs() },
      ],
      hooks: { drawClear: [course], draw: [hem, marks, ends], setCursor: [read] },
    },
    data(curve),
    room,
  );
  const made = plot;
  made.over.addEventListener("pointermove", (event) => {
    if (event.pointerType === "mouse") return;
    const box = made.over.getBoundingClientRect();
    made.setCursor({ left: event.clientX - box.left, top: event.clientY - box.top });
  });
  read(made);
}

/** A ceiling belongs to a stage: it steps. @returns {import("uplot").Series.PathBuilder} */
function stairs() {
  if (!uPlot.paths.stepped) throw new Error("this uPlot draws no steps");
  return uPlot.paths.stepped({ align: 1 });
}

/** The clock, and the day where it turns. @param {number[]} splits seconds @param {number} i */
function label(splits, i) {
  const dayOf = (/** @type {number} */ k) => day((splits[k] ?? 0) * 1000, zone());
  const time = clock((splits[i] ?? 0) * 1000, zone());
  const turned = i === 0 ? splits.length < 2 || dayOf(0) === dayOf(1) : dayOf(i) !== dayOf(i - 1);
  return turned ? `${time}\n${dayOf(i)}` : time;
}

/** A faint course of brick where quartz turns. @param {Chart} u */
function course(u) {
  const middle = u.valToPos(temperature(QUARTZ_CELSIUS, unit()), "y", true);
  const { left, top, width, height } = u.bbox;
  if (middle < top || middle > top + height) return;
  const { ctx } = u;
  const [tall, long, joint] = [9 * uPlot.pxRatio, 26 * uPlot.pxRatio, 1.5 * uPlot.pxRatio];
  ctx.save();
  ctx.fillStyle = ink("--course");
  for (let x = left; x < left + width; x += long) ctx.fillRect(x, middle - tall / 2, Math.min(long - joint, left + width - x), tall);
  ctx.fillStyle = ink("--soft");
  ctx.font = `${11 * uPlot.pxRatio}px ${getComputedStyle(document.body).fontFamily}`;
  ctx.textAlign = "left";
  ctx.textBaseline = "bottom";
  ctx.fillText(`${degrees(QUARTZ_CELSIUS, unit())} quartz turns`, left + 4 * uPlot.pxRatio, middle - tall / 2 - 2);
  ctx.restore();
}

/** Small stitches hang from the ceiling, so that it is told from a ring by shape. @param {Chart} u */
function hem(u) {
  const ceiling = u.data.at(-1) ?? [];
  const times = u.data[0];
  const { ctx, bbox } = u;
  const stitch = 9 * uPlot.pxRatio;
  ctx.save();
  ctx.strokeStyle = ink("--hem");
  ctx.lineWidth = uPlot.pxRatio;
  ctx.beginPath();
  let from = -Infinity;
  times.forEach((time, i) => {
    const value = ceiling[i];
    const x = u.valToPos(time, "x", true);
    if (value === null || value === undefined || x < bbox.left || x > bbox.left + bbox.width) return;
    const y = u.valToPos(value, "y", true);
    const before = i > 0 ? u.valToPos(times[i - 1] ?? time, "x", true) : x;
    for (let at = Math.max(from + stitch, before); at <= x; at += stitch) {
      ctx.moveTo(at, y);
      ctx.lineTo(at + 0.4 * stitch, y - 0.6 * stitch);
      from = at;
    }
  });
  ctx.stroke();
  ctx.restore();
}

/** Entries and prompts stand on the time axis, alarms fly as flags, the cone's hour is a bracket ahead. @param {Chart} u */
function marks(u) {
  const { ctx, bbox } = u;
  const p = uPlot.pxRatio;
  const floor = bbox.top + bbox.height;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, 0, bbox.width + 62 * p, floor + 2 * p);
  ctx.clip();
  for (const mark of curve?.marks ?? []) {
    const x = u.valToPos(mark.utc_ms / 1000, "x", true);
    if (x < bbox.left || x > bbox.left + bbox.width) continue;
    ctx.beginPath();
    if (mark.kind === "alarm") {
      ctx.strokeStyle = ctx.fillStyle = ink("--ink");
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
      ctx.fillStyle = mark.kind === "prompt" ? ink("--soft") : ink("--ink");
      ctx.moveTo(x, floor - tall);
      ctx.lineTo(x + 4 * p, floor);
      ctx.lineTo(x - 4 * p, floor);
      ctx.fill();
    }
  }
  const down = earlier ? null : latest?.cone_down;
  if (down && latest?.firing) {
    const position = (/** @type {number} */ ms) => u.valToPos(ms / 1000, "x", true);
    const mid = position(down.median);
    const [low, high] = [Math.min(position(down.low), mid - 4 * p), Math.max(position(down.high), mid + 4 * p)];
    if (mid < bbox.left + bbox.width) {
      const y = floor - 13 * p;
      ctx.strokeStyle = ctx.fillStyle = ink("--ink");
      ctx.lineWidth = 1.5 * p;
      ctx.beginPath();
      ctx.moveTo(low, y - 5 * p);
      ctx.lineTo(low, y);
      ctx.lineTo(high, y);
      ctx.lineTo(high, y - 5 * p);
      ctx.stroke();
      ctx.font = `${11 * p}px ${getComputedStyle(document.body).fontFamily}`;
      ctx.textAlign = "right";
      ctx.textBaseline = "bottom";
      ctx.fillText(`cone ${latest.firing.cone}`, Math.max(high, low + 40 * p), y - 8 * p);
    }
  }
  ctx.restore();
}

/** Each line says its own name where it ends. @param {Chart} u */
function ends(u) {
  const { ctx, bbox } = u;
  const p = uPlot.pxRatio;
  const [from, to] = [u.scales["x"]?.min ?? 0, u.scales["x"]?.max ?? 0];
  const labels = u.series.slice(1).flatMap((series, i) => {
    const column = u.data[i + 1] ?? [];
    for (let k = column.length - 1; k >= 0; k -= 1) {
      const [value, time] = [column[k], u.data[0][k] ?? 0];
      if (value === null || value === undefined || time > to || time < from) continue;
      const tone = series.label === "ceiling" ? ink("--hem") : ink(["--ink", "--accent", "--clay"][i % 3] ?? "--ink");
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
  ctx.font = `600 ${12 * p}px ${getComputedStyle(document.body).fontFamily}`;
  ctx.textAlign = "left";
  ctx.textBaseline = "middle";
  for (const each of labels) {
    ctx.fillStyle = each.tone;
    ctx.fillText(each.words, Math.min(each.x, bbox.left + bbox.width) + 6 * p, each.y);
  }
  ctx.restore();
}

/** All values at one moment, in words under the title. @param {Chart} u */
function read(u) {
  const pointed = u.cursor.idx ?? null;
  reading = pointed ?? reading;
  const times = u.data[0];
  const i = pointed ?? times.length - 1;
  const time = times[i];
  if (time === undefined) return say(readout, "");
  const parts = u.series.slice(1).flatMap((series, k) => {
    const value = u.data[k + 1]?.[i];
    return value === null || value === undefined ? [] : [`${String(series.label)} ${whole(value)}`];
  });
  const near = (curve?.marks ?? []).filter((mark) => Math.abs(u.valToPos(mark.utc_ms / 1000, "x") - u.valToPos(time, "x")) < 7);
  const at = when(time * 1000, zone(), latest?.now_utc_ms ?? time * 1000);
  const words = `${at}: ${parts.join(", ")} ${unitName(unit())}.`;
  say(readout, pointed === null || near.length === 0 ? words : `${words} ${near.map((mark) => mark.words).join(". ")}.`);
}

/** @param {Event} event */
function step(event) {
  if (!(event instanceof KeyboardEvent) || !plot || !curve) return;
  const way = { ArrowLeft: -1, ArrowRight: 1, Home: -Infinity, End: Infinity }[event.key];
  if (way === undefined) return;
  event.preventDefault();
  const last = curve.utc_ms.length - 1;
  const jump = Math.max(1, Math.round(last / 60));
  reading = Math.max(0, Math.min(last, (reading ?? last) + (Number.isFinite(way) ? way * jump : way)));
  plot.setCursor({ left: plot.valToPos((curve.utc_ms[reading] ?? 0) / 1000, "x"), top: 10 });
}
