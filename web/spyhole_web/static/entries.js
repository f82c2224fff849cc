// What was done and seen of late, newest first. What is taken back stays, struck through.

import { run, undo } from "./act.js";
import { at, el, keep, say } from "./dom.js";
import { brief, when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").EntryView} EntryView */

/** @type {Map<string, { node: HTMLElement, show: (shown: { entry: EntryView, now: Snapshot, instant: number }) => void }>} */
const kept = new Map();
const FEW = 5;
let all = false;
const list = el("ol", { class: "entries" });
const more = el("button", { type: "button", class: "small", click: () => (all = true) }, "Earlier ones");
const line = el("p", { class: "line", role: "status" });

function first() {
  at("entries").append(el("h2", { id: "entries-title" }, "Written down"), line, list, more);
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
  const picture = el("a", { class: "picture", target: "_blank" });
  /** @type {EntryView | null} */
  let current = null;
  const button = el(
    "button", { type: "button", class: "small", click: () => run(button, line, () => undo(current?.sequence ?? 0)) }, "Undo",
  );
  return {
    node: el("li", {}, time, words, by, button, picture),
    /** @param {{ entry: EntryView, now: Snapshot, instant: number }} shown */
    show({ entry, now, instant }) {
      current = entry;
      say(time, brief(entry.utc_ms, now.zone, instant));
      say(words, entry.words);
      if (entry.photo && !picture.firstChild) {
        picture.href = `/api/photos/${entry.photo}.jpg`;
        picture.append(el("img", { src: picture.href, loading: "lazy", alt: `Cones, photographed ${when(entry.utc_ms, now.zone, instant)}` }));
      }
      picture.hidden = !entry.photo;
      words.toggleAttribute("data-undone", entry.undone);
      say(by, entry.undone ? "taken back" : entry.who);
      button.hidden = entry.sequence === null || entry.undone;
      button.setAttribute("aria-label", `Undo: ${entry.words}`);
    },
  };
}
