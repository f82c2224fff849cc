// What was done and seen of late, newest first, and a line to write more.

import { enter, run, setWho, undo, who } from "./act.js";
import { OPENING } from "./cautions.js";
import { at, el, keep, say } from "./dom.js";
import { when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").EntryView} EntryView */

/** @type {Map<string, { node: HTMLElement, show: (shown: { entry: EntryView, now: Snapshot, instant: number }) => void }>} */
const kept = new Map();
const FEW = 5;
let all = false;
const list = el("ol", { class: "entries" });
const more = el("button", { type: "button", class: "small", click: () => (all = true) }, "Earlier ones");
const line = el("p", { class: "line", role: "status" });
const note = el("input", { id: "note", maxlength: 300, autocomplete: "off" });
const write = el("button", { type: "submit", class: "small" }, "Write down");
const form = el("form", { class: "inline wide", submit: take }, el("label", { for: "note" }, "Note"), note, write);
const lid = ["closed", "cracked", "propped", "open"].map((word) => {
  /** @type {HTMLButtonElement} */
  const button = el("button", { type: "button", click: () => run(button, line, () => enter("lid", "", word)) }, word);
  return button;
});
const trip = el("button", { type: "button", click: () => run(trip, line, () => enter("shutoff", "", "tripped")) }, "tripped");
const name = el("input", { id: "who", maxlength: 40, autocomplete: "nickname", change: () => setWho(name.value) });

/** @param {Event} event */
async function take(event) {
  event.preventDefault();
  if (note.value.trim() === "") return say(line, "There is nothing in the note yet.");
  if (await run(write, line, () => enter("note", "", note.value))) note.value = "";
}

function first() {
  name.value = who();
  at("entries").append(
    el("h2", { id: "entries-title" }, "Written down"),
    form,
    el(
      "details", {}, el("summary", {}, "Lid, shut-off, your name"),
      el("p", { id: "lid" }, "The lid is now"), el("div", { class: "settings", role: "group", "aria-labelledby": "lid" }, ...lid),
      el("p", { class: "caution" }, OPENING),
      el("p", { id: "trip" }, "The shut-off has"), el("div", { class: "settings", role: "group", "aria-labelledby": "trip" }, trip),
      el("p", { class: "inline" }, el("label", { for: "who" }, "Written by"), name),
    ),
    line,
    list,
    more,
  );
}

/** @param {Snapshot} now @param {number} instant */
export function showEntries(now, instant) {
  if (!at("entries").firstChild) first();
  more.hidden = all || now.entries.length <= FEW;
  const shown = now.entries.slice(0, all ? undefined : FEW).map((entry) => ({ entry, now, instant }));
  keep(list, kept, shown, ({ entry }) => `${entry.sequence ?? ""} ${entry.utc_ms} ${entry.words}`, make);
}

function make() {
  const time = el("time", {});
  const words = el("span", { class: "words" });
  const by = el("span", { class: "by" });
  /** @type {EntryView | null} */
  let current = null;
  const button = el(
    "button", { type: "button", class: "small", click: () => run(button, line, () => undo(current?.sequence ?? 0)) }, "Undo",
  );
  return {
    node: el("li", {}, time, words, by, button),
    /** @param {{ entry: EntryView, now: Snapshot, instant: number }} shown */
    show({ entry, now, instant }) {
      current = entry;
      say(time, when(entry.utc_ms, now.zone, instant));
      say(words, entry.words);
      words.toggleAttribute("data-undone", entry.undone);
      say(by, entry.undone ? "taken back" : entry.who);
      button.hidden = entry.sequence === null || entry.undone;
      button.setAttribute("aria-label", `Undo: ${entry.words}`);
    },
  };
}
