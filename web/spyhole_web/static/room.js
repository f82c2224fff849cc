// What is wired in the room: sounder, lamp, button, and the heartbeat of the cut-out.

import { armCutOut, run } from "./act.js";
import { at, el, say } from "./dom.js";
import { when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").RoomView} RoomView */

const wired = el("p", {});
const cut = el("p", {});
const line = el("p", { class: "line", role: "status" });
const arm = el("button", { type: "button", class: "small", click: () => run(arm, line, armCutOut) }, "Let the heartbeat run again");

/** @param {Snapshot} now @param {number} instant */
export function showRoom(now, instant) {
  const room = at("room");
  if (!wired.isConnected) room.append(wired, cut, arm, line);
  if (!now.room) return;
  say(wired, words(now.room));
  const out = now.room.cut_out;
  say(cut, out ? `${out.words} Since ${when(out.since_utc_ms, now.zone, instant)}.` : "");
  arm.hidden = !out?.may_arm;
}

/** @param {RoomView} room */
function words(room) {
  const parts = [];
  if (room.sounder) parts.push(`the sounder is ${room.sounder}`);
  if (room.lamp) parts.push(`the lamp is ${room.lamp === "slow" || room.lamp === "fast" ? `blinking, ${room.lamp}` : room.lamp}`);
  if (room.button) parts.push("the button at the kiln acknowledges");
  const said = parts.join("; ");
  return said ? `${said.charAt(0).toUpperCase()}${said.slice(1)}.` : "";
}
