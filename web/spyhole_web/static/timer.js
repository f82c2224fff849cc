// The backup timer against the cone: one bar from now to the later of the two, and the gap in words.

import { enter, run } from "./act.js";
import { at, el, mark, say } from "./dom.js";
import { clock, duration, when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const ROOM_PERCENT = 22; // of the bar, for a word

const gap = el("p", { class: "gap" });
const wound = el("span", { class: "wound" }, "timer");
const named = el("span", { class: "named" }, "cone");
const bar = el("div", { class: "bar", "aria-hidden": "true" }, wound, el("div", { class: "span" }, el("span", { class: "until" }), named));
const ends = el("p", { class: "ends" });
const line = el("p", { class: "line", role: "status" });
const minutes = el("input", { id: "minutes", inputmode: "numeric", autocomplete: "off", size: 4, maxlength: 5 });
const button = el("button", { type: "submit", class: "small" }, "Write down");
/** @type {HTMLButtonElement} */
const advised = el("button", { type: "button", hidden: true, click: () => run(advised, line, () => enter("timer", "", String(minutesAdvised))) });
let minutesAdvised = 0;
const form = el(
  "form", { class: "inline", submit: wind },
  el("label", { for: "minutes" }, "Wound to"), minutes, el("span", {}, "min"), button,
);

/** @param {Event} event */
async function wind(event) {
  event.preventDefault();
  if (await run(button, line, () => enter("timer", "", minutes.value.trim()))) minutes.value = "";
}

/** @param {Snapshot} now @param {number} instant */
export function showTimer(now, instant) {
  const room = at("timer");
  if (!room.firstChild) room.append(el("h2", { id: "timer-title" }, "Timer against cone"), gap, bar, ends, advised, form, line);
  room.hidden = now.timer === null;
  if (!now.timer) return;
  say(gap, now.timer.gap);
  const end = now.timer.ends_utc_ms;
  const down = now.cone_down;
  const last = Math.max(end ?? 0, down?.high ?? 0);
  bar.hidden = end === null || down === null || last <= instant;
  if (end !== null && down && last > instant) {
    const share = (/** @type {number} */ at) => Math.max(0, Math.min(100, ((at - instant) / (last - instant)) * 100));
    const [low, high] = [share(down.low), share(down.high)];
    for (const [name, value] of Object.entries({ wound: share(end), low, high })) bar.style.setProperty(`--${name}`, `${value.toFixed(1)}%`);
    // Its word stands in the bracket where there is room, else before it, else behind it.
    mark(named, "data-at", high - low > ROOM_PERCENT ? "in" : low > ROOM_PERCENT ? "before" : "behind");
  }
  minutesAdvised = now.timer.advised_minutes ?? 0;
  advised.hidden = minutesAdvised === 0;
  say(advised, `Wound as advised, ${duration(minutesAdvised * 60_000)}`);
  const parts = [];
  if (end !== null) parts.push(end > instant ? `Timer ends ${when(end, now.zone, instant)}` : `Timer ended ${clock(end, now.zone)}`);
  if (down) parts.push(`cone ${now.firing?.cone ?? ""} between ${clock(down.low, now.zone)} and ${clock(down.high, now.zone)}`);
  if (now.timer.advised_minutes !== null) parts.push(`advised: ${duration(now.timer.advised_minutes * 60_000)} from now`);
  say(ends, parts.length ? `${parts.join("; ")}.` : "");
}
