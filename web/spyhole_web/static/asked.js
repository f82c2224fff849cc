// The answer to 'are you in reach?'.

import { run, sayInReach } from "./act.js";
import { at, el, say } from "./dom.js";
import { duration } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const question = el("h2", { class: "seen" });
const waited = el("p", { class: "where" });
const asked = el("p", { class: "line", role: "status" });
const near = el("button", { type: "button", class: "thumb", click: () => run(near, asked, sayInReach) }, "I am in reach");

/** @param {Snapshot} now @param {number} instant */
export function showAsked(now, instant) {
  const ask = at("asked");
  if (!ask.firstChild) ask.append(el("article", { class: "question" }, waited, question, near, asked));
  const { duty } = now;
  if (ask.hidden !== (duty.asked === null)) say(asked, "");
  ask.hidden = duty.asked === null;
  if (duty.asked) {
    say(waited, `${duty.holder || "Whoever is there"}, ${duration(instant - duty.asked.since_utc_ms)} ago`);
    say(question, duty.asked.words);
  }
}
