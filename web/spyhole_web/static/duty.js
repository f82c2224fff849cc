// Who holds the watch, and the hand-over with its note.

import { run, sayInReach, setWho, takeWatch, who } from "./act.js";
import { at, el, say } from "./dom.js";
import { when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const holds = el("p", { class: "holds" });
const said = el("p", { class: "because" });
const reached = el("p", { class: "because" });
let holder = "";
let mine = ""; // taken with their own hands, and not answered for yet
const near = el("button", { type: "button", class: "small", click: () => run(near, line, () => sayInReach(holder)) });
const line = el("p", { class: "line", role: "status" });
const name = el("input", { id: "holder", maxlength: 60, autocomplete: "nickname" });
const note = el("input", { id: "hand-over", maxlength: 300, autocomplete: "off" });
const take = el("button", { type: "submit", class: "small" }, "This person holds the watch");
const nobody = el("button", { type: "button", class: "small", click: () => run(nobody, line, () => takeWatch("", note.value)) }, "Nobody holds it now");
const form = el(
  "form", { submit: hand },
  el("p", { class: "inline wide" }, el("label", { for: "holder" }, "Name"), name),
  el("p", { class: "inline wide" }, el("label", { for: "hand-over" }, "What to know"), note), take, nobody,
);
const change = el("details", {}, el("summary", {}, "Take it, or hand it over"), form);

/** @param {Event} event */
async function hand(event) {
  event.preventDefault();
  if (name.value.trim() === "") return say(line, "Who holds it from now on? Write the name.");
  const next = name.value.trim();
  const own = who() === "" || who() === next; // whoever takes it with their own hands is here; anybody else is asked
  if (await run(take, line, () => takeWatch(next, note.value))) {
    mine = own ? next : "";
    if (who() === "") setWho(name.value);
    note.value = "";
    change.removeAttribute("open");
  }
}

/** @param {Snapshot} now @param {number} instant */
export function showDuty(now, instant) {
  const { duty } = now;
  const room = at("duty");
  if (!holds.isConnected) {
    name.value = who();
    room.append(holds, said, reached, near, change, line);
  }
  const since = duty.taken_utc_ms === null ? "" : ` since ${when(duty.taken_utc_ms, now.zone, instant)}`;
  say(holds, duty.holder ? `${duty.holder} holds the watch${since}.` : "Nobody holds the watch.");
  say(said, duty.note ? `Handed over with: ${duty.note}` : "");
  const silent = duty.holder ? `${duty.holder} has not said yet that they are in reach.` : "";
  say(reached, duty.reached_utc_ms === null ? silent : `Last known in reach: ${duty.reached_by || "somebody"}, ${when(duty.reached_utc_ms, now.zone, instant)}.`);
  holder = duty.holder;
  if (mine && mine === holder && duty.taken_utc_ms !== null && now.now_utc_ms > duty.taken_utc_ms) {
    if (duty.reached_utc_ms === null) void run(null, line, () => sayInReach(holder));
    mine = "";
  }
  say(near, `${holder} is in reach`);
  near.hidden = !holder || duty.asked !== null; // where it is asked, the question above has its own
  nobody.hidden = !holder;
}
