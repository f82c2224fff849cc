// What somebody is asked: 'are you in reach?', and whether a turn was made that curve and log tell differently.

import { answerTurn, run, sayInReach } from "./act.js";
import { chooser } from "./ago.js";
import { at, el, say } from "./dom.js";
import { duration } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const question = el("h2", { class: "seen" });
const waited = el("p", { class: "where" });
const asked = el("p", { class: "line", role: "status" });
const near = el("button", { type: "button", class: "thumb", click: () => run(near, asked, () => sayInReach()) }, "I am in reach");
const reach = el("article", { class: "question" }, waited, question, near, asked);

const AGO_MINUTES = [0, 10, 20, 40, 60];
const turn = el("h2", { class: "seen" });
const turnWaited = el("p", { class: "where" });
const answered = el("p", { class: "line", role: "status" });
const ago = chooser("When it was turned", AGO_MINUTES);
const yes = el("button", { type: "button", click: () => answer(yes, "yes") }, "Yes");
const no = el("button", { type: "button", click: () => answer(no, "no") }, "No");
const then = el("button", { type: "button", "aria-expanded": "false", click: () => open(when.hidden === true) }, "At another time");
const turned = el("button", { type: "button", class: "small", click: () => answer(turned, "then") }, "It was turned then");
const when = el("div", { hidden: true }, ago.node, turned);
const log = el("article", { class: "question" }, turnWaited, turn, el("div", { class: "settings" }, yes, no, then), when, answered);
let shown = 0;

/** @param {HTMLButtonElement} button @param {"yes" | "no" | "then"} said */
function answer(button, said) {
  void run(button, answered, () => answerTurn(shown, said, said === "then" ? ago.minutes() : 0));
}

/** @param {boolean} wanted */
function open(wanted) {
  when.hidden = !wanted;
  then.setAttribute("aria-expanded", String(wanted));
}

/** @param {Snapshot} now @param {number} instant */
export function showAsked(now, instant) {
  const room = at("asked");
  if (!room.firstChild) room.append(reach, log);
  const { duty, turn_asked: doubted } = now;
  if (reach.hidden !== (duty.asked === null)) say(asked, "");
  reach.hidden = duty.asked === null;
  if (duty.asked) {
    say(waited, `${duty.holder || "Whoever is there"}, ${duration(instant - duty.asked.since_utc_ms)} ago`);
    say(question, duty.asked.words);
  }
  log.hidden = doubted === null;
  if (doubted) {
    if (shown !== doubted.question) {
      shown = doubted.question;
      say(answered, "");
      ago.again();
      open(false);
    }
    say(turnWaited, `Whoever was at the switches, asked ${duration(instant - doubted.since_utc_ms)} ago`);
    say(turn, doubted.words);
  }
  room.hidden = duty.asked === null && doubted === null;
}
