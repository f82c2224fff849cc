// The kiln book's own view: leafed through, searched, one firing opened, several laid over one another.
// What is open stands in the address after #, so that the browser's own back works.

import { ask, run } from "./act.js";
import { growCurve, openCurve, showCurve } from "./curve.js";
import { at, el, say } from "./dom.js";
import { fewWords, titleOf } from "./firing_words.js";
import { showOver } from "./over.js";
import { owned } from "./own.js";
import { sheet } from "./sheet.js";
import { drawn } from "./sketch.js";
import { clock, day, duration } from "./time.js";
import { whatIf } from "./what_if.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/book").BookPage} BookPage */
/** @typedef {import("../../types/book").BookLine} BookLine */
/** @typedef {import("../../types/book").Opened} Opened */

const PAGE = 20;
const MOST = 4;
const HOUR = 3_600_000;
const FORMS = /** @type {const} */ ([["pdf", "On paper (PDF)"], ["png", "Picture (PNG)"], ["csv", "Table (CSV)"], ["json", "Figures (JSON)"]]);

/** @type {Snapshot} */
let now;
/** Firings chosen to be laid over one another, in the order of choosing. @type {Map<number, string>} */
const chosen = new Map();
let words = "";
let last = 0;
let curveThere = false;

const line = el("p", { class: "line", role: "status" });
const found = el("p", { class: "found", role: "status" });
const list = el("ol", { class: "leaves" });
const sought = el("input", { id: "words", type: "search", name: "words", autocomplete: "off", maxlength: "80" });
const search = el(
  "form", { class: "search", role: "search", submit: (event) => { event.preventDefault(); void seek(); } },
  el("label", { for: "words" }, "Plan, cone, year, outcome, or what was noted", sought), el("button", {}, "Search"),
);
const more = el("button", { type: "button", class: "more", hidden: true, click: () => run(more, line, () => leaf()) }, "Earlier firings");
const picked = el("span", {});
const layOver = el("a", { class: "back", href: "#" }, "Lay them over one another");
const none = el("button", { type: "button", class: "small", click: () => { chosen.clear(); list.querySelectorAll("input").forEach((box) => { box.checked = false; }); showChosen(); } }, "Choose none");
const bar = el("div", { class: "chosen", hidden: true }, picked, layOver, none);

async function open() {
  now = owned(/** @type {Snapshot} */ (await ask("GET", "/api/now")));
  const banner = at("emulated");
  banner.hidden = !now.emulated;
  say(banner, now.emulated ? "Rehearsal: an emulated kiln." : "");
  say(at("book-title"), `${now.kiln}: kiln book`);
  document.title = `Kiln book, ${now.kiln}`;
  await leaf();
  window.addEventListener("hashchange", () => void run(null, line, turn));
  await turn();
}

async function seek() {
  words = sought.value.trim();
  last = 0;
  list.replaceChildren();
  await run(null, line, () => leaf());
}

/** The next page of the book. */
async function leaf() {
  const asked = new URLSearchParams({ newest: String(PAGE), words, ...(last ? { before: String(last) } : {}) });
  const page = /** @type {BookPage} */ (await ask("GET", `/api/book?${asked}`));
  list.append(...page.lines.map(made));
  last = page.lines.at(-1)?.firing.id ?? last;
  more.hidden = page.lines.length < PAGE || list.children.length >= page.found;
  if (page.total === 0) say(found, "Nothing has been fired yet.");
  else if (words) say(found, page.found ? `${page.found} of ${page.total} firings fit.` : "No firing fits. Try fewer words, or a year.");
  else say(found, page.total === 1 ? "One firing." : `${page.total} firings, newest first.`);
}

/** @param {BookLine} of */
function made({ firing, sketch }) {
  const title = titleOf(firing, now);
  const box = el("input", { type: "checkbox", "aria-label": `Choose ${title}`, change: () => pick(firing.id, title, box) });
  return el(
    "li", {}, drawn(sketch),
    el("a", { href: `#firing-${firing.id}` }, el("span", { class: "plan" }, title), el("span", { class: "facts" }, fewWords(firing, now))),
    el("label", { class: "pick" }, box, "lay over"),
  );
}

/** @param {number} id @param {string} title @param {HTMLInputElement} box */
function pick(id, title, box) {
  if (box.checked && chosen.size >= MOST) {
    box.checked = false;
    return say(line, `At most ${MOST} firings can be told apart.`);
  }
  say(line, "");
  if (box.checked) chosen.set(id, title);
  else chosen.delete(id);
  showChosen();
}

function showChosen() {
  bar.hidden = chosen.size === 0;
  layOver.hidden = chosen.size < 2;
  layOver.href = `#over-${[...chosen.keys()].join("-")}`;
  say(picked, chosen.size === 1 ? "One chosen; choose another to compare it with." : `${chosen.size} chosen.`);
}

/** Show what the address says. */
async function turn() {
  const [what = "", ...rest] = location.hash.slice(1).split("-");
  const ids = rest.map(Number).filter((id) => Number.isInteger(id) && id > 0);
  const opened = what === "firing" && ids[0] !== undefined;
  const over = what === "over" && ids.length >= 2;
  at("book").hidden = opened || over;
  at("opened").hidden = !opened;
  at("over").hidden = !over;
  at("told").after(line);
  if (over) await showOver(ids, now);
  else if (opened && ids[0] !== undefined) await showFiring(ids[0]);
  else at("book").append(line);
  if (opened || over) window.scrollTo(0, 0);
}

/** @param {number} id */
async function showFiring(id) {
  const { firing, stages, marks } = /** @type {Opened} */ (await ask("GET", `/api/book/${id}`));
  const title = titleOf(firing, now);
  at("facts").replaceChildren(
    el("a", { class: "back", href: "#" }, "Back to the book"),
    el("h2", { id: "opened-title" }, title), el("p", {}, `${fewWords(firing, now)}.`),
    el("p", { class: "papers" }, el("button", { type: "button", class: "small", click: () => window.print() }, "Print this page"), ...FORMS.map(([form, said]) => el("a", { href: `/api/firings/${id}/report.${form}` }, said))),
  );
  const rows = stages.map((each) => el(
    "tr", {}, el("th", { scope: "row" }, each.stage), el("td", {}, `${day(each.began_utc_ms, now.zone)} ${clock(each.began_utc_ms, now.zone)}`),
    el("td", {}, duration(each.hours * HOUR)),
  ));
  const head = el("thead", {}, el("tr", {}, ...["Stage", "Began", "Took"].map((each) => el("th", { scope: "col" }, each))));
  at("told").replaceChildren(
    el("h3", {}, "Stages"), el("table", { class: "course" }, head, el("tbody", {}, ...rows)),
    whatIf(id, stages.slice(0, -1).map((each) => each.stage), now),
    el("h3", {}, "What was written down and told"),
    marks.length ? el("ol", { class: "marks" }, ...marks.map(told)) : el("p", {}, "Nothing was written down."),
  );
  if (!curveThere) {
    openCurve();
    growCurve(now);
    curveThere = true;
  }
  await showCurve(id, "Curve");
  at("told").prepend(await sheet(id, now));
  at("opened-title").scrollIntoView();
}

/** @param {import("../../types/book").BookMark} mark */
function told(mark) {
  const shown = mark.photo ? [el("img", { src: `/api/photos/${mark.photo}.jpg`, alt: "Photograph of the cones", loading: "lazy" })] : [];
  return el(
    "li", { "data-kind": mark.kind }, el("time", {}, `${day(mark.utc_ms, now.zone)} ${clock(mark.utc_ms, now.zone)}`),
    el("span", { class: "words" }, mark.words), el("span", { class: "by" }, mark.who), ...shown,
  );
}

at("book").append(search, found, list, more, bar, line);
void run(null, line, open);
