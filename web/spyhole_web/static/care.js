// The kiln over the years: cones on the shelves by picture, what they say of the probes, the elements, what was mended.

import { ask, enter, run } from "./act.js";
import { slab } from "./cone.js";
import { at, el, say, svg } from "./dom.js";
import { owned } from "./own.js";
import { clock, day, year } from "./time.js";
import { degrees, difference, unitName, whole } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/care").CareView} CareView */
/** @typedef {import("../../types/care").UseView} UseView */
/** @typedef {import("../../types/plans").Shelf} Shelf */

const STANDS = /** @type {const} */ ([
  ["upright", "8"], ["leaning", "30"], ["half over", "60"], ["tip nearly level", "82"], ["down", "down"], ["past level", "110"], ["flat", "flat"],
]);
const FLAT = "M6 0L-6 0L-62 0Q-64-4-58-6L-14-16Q2-18 6 0Z";
const TALL = 104;
const EDGE = { left: 44, right: 10, top: 10, bottom: 20 };

const line = el("p", { class: "line", role: "status" });
const mendLine = el("p", { class: "line", role: "status" });
const ring = el("select", { id: "ring" });
const cone = el("select", { id: "cone" });
const camera = el("input", { id: "camera", type: "file", accept: "image/*", capture: "environment", change: take });
const part = el("select", { id: "part" });
const what = el("select", { id: "what" });
/** @type {HTMLButtonElement} */
const mend = el("button", { type: "button", click: () => run(mend, mendLine, mended) }, "Write down");
const lessonLine = el("p", { class: "line", role: "status" });
const list = el("ol", { class: "said" });
const useLine = el("p", { class: "line", role: "status" });
const days = el("select", { id: "days", change: () => void open() }, ...[["31", "a month"], ["92", "three months"], ["366", "a year"]].map(([value = "", words = ""]) => el("option", { value, selected: value === "92" }, words)));

async function open() {
  const [plain, care, shelf] = await Promise.all([
    /** @type {Promise<Snapshot>} */ (ask("GET", "/api/now")), /** @type {Promise<CareView>} */ (ask("GET", "/api/care")),
    /** @type {Promise<Shelf>} */ (ask("GET", "/api/plans")),
  ]);
  const now = owned(plain);
  const banner = at("emulated");
  banner.hidden = !now.emulated;
  say(banner, now.emulated ? "Rehearsal: an emulated kiln." : "");
  say(at("care-title"), `Care: ${now.kiln}`);
  document.title = `Care, ${now.kiln}`;
  shelves(now, shelf);
  probes(care, now);
  elements(care, now);
  taught(care);
  mending(care, now);
  await run(null, useLine, () => used(now));
}

/** @param {Snapshot} now @param {Shelf} shelf */
function shelves(now, shelf) {
  const lit = now.firing;
  const rings = [...now.rings].reverse().map((each) => each.name);
  ring.replaceChildren(...rings.map((name) => el("option", { value: name, selected: name === now.reference_ring }, name)));
  const pack = new Map(now.cones.map((each) => [each.cone, each.role]));
  cone.replaceChildren(
    ...[...pack].map(([name, role]) => el("option", { value: name, selected: role === "firing" }, `${name}, ${role}`)),
    ...shelf.cones.filter((name) => !pack.has(name)).map((name) => el("option", { value: name }, name)),
  );
  const asking = lit ? [
    el("p", { class: "note" }, "Which shelf, which cone, and how it stands: tap its likeness. A cone between two likenesses is the one it is nearer to. One caught bending says most; one flat or still upright says little."),
    el("div", { class: "choose" }, el("label", { for: "ring" }, "Shelf of the ring", ring), el("label", { for: "cone" }, "Cone", cone)),
    el("div", { class: "shelf", role: "group", "aria-label": "How the cone stands" }, ...STANDS.map(([words, bend]) => likeness(words, bend))),
    el("p", { class: "choose" }, el("label", { for: "camera" }, "Photograph of the shelf", camera)), line,
  ] : [el("p", { class: "note" }, "Nothing has been fired yet."), line];
  at("shelves").replaceChildren(
    el("h2", { id: "shelves-title" }, lit ? `Cones of ${lit.plan}, lit ${day(lit.started_utc_ms, now.zone)}` : "Cones on the shelves"), ...asking, list,
  );
  said(now);
}

/** @param {string} words @param {string} bend */
function likeness(words, bend) {
  const degrees = bend === "down" ? 90 : Number(bend);
  const drawn = svg("path", { class: "slab", d: bend === "flat" ? FLAT : slab(degrees, 74, 20, 6), transform: "translate(72 84)" });
  const picture = svg("svg", { viewBox: "-10 0 110 96", "aria-hidden": "true" }, svg("path", { class: "board", d: "M-10 84H100V92H-10Z" }), drawn);
  /** @type {HTMLButtonElement} */
  const button = el("button", { type: "button", click: () => run(button, line, stands) }, picture, words);
  async function stands() {
    const left = await enter("cone", ring.value, `${cone.value}:${bend}`);
    said(owned(/** @type {Snapshot} */ (await ask("GET", "/api/now"))));
    return left || `Written down: at the ${ring.value} ring cone ${cone.value} ${words}.`;
  }
  return button;
}

async function take() {
  const file = camera.files?.[0];
  if (!file) return;
  say(line, "Making it smaller, then sending it.");
  await run(null, line, async () => {
    const { kept } = await import("./photo.js");
    const done = await kept(file);
    said(owned(/** @type {Snapshot} */ (await ask("GET", "/api/now"))));
    return done;
  });
  camera.value = "";
}

/** What of this firing's entries is about cones. @param {Snapshot} now */
function said(now) {
  const cones = now.entries.filter((entry) => !entry.undone && (entry.photo || entry.words.startsWith("Seen at")));
  list.replaceChildren(...cones.map((entry) => el(
    "li", {}, el("time", {}, `${day(entry.utc_ms, now.zone)} ${clock(entry.utc_ms, now.zone)}`), el("span", { class: "words" }, entry.words), el("span", { class: "by" }, entry.who),
    ...(entry.photo ? [el("img", { src: `/api/photos/${entry.photo}.jpg`, alt: "Photograph of the cones", loading: "lazy" })] : []),
  )));
}

/** @param {CareView} care @param {Snapshot} now */
function probes(care, now) {
  const unit = unitName(now.unit);
  const each = [...care.probes].reverse().map((probe) => el(
    "div", { class: "one", "data-look": probe.drifts },
    el("h3", {}, probe.ring), el("p", {}, probe.words),
    ...(probe.celsius.length > 1 ? [row(probe.utc_ms, probe.celsius.map((celsius) => difference(celsius, now.unit)), now, {
      name: `What cones said of the ${probe.ring} probe, ${unit} to add, firing by firing`, unit, least: 10, around: 0,
    })] : []),
  ));
  at("probes").replaceChildren(
    el("h2", { id: "probes-title" }, "What cones say of the probes"), ...each,
    ...(care.shutoff ? [el("div", { class: "one" }, el("h3", {}, "Shut-off"), el("p", {}, care.shutoff), ...trips(care, now))] : []),
    el("p", { class: "note" }, "What cones taught is used from the next firing on. A new probe begins from nothing."),
  );
}

/** How late the shut-off was each time; hollow where that taught nothing. @param {CareView} care @param {Snapshot} now */
function trips(care, now) {
  if (!care.trips.length) return [];
  const unit = unitName(now.unit);
  return [
    ...(care.trips.length > 1 ? [row(care.trips.map((one) => one.utc_ms), care.trips.map((one) => difference(one.late_celsius, now.unit)), now, {
      name: `How late the shut-off dropped, ${unit} past its cone's number, trip by trip`, unit, least: 10, around: 0, hollow: care.trips.map((one) => !one.taught),
    })] : []),
    el("ol", { class: "said" }, ...care.trips.slice(-6).reverse().map((one) => el(
      "li", {}, el("time", {}, `${day(one.utc_ms, now.zone)} ${year(one.utc_ms, now.zone)}`), el("span", { class: "words" }, one.words),
    ))),
  ];
}

/** @param {CareView} care @param {Snapshot} now */
function elements(care, now) {
  const each = [...care.elements].reverse().map((one) => el(
    "div", { class: "one", "data-look": one.weak },
    el("h3", {}, one.ring), el("p", {}, one.words),
    row(one.utc_ms, one.strength_percent, now, {
      name: `Strength of the ${one.ring} ring, percent of what it was, firing by firing`, unit: "%", least: 12, around: 100, due: 100 / 1.1,
      mended: care.marks.filter((mark) => !mark.ring || mark.ring === one.ring).map((mark) => mark.utc_ms),
    }),
  ));
  const none = `Each firing above ${degrees(600, now.unit)} ${unitName(now.unit)} leaves how strong its elements were. After the third there is something to say.`;
  at("elements").replaceChildren(
    el("h2", { id: "elements-title" }, "Elements"), ...(care.open ? [el("div", { class: "one", "data-look": true }, el("p", {}, care.open))] : []),
    ...(care.together ? [el("p", { class: "note" }, care.together)] : []),
    ...(each.length ? each : [el("p", { class: "note" }, none)]),
    el("p", { class: "note" }, "Measured from the curve, each ring against the others, so that mains and load fall out. Broken line: a tenth more resistance, where common practice renews elements."),
  );
}

/**
 * A row of dots, one a firing.
 * @param {number[]} instants @param {number[]} values @param {Snapshot} now
 * @param {{ name: string, unit: string, least: number, around: number, due?: number, mended?: number[], hollow?: boolean[] }} how
 */
function row(instants, values, now, { name, unit, least, around, due, mended = [], hollow = [] }) {
  const WIDE = Math.max(280, at("elements").clientWidth - 56); // so that its letters are as large as the page's
  const off = Math.max(least, ...values.map((value) => Math.abs(value - around) * 1.1));
  const y = (/** @type {number} */ value) => EDGE.top + ((around + off - value) / (2 * off)) * (TALL - EDGE.top - EDGE.bottom);
  const [first = 0, last = 1] = [instants[0], instants.at(-1)];
  const x = (/** @type {number} */ utcMs) => EDGE.left + (last > first ? (utcMs - first) / (last - first) : 0.5) * (WIDE - EDGE.left - EDGE.right);
  const chart = svg("svg", { class: "row", viewBox: `0 0 ${WIDE} ${TALL}`, role: "img", "aria-label": `${name}: from ${whole(values[0] ?? 0)} to ${whole(values.at(-1) ?? 0)} ${unit}` });
  for (const value of [around + off, around, around - off]) {
    const at = y(value);
    chart.append(svg("line", { class: "rule", x1: EDGE.left, x2: WIDE - EDGE.right, y1: at, y2: at }), text(EDGE.left - 5, at + 4, whole(value), "end"));
  }
  if (due !== undefined) chart.append(svg("line", { class: "due", x1: EDGE.left, x2: WIDE - EDGE.right, y1: y(due), y2: y(due) }));
  for (const at of mended) if (at >= first && at <= last) chart.append(svg("line", { class: "mended", x1: x(at), x2: x(at), y1: EDGE.top, y2: TALL - EDGE.bottom }));
  instants.forEach((utcMs, i) => chart.append(svg("circle", { cx: x(utcMs), cy: y(values[i] ?? around), r: 3, ...(hollow[i] ? { class: "hollow" } : {}) })));
  chart.append(text(EDGE.left, TALL - 4, `${day(first, now.zone)} ${year(first, now.zone)}`, "start"), text(WIDE - EDGE.right, TALL - 4, `${day(last, now.zone)} ${year(last, now.zone)}`, "end"));
  return chart;
}

/** @param {number} x @param {number} y @param {string} words @param {string} anchor */
function text(x, y, words, anchor) {
  const made = svg("text", { x, y, "text-anchor": anchor });
  made.textContent = words;
  return made;
}

/** @param {CareView} care @param {Snapshot} now */
function mending(care, now) {
  part.replaceChildren(el("option", { value: "" }, "the whole kiln"), ...[...care.rings].reverse().map((name) => el("option", { value: name }, `${name} ring`)));
  what.replaceChildren(...care.may.map((each) => el("option", { value: each }, each)));
  at("mended").replaceChildren(
    el("h2", { id: "mended-title" }, "Renewed, mended, found"),
    el("p", { class: "caution" }, "Anything behind the panel is for a licensed electrician, with the kiln isolated at the wall."),
    el("div", { class: "choose" }, el("label", { for: "part" }, "Where", part), el("label", { for: "what" }, "What", what), mend), mendLine,
    el("ol", { class: "said" }, ...care.marks.map((mark) => el(
      "li", {}, el("time", {}, `${day(mark.utc_ms, now.zone)} ${year(mark.utc_ms, now.zone)}`),
      el("span", { class: "words" }, mark.ring ? `${mark.ring} ring: ${mark.what}` : mark.what), el("span", { class: "by" }, mark.who),
    ))),
  );
}

/** @param {CareView} care */
function taught(care) {
  /** @type {HTMLButtonElement} */
  const turn = el("button", { type: "button", click: () => run(turn, lessonLine, () => teach(!care.teaches)) }, care.teaches ? "Leave it out" : "Learn from it");
  at("taught").replaceChildren(
    el("h2", { id: "taught-title" }, "What this kiln has taught"), el("p", {}, care.taught),
    ...(care.teaches === null ? [] : [el("p", {}, care.lesson), el("p", { class: "choose" }, turn)]), lessonLine,
  );
}

/** @param {boolean} keep */
async function teach(keep) {
  const left = await enter("lesson", "", keep ? "keep" : "leave");
  await open();
  return left || "Written down; it counts from the next firing on.";
}

/** @param {Snapshot} now */
async function used(now) {
  const use = /** @type {UseView} */ (await ask("GET", `/api/use?days=${days.value}`));
  const money = use.people.some((one) => one.money !== null);
  const head = ["Lit by", "Firings", "kWh", ...(money ? [use.currency] : [])].map((each) => el("th", { scope: "col" }, each));
  const rows = use.people.map((one) => el(
    "tr", {}, el("th", { scope: "row" }, one.who || "nobody written down"), el("td", {}, whole(one.firings)), el("td", {}, one.kwh.toFixed(1)),
    ...(money ? [el("td", {}, one.money === null ? "" : one.money.toFixed(2))] : []),
  ));
  at("used").replaceChildren(
    el("h2", { id: "used-title" }, "Energy and cost, by person"), el("div", { class: "reach" }, el("label", { for: "days" }, "Lit within", days)),
    rows.length ? el("table", { class: "use" }, el("thead", {}, el("tr", {}, ...head)), el("tbody", {}, ...rows)) : el("p", { class: "note" }, "Nothing was lit in that time."),
    el("p", { class: "note" }, `${howMeasured(use.measured_share)}${use.from_utc_ms === null ? "" : `, since ${day(use.from_utc_ms, now.zone)} ${year(use.from_utc_ms, now.zone)}`}.`), useLine,
  );
}

/** @param {number} share of the energy, by measured currents */
function howMeasured(share) {
  if (share > 0.995) return "By measured current and the kiln's own volts";
  return share > 0.005 ? `${whole(100 * share)} % by measured current, the rest by switch settings and ratings` : "By switch settings and ratings; nothing measures the current";
}

async function mended() {
  const left = await enter("maintenance", part.value, what.value);
  await open();
  return left || "Written down.";
}

void run(null, line, open);
