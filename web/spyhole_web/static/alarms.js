// Alarms: what is seen, where, what to do first, and one button as wide as the thumb.

import { acknowledge, reset, run, shelve } from "./act.js";
import { cautionFor } from "./cautions.js";
import { at, el, keep, mark, say } from "./dom.js";
import { clock, duration, when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").AlarmView} AlarmView */

/** @typedef {{ alarm: AlarmView, zone: string, now: number, said: boolean }} Shown */
/** @type {Map<string, { node: HTMLElement, show: (shown: Shown) => void }>} */
const kept = new Map();
const SHELF_MINUTES = [10, 15, 30, 60];
const ITSELF = /^(watch-|box-)/;
const RANK = ["high", "medium", "low"];

/** @param {string} tag */
const plain = (tag) => tag.replaceAll("-", " ").replace("shutoff", "shut-off");

/** As part of a sentence. @param {string} words */
const within = (words) => words.charAt(0).toLowerCase() + words.slice(1);

/** @param {AlarmView} alarm */
const waits = (alarm) => !alarm.acknowledged;

/** @param {Snapshot} now @param {number} instant */
export function showAlarms(now, instant) {
  const sorted = [...now.alarms].sort(
    (a, b) => Number(waits(b)) - Number(waits(a)) || RANK.indexOf(a.priority) - RANK.indexOf(b.priority) || b.since_utc_ms - a.since_utc_ms,
  );
  const shown = sorted.map((alarm) => ({ alarm, zone: now.zone, now: instant, said: now.sentence.includes(alarm.seen) }));
  keep(at("alarms"), kept, shown, (each) => each.alarm.episode, (each) => make(each.alarm.episode));
}

/** @param {string} episode */
function make(episode) {
  const head = el("p", { class: "where" });
  const seen = el("h2", { class: "seen" });
  const first = el("p", { class: "first" });
  const joined = el("p", { class: "with" });
  const caution = el("p", { class: "caution" });
  const line = el("p", { class: "line", role: "status" });
  const button = el("button", { type: "button", class: "thumb", click: () => run(button, line, () => acknowledge(episode)) }, "Acknowledge");
  const over = el("button", { type: "button", class: "small", click: () => run(over, line, () => reset(episode)) }, "Reset, it is mended");
  const claim = el("a", { class: "small", href: "/start?claim" }, "It is mine: begin its firing");
  /** @type {AlarmView | null} */
  let current = null;
  const reason = el("input", { id: `why-${episode}`, maxlength: 200, autocomplete: "off" });
  const times = SHELF_MINUTES.map((minutes) => {
    /** @type {HTMLButtonElement} */
    const choice = el("button", { type: "button", click: () => run(choice, line, () => aside(minutes)) }, `${minutes} min`);
    return choice;
  });
  const history = el("ol", { class: "history" });
  const more = el(
    "details", {}, el("summary", {}, "Put it aside, or see what was done"),
    el("p", {}, "For a trouble you have looked at and cannot mend just now. It comes back by itself, and is told if it is still so."),
    el("p", { class: "inline wide" }, el("label", { for: `why-${episode}` }, "Reason"), reason),
    el("div", { class: "settings", role: "group", "aria-label": "Put aside for" }, ...times), history,
  );

  /** @param {number} minutes */
  const aside = async (minutes) => (current ? shelve(current.tag, current.ring, minutes, reason.value) : "");
  return {
    node: el("article", { class: "alarm" }, head, seen, first, button, claim, line, over, joined, caution, more),
    /** @param {Shown} shown */
    show({ alarm, zone, now, said }) {
      current = alarm;
      const { node } = /** @type {{ node: HTMLElement }} */ (kept.get(episode));
      mark(node, "data-priority", alarm.priority);
      mark(node, "data-waits", waits(alarm) ? "" : null);
      mark(node, "data-said", said ? "" : null);
      const ring = alarm.ring ? `${alarm.ring} ring` : ITSELF.test(alarm.tag) ? "spyhole itself" : "the kiln";
      const began = clock(alarm.since_utc_ms, zone);
      const span = alarm.state === "returned" || alarm.state === "latched" ? `from ${began}, over now` : `since ${began}, ${duration(now - alarm.since_utc_ms)}`;
      say(head, `${alarm.priority}: ${plain(alarm.tag).replace(/^watch /, "")}, ${ring}, ${span}`);
      say(seen, alarm.seen);
      say(first, alarm.first_action);
      say(joined, alarm.joined.length ? `The same trouble: ${alarm.joined.map(within).join("; ")}.` : "");
      say(caution, cautionFor(`${alarm.first_action}`));
      times.forEach((choice, i) => (choice.hidden = (SHELF_MINUTES[i] ?? 0) > alarm.shelf_minutes));
      const done = alarm.history.map((deed) => `${when(deed.utc_ms, zone, now)} ${deed.words}${deed.who ? `, ${deed.who}` : ""}`);
      if (done.join() !== [...history.children].map((item) => item.textContent).join()) {
        history.replaceChildren(...done.map((words) => el("li", {}, words)));
      }
      button.hidden = !waits(alarm);
      claim.hidden = alarm.tag !== "unplanned-heat";
      over.hidden = waits(alarm) || alarm.state !== "latched";
      if (!waits(alarm)) say(line, alarm.acknowledged_by ? `Seen by ${alarm.acknowledged_by}.` : "Seen.");
    },
  };
}

/** Whether this page should be heard. @param {Snapshot} now */
export const sounding = (now) => now.alarms.some((alarm) => alarm.priority === "high" && waits(alarm));
