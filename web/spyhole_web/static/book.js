// The kiln book: earlier firings, and a way to lay one on the curve's place.

import { ask, run } from "./act.js";
import { showCurve } from "./curve.js";
import { at, el, keep, say } from "./dom.js";
import { clock, day, duration } from "./time.js";
import { degrees } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").FiringSummary} FiringSummary */
/** @typedef {import("../../types/shapes").KilnBook} KilnBook */

/** @type {Map<string, { node: HTMLElement, show: (shown: { firing: FiringSummary, now: Snapshot }) => void }>} */
const kept = new Map();
const list = el("ol", { class: "firings" });
const line = el("p", { class: "line", role: "status" });
let read = "";

/** Ask for the book again whenever a firing has begun or ended. @param {Snapshot} now */
export async function showBook(now) {
  const room = at("book");
  if (!room.firstChild) room.append(el("h2", { id: "book-title" }, "Kiln book"), list, line);
  const state = `${now.firing?.id} ${now.firing?.heating} ${now.alarms.length} ${now.unit} ${now.zone}`;
  if (state === read) return;
  read = state;
  const done = await run(null, line, async () => {
    const book = /** @type {KilnBook} */ (await ask("GET", "/api/firings"));
    const earlier = book.firings.filter((firing) => firing.ended_utc_ms !== null);
    keep(list, kept, earlier.map((firing) => ({ firing, now })), ({ firing }) => String(firing.id), make);
    const more = book.total - book.firings.length;
    if (more > 0) return `The newest ${book.firings.length} of ${book.total} firings.`;
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
      const began = day(firing.started_utc_ms, now.zone);
      current = { id: firing.id, words: `${began}: ${firing.plan}` };
      say(title, current.words);
      sheet.href = `/api/firings/${firing.id}/report.pdf`;
      sheet.setAttribute("aria-label", `Report on paper, ${current.words}`);
      say(facts, outcome(firing, now));
    },
  };
}

/** @param {FiringSummary} firing @param {Snapshot} now */
function outcome(firing, now) {
  const parts = [];
  if (firing.peak_celsius !== null) parts.push(`peak ${degrees(firing.peak_celsius, now.unit)}`);
  const down = (firing.cone_progress ?? 0) >= 1;
  if (firing.cone_progress !== null) parts.push(down ? `cone ${firing.cone} down` : `cone ${firing.cone} not down`);
  if (firing.tripped_utc_ms !== null) {
    parts.push(`shut off ${clock(firing.tripped_utc_ms, now.zone)}, after ${duration(firing.tripped_utc_ms - firing.started_utc_ms)}`);
  }
  parts.push(firing.alarms === 0 ? "no alarms" : firing.alarms === 1 ? "one alarm" : `${firing.alarms} alarms`);
  return parts.join("; ");
}
