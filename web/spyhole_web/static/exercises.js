// Exercises: the kiln is brought to a moment, the question is asked, and what was done is heard out of the journal.

import { ask, run } from "./act.js";
import { at, el, say } from "./dom.js";
import { otherHands, showSwitches, switches } from "./hands.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {{ name: string, title: string, story: string }} Line */
/** @typedef {{ words: string, why: string, seconds: number | null }} Finding */
/** @typedef {{ right: Finding[], late: Finding[], early: Finding[], missed: Finding[], slips: Finding[] }} Verdict */
/** @typedef {{ stage: "none" | "setting" | "asking" | "over", name: string, title: string, story: string, words: string, verdict: Verdict | null, closing: string }} View */

const LOOK_AGAIN_MS = 1000;
const QUESTION = / What now\?$/;
const line = el("p", { class: "line", role: "status" });
/** @type {HTMLElement[]} */
let rows = [];
let shown = "";

async function look() {
  const view = /** @type {View} */ (await ask("GET", "/api/exercises/now"));
  if (`${view.stage} ${view.name}` !== shown) await show(view);
  else say(at("words"), view.stage === "setting" ? view.words : at("words").textContent ?? "");
  if (view.stage === "asking") {
    const now = /** @type {Snapshot} */ (await ask("GET", "/api/now"));
    if (now.panel) showSwitches(rows, now.panel);
  }
}

/** @param {View} view */
async function show(view) {
  shown = `${view.stage} ${view.name}`;
  for (const id of ["choose", "under-way", "hands", "verdict"]) at(id).hidden = true;
  say(at("words"), view.stage === "asking" ? "" : view.words); // the question stands large below
  if (view.stage === "none" || view.stage === "over") await showChoice();
  if (view.stage === "over") showVerdict(view);
  if (view.stage === "setting" || view.stage === "asking") showUnderWay(view);
  if (view.stage === "asking") await showKiln();
}

async function showChoice() {
  const lines = /** @type {Line[]} */ (await ask("GET", "/api/exercises"));
  at("choose").hidden = false;
  at("choose").replaceChildren(
    el("p", {}, "To train a colleague, or yourself. The kiln is brought to a moment, then asks: what now? Do what you would really do, here and on the other views. Afterwards you read what was right, what was missed, and why."),
    line, ...lines.map((each) => {
      /** @type {HTMLButtonElement} */
      const begin = el("button", { type: "button", "aria-label": `Begin: ${each.title}`, click: () => run(begin, line, async () => {
        await ask("POST", "/api/exercises/now", { name: each.name });
        await look();
      }) }, "Begin");
      return el("article", {}, el("h2", {}, each.title), el("p", {}, each.story), begin);
    }),
  );
}

/** @param {View} view */
function showUnderWay(view) {
  /** @type {HTMLButtonElement} */
  const leave = el("button", { type: "button", class: "small", click: () => run(leave, line, async () => {
    await ask("DELETE", "/api/exercises/now");
    await look();
  }) }, "Leave this exercise");
  at("under-way").hidden = false;
  at("under-way").replaceChildren(el("h2", { id: "under-way-title" }, view.title), el("p", {}, view.story.replace(QUESTION, "")));
  if (view.stage === "asking") {
    /** @type {HTMLButtonElement} */
    const done = el("button", { type: "button", class: "thumb", click: () => run(done, line, async () => {
      await ask("POST", "/api/exercises/now/verdict");
      await look();
    }) }, "That is all I would do");
    at("under-way").append(el("p", { class: "question" }, "What now?"), el("p", {}, el("a", { href: "/" }, "The kiln's page"), " has its alarms and its log; the kiln itself is below."), done);
  }
  at("under-way").append(leave, line);
}

async function showKiln() {
  const now = /** @type {Snapshot} */ (await ask("GET", "/api/now"));
  if (!now.panel) return;
  rows = switches(now.panel, line);
  at("hands").hidden = false;
  at("hands").replaceChildren(el("h2", { id: "hands-title" }, "At the kiln"), ...rows, ...otherHands(line, now.panel));
}

/** @param {View} view */
function showVerdict(view) {
  if (!view.verdict) return;
  /** @param {string} title @param {Finding[]} found */
  const part = (title, found) => found.length
    ? [el("h3", {}, title), el("ul", {}, ...found.map((each) => el("li", {}, `${each.words}${after(each.seconds)}`, el("span", { class: "why" }, each.why))))]
    : [];
  const { right, late, early, missed, slips } = view.verdict;
  at("verdict").hidden = false;
  at("verdict").replaceChildren(
    el("h2", { id: "verdict-title" }, view.title), ...part("Right", right), ...part("Right, and too late", late),
    ...part("Right, and too early", early), ...part("Missed", missed), ...part("Better left", slips), el("p", { class: "line" }, view.closing),
  );
  at("choose").before(at("verdict"));
}

/** @param {number | null} seconds */
function after(seconds) {
  if (seconds === null) return "";
  return seconds < 90 ? ` After ${Math.round(seconds)} s.` : ` After ${Math.round(seconds / 60)} min.`;
}

await run(null, line, look);
setInterval(() => void run(null, el("p"), look), LOOK_AGAIN_MS);
