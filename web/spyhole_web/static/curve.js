// The curve of a firing: asked for, lengthened, and shown. uPlot draws the lines, curve_paint.js what is the kiln's own.
// Touch or arrow keys read a moment; two fingers, keys or buttons choose the stretch of time (stretch.js).

import { ask, run } from "./act.js";
import { chartThere, wall } from "./chart.js";
import { DASHES, courses, ends, fan, hem, label, marks, palette, pointToPoint, ribbon, stairs } from "./curve_paint.js";
import { at, el, say } from "./dom.js";
import { fingers } from "./fingers.js";
import { HOUR, inside, moved, scaled } from "./stretch.js";
import { when } from "./time.js";
import { temperature, unitName, whole } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").Curve} Curve */
/** @typedef {import("uplot")} Chart */

const POINTS = window.innerWidth < 700 ? 300 : 600; // as many as there are columns; each has its lowest and highest
const FINE_POINTS = 3000; // by the minute for two days: asked for when somebody looks closer
const RELOAD_MS = 2000;
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
let points = POINTS;
let painted = 0;
/** A stretch somebody chose; null: as many hours back as the buttons say, and it goes on with the firing.
 * @type {import("./stretch.js").Stretch | null} */
let chosen = null;
let state = "";
let asked = 0;
let waiting = false;
/** @type {number | null} */
let reading = null;

const title = el("h2", { id: "curve-title" }, "Curve");
const back = el("button", { type: "button", class: "small", hidden: true, click: () => void toNow() }, "Back to now");
const readout = el("p", { class: "readout", role: "status", "aria-live": "off" });
const room = el("div", {
  class: "plot", tabindex: "0", role: "img", "aria-label": "Curve of the rings. Arrows read a moment, plus and minus look closer or wider, page keys go earlier or later.", keydown: step,
});
const empty = el("p", { class: "empty" }, "No curve yet.");
const line = el("p", { class: "line", role: "status" });
const reaches = REACH.map(([words, span]) => {
  /** @type {HTMLButtonElement} */
  const button = el("button", { type: "button", "aria-pressed": String(span === hours), click: () => reach(span) }, words);
  return button;
});

const ways = /** @type {const} */ ([["Earlier", -0.5], ["Later", 0.5]]).map(([words, share]) =>
  el("button", { type: "button", click: () => choose(moved(span(), share)) }, words));
const scales = /** @type {const} */ ([["Closer", 2], ["Wider", 0.5]]).map(([words, factor]) =>
  el("button", { type: "button", click: () => choose(scaled(span(), factor, middle())) }, words));

export function openCurve() {
  void chartThere().catch(() => {}); // on its way with the first curve
  window.setTimeout(warm); // and what costs at its first use is used while it is
  at("curve").append(
    el("div", { class: "title" }, title, back), readout, room, empty, line,
    el("div", { class: "settings reach", role: "group", "aria-label": "How far back" }, ...reaches),
    el("div", { class: "settings reach", role: "group", "aria-label": "Which stretch" }, ...ways, ...scales),
  );
  new ResizeObserver(() => {
    const wanted = size();
    if (plot && (plot.width !== wanted.width || plot.height !== wanted.height)) plot.setSize(wanted);
  }).observe(room);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", build);
}

/** Letters on a canvas and the zone's clock take a slow phone some ten milliseconds when they are first asked for. */
function warm() {
  const pen = document.createElement("canvas").getContext("2d");
  if (pen) {
    pen.font = `${12 * devicePixelRatio}px ${palette(room).face}`;
    pen.measureText("0123456789 °:abc");
  }
  if (latest) wall(latest.now_utc_ms / 1000, zone());
}

/** @param {number} span hours, 0: all */
function reach(span) {
  hours = span;
  choose(null);
}

/** @param {import("./stretch.js").Stretch | null} stretch */
function choose(stretch) {
  chosen = stretch && inside(stretch, all());
  REACH.forEach(([, each], i) => reaches[i]?.setAttribute("aria-pressed", String(chosen === null && each === hours)));
  if (plot && curve) plot.setData(data(curve));
  if (points === FINE_POINTS || (!chosen && !hours)) return;
  points = FINE_POINTS;
  void load();
}

/** The instant that is read, or the middle of what is shown. */
function middle() {
  const [from, to] = span();
  const at = reading === null ? Number.NaN : (curve?.utc_ms[reading] ?? 0) / 1000;
  return at > from && at < to ? at : (from + to) / 2;
}

/** Lay an earlier firing in the curve's place. @param {number} id @param {string} words */
export async function showCurve(id, words) {
  const [found] = await Promise.all([/** @type {Promise<Curve>} */ (ask("GET", `/api/curve?points=${points}&firing=${id}`)), chartThere()]);
  earlier = { id, words };
  hours = 0;
  lay(found);
  choose(null);
  at("curve").scrollIntoView({ block: "start" });
  back.focus({ preventScroll: true });
}

async function toNow() {
  earlier = null;
  hours = 0;
  choose(null);
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
      const which = earlier ? `&firing=${earlier.id}` : "";
      const [found] = await Promise.all([/** @type {Promise<Curve>} */ (ask("GET", `/api/curve?points=${points}${which}`)), chartThere()]);
      if (which === (earlier ? `&firing=${earlier.id}` : "")) lay(found);
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
  const replace = now.now_utc_ms - before < (now.now_utc_ms - (times[0] ?? 0)) / points;
  if (replace) times[times.length - 1] = now.now_utc_ms;
  else times.push(now.now_utc_ms);
  for (const ring of now.rings) put(curve.rings[ring.name], ring.celsius, replace);
  put(curve.ceiling, now.ceiling_celsius, replace);
  if (!plot) return;
  // Drawn again when it has moved by half a pixel; the words under the title go on in between.
  const [from, to] = span();
  const further = now.now_utc_ms - painted > ((to - from) * 500) / plot.width;
  if (further) painted = now.now_utc_ms;
  plot.setData(data(curve), further);
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
  reading = null;
  empty.hidden = curve !== null;
  room.hidden = curve === null;
  build();
}

const unit = () => latest?.unit ?? "degC";
const zone = () => latest?.zone ?? "UTC";
/** Top above bottom, as in the kiln. */
const names = () => Object.keys(curve?.rings ?? {}).reverse();

/** @param {Curve} of @returns {import("uplot").AlignedData} */
function data(of) {
  const shown = (/** @type {number | null} */ celsius) => (celsius === null ? null : temperature(celsius, unit()));
  const column = (/** @type {(number | null)[]} */ each) => (unit() === "degC" ? each : each.map(shown));
  return [of.utc_ms.map((ms) => ms / 1000), ...names().map((name) => column(of.rings[name] ?? [])), column(of.ceiling)];
}

/** As page.css has it. */
const size = () => ({ width: Math.max(240, room.clientWidth), height: room.clientHeight });

/** All there is, with the forecast ahead. @returns {import("./stretch.js").Stretch} seconds */
function all() {
  const times = curve?.utc_ms ?? [];
  const [start, end] = [(times[0] ?? 0) / 1000, (times.at(-1) ?? 0) / 1000];
  const down = earlier ? null : latest?.cone_down;
  return [start, Math.max(end, start + HOUR, down ? down.high / 1000 + 0.2 * HOUR : 0)];
}

/** What is shown. @returns {import("./stretch.js").Stretch} seconds */
function span() {
  const whole = all();
  if (chosen) return inside(chosen, whole);
  if (!hours) return whole;
  const end = (curve?.utc_ms.at(-1) ?? 0) / 1000;
  return [Math.max(whole[0], end - hours * HOUR), Math.min(whole[1], end + hours * HOUR)];
}

/** @returns {import("./curve_paint.js").Shown} */
const shown = () => ({ curve: /** @type {Curve} */ (curve), unit: unit(), zone: zone(), now: earlier ? null : latest });

/** The whole from nothing to ceiling and forecast; a stretch as close as the rings allow. @param {number} low @param {number} high @returns {[number, number]} */
function heights(low, high) {
  if (chosen || hours) {
    const air = Math.max(15, (high - low) * 0.12);
    return [low - air, high + air];
  }
  const end = earlier ? null : latest?.cone_down && latest.firing?.cone_celsius;
  const ceiling = Math.max(...(curve?.ceiling ?? []).map((celsius) => celsius ?? 0));
  return [Math.min(0, low), Math.max(temperature(100, unit()), high * 1.06, ceiling ? temperature(ceiling, unit()) * 1.06 : 0, end ? temperature(end, unit()) * 1.06 : 0)];
}

function build() {
  plot?.destroy();
  plot = null;
  if (!curve) return;
  const tones = palette(room);
  /** @type {import("uplot").Axis} */
  const plain = { stroke: tones.soft, font: `12px ${tones.face}`, ticks: { show: false }, grid: { show: false } };
  plot = new uPlot(
    {
      ...size(),
      padding: [14, 62, 0, 0],
      tzDate: (seconds) => wall(seconds, zone()),
      legend: { show: false },
      cursor: { drag: { x: false, y: false }, points: { size: 7 }, y: false },
      select: { show: false, left: 0, top: 0, width: 0, height: 0 },
      scales: {
        x: { time: true, range: () => span() },
        y: { range: (_, low, high) => heights(low, high) },
      },
      axes: [
        { ...plain, space: 56, values: (_, splits) => splits.map((_at, i) => label(splits, i, zone())) },
        { ...plain, size: 44, space: 44, grid: { show: true, stroke: tones.line, width: 1 }, values: (_, splits) => splits.map(whole) },
      ],
      series: [
        {},
        ...names().map((name, i) => ({
          label: name, stroke: tones.ring(i), width: 2, dash: DASHES[i % DASHES.length] ?? [], points: { show: false }, paths: pointToPoint,
        })),
        { label: "ceiling", auto: false, stroke: tones.hem, width: 1.25, points: { show: false }, paths: stairs() },
      ],
      hooks: {
        drawClear: [(u) => { ribbon(u, shown(), tones); fan(u, shown(), tones); courses(u, shown(), tones); }],
        draw: [(u) => { hem(u, tones); marks(u, shown(), tones); ends(u, tones); }],
        setCursor: [read],
      },
    },
    data(curve),
    room,
  );
  const made = plot;
  fingers(made.over, span, choose, (left, top) => made.setCursor({ left, top }));
  read(made);
}

/** What the plan wants at this instant, in words. @param {number} time seconds */
function wanted(time) {
  const band = curve?.expected;
  const after = band?.utc_ms.findIndex((ms) => ms >= time * 1000) ?? -1;
  if (!band || after < 1) return "";
  const [from, to] = [band.utc_ms[after - 1] ?? 0, band.utc_ms[after] ?? 0];
  const share = (time * 1000 - from) / (to - from);
  const at = (/** @type {number[]} */ side) => whole(temperature((side[after - 1] ?? 0) * (1 - share) + (side[after] ?? 0) * share, unit()));
  return `; by the plan ${at(band.low)} to ${at(band.high)}`;
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
  const words = `${at}: ${parts.join(", ")}${wanted(time)}\u00a0${unitName(unit())}.`;
  say(readout, pointed === null || near.length === 0 ? words : `${words} ${near.map((mark) => mark.words).join(". ")}.`);
}

/** @param {Event} event */
function step(event) {
  if (!(event instanceof KeyboardEvent) || !plot || !curve) return;
  const look = { "+": 2, "=": 2, "-": 0.5 }[event.key];
  const go = { PageUp: -0.5, PageDown: 0.5 }[event.key];
  if (look !== undefined) choose(scaled(span(), look, middle()));
  if (go !== undefined) choose(moved(span(), go));
  if (look !== undefined || go !== undefined) event.preventDefault();
  const way = { ArrowLeft: -1, ArrowRight: 1, Home: -Infinity, End: Infinity }[event.key];
  if (way === undefined) return;
  event.preventDefault();
  const last = curve.utc_ms.length - 1;
  const jump = Math.max(1, Math.round(last / 60));
  reading = Math.max(0, Math.min(last, (reading ?? last) + (Number.isFinite(way) ? way * jump : way)));
  plot.setCursor({ left: plot.valToPos((curve.utc_ms[reading] ?? 0) / 1000, "x"), top: 10 });
}
