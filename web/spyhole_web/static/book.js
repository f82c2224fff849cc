// The last few firings, each to be laid in the curve's place, and the way to the whole kiln book.

import { ask, run } from "./act.js";
import { showCurve } from "./curve.js";
import { at, el, keep, say } from "./dom.js";
import { fewWords, titleOf } from "./firing_words.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").FiringSummary} FiringSummary */
/** @typedef {import("../../types/shapes").KilnBook} KilnBook */

const FEW = 3;
/** @type {Map<string, { node: HTMLElement, show: (shown: { firing: FiringSummary, now: Snapshot }) => void }>} */
const kept = new Map();
const list = el("ol", { class: "firings" });
const line = el("p", { class: "line", role: "status" });
const all = el("a", { class: "report", href: "/book", hidden: true });
let read = "";

/** Ask for the book again whenever a firing has begun or ended. @param {Snapshot} now */
export async function showBook(now) {
  if (!list.isConnected) at("book").append(list, all, line);
  const state = `${now.firing?.id} ${now.firing?.heating} ${now.alarms.length} ${now.unit} ${now.zone}`;
  if (state === read) return;
  read = state;
  const done = await run(null, line, async () => {
    const book = /** @type {KilnBook} */ (await ask("GET", `/api/firings?newest=${FEW + 1}`));
    const earlier = book.firings.filter((firing) => firing.ended_utc_ms !== null).slice(0, FEW);
    keep(list, kept, earlier.map((firing) => ({ firing, now })), ({ firing }) => String(firing.id), make);
    all.hidden = book.total === 0;
    say(all, book.total > 1 ? `All ${book.total} firings, in the kiln book` : "The kiln book");
    return earlier.length ? "" : "No firing has ended yet.";
  });
  if (!done) read = "";
}

function make() {
  const title = el("span", { class: "plan" });
  const facts = el("span", { class: "facts" });
  /** @type {{ id: number, words: string }} */
  let current = { id: 0, words: "" };
  const button = el(
    "button", { type: "button", click: () => run(button, line, () => showCurve(current.id, current.words)) }, title, facts,
  );
  const sheet = el("a", { class: "report" }, "Report");
  return {
    node: el("li", {}, button, sheet),
    /** @param {{ firing: FiringSummary, now: Snapshot }} shown */
    show({ firing, now }) {
      current = { id: firing.id, words: titleOf(firing, now) };
      say(title, current.words);
      sheet.href = `/api/firings/${firing.id}/report.pdf`;
      sheet.setAttribute("aria-label", `Report on paper, ${current.words}`);
      say(facts, fewWords(firing, now));
    },
  };
}
