// The backup timer against the cone: one bar from now to the later of the two, and the gap in words.

import { enter, run } from "./act.js";
import { at, el, say } from "./dom.js";
import { clock, duration, when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const gap = el("p", { class: "gap" });
const wound = el("span", { class: "wound" }, "timer");
const cone = el("span", { class: "until" }, "cone");
const bar = el("div", { class: "bar", "aria-hidden": "true" }, wound, cone);
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
    const share = (/** @type {number} */ at) => `${Math.max(0, Math.min(100, ((at - instant) / (last - instant)) * 100)).toFixed(1)}%`;
    bar.style.setProperty("--wound", share(end));
    bar.style.setProperty("--low", share(down.low));
    bar.style.setProperty("--high", share(down.high));
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
