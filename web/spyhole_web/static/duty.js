// Who holds the watch, the hand-over with its note, and the answer to 'are you in reach?'.

import { run, sayInReach, setWho, takeWatch, who } from "./act.js";
import { at, el, say } from "./dom.js";
import { duration, when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const question = el("h2", { class: "seen" });
const waited = el("p", { class: "where" });
const asked = el("p", { class: "line", role: "status" });
const near = el("button", { type: "button", class: "thumb", click: () => run(near, asked, sayInReach) }, "I am in reach");

const holds = el("p", { class: "holds" });
const said = el("p", { class: "because" });
const reached = el("p", { class: "because" });
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
  if (await run(take, line, () => takeWatch(name.value.trim(), note.value))) {
    if (who() === "") setWho(name.value);
    note.value = "";
    change.removeAttribute("open");
  }
}

/** @param {Snapshot} now @param {number} instant */
export function showDuty(now, instant) {
  const ask = at("asked");
  if (!ask.firstChild) ask.append(el("article", { class: "question" }, waited, question, near, asked));
  const { duty } = now;
  if (ask.hidden !== (duty.asked === null)) say(asked, "");
  ask.hidden = duty.asked === null;
  if (duty.asked) {
    say(waited, `${duty.holder || "Whoever is there"}, ${duration(instant - duty.asked.since_utc_ms)} ago`);
    say(question, duty.asked.words);
  }
  const room = at("duty");
  if (!room.firstChild) {
    name.value = who();
    room.append(el("h2", { id: "duty-title" }, "Who holds the watch"), holds, said, reached, change, line);
  }
  const since = duty.taken_utc_ms === null ? "" : ` since ${when(duty.taken_utc_ms, now.zone, instant)}`;
  say(holds, duty.holder ? `${duty.holder} holds the watch${since}.` : "Nobody holds the watch.");
  say(said, duty.note ? `Handed over with: ${duty.note}` : "");
  say(reached, duty.reached_utc_ms === null ? "" : `Last known in reach: ${duty.reached_by || "somebody"}, ${when(duty.reached_utc_ms, now.zone, instant)}.`);
  nobody.hidden = !duty.holder;
}
