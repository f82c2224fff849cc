// What to do next, when and why; Done writes down the turns. A firing begins in a room of its own.

import { enter, run } from "./act.js";
import { cautionFor, cautionForTurning } from "./cautions.js";
import { at, el, say } from "./dom.js";
import { clock, clocksThere, forecastWords } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").NextView} NextView */

const PUT_OFF_MS = 10 * 60_000;
const EARLY_MS = 20 * 60_000; // before the earliest it may be due: a turn written down then is asked about first
const SURE_MS = 60_000;
const NOT_YET = "\u00a0"; // its place; the words follow once what matters first is on the screen

/** @type {NextView | null} */
let shown = null;
let putOff = { words: "", until: 0 };
let latest = 0;
let sureUntil = 0; // somebody has tapped an early turn once

const words = el("p", { class: "what" });
const when = el("p", { class: "when" });
const why = el("p", { class: "why" });
const caution = el("p", { class: "caution" });
const line = el("p", { class: "line", role: "status" });
const done = el("button", { type: "button", class: "thumb", click: tap }, "Done");
const later = el("button", { type: "button", class: "small", click: wait }, "Not yet");
const acts = el("div", { class: "acts" }, done, later);

/** Whether the turn is so far off that a tap on it is more likely a slip. */
function early() {
  return shown !== null && shown.start === null && shown.at !== null && latest < shown.at.low - EARLY_MS;
}

async function tap() {
  if (early() && latest >= sureUntil) {
    sureUntil = latest + SURE_MS;
    say(done, "Yes, it is turned");
    say(line, "It is not due yet. Only what is turned at the kiln is written down: is it?");
    return;
  }
  if (await run(done, line, write)) sureUntil = 0;
}

async function write() {
  if (shown?.start) {
    location.assign("/start");
    return "";
  }
  let left = "";
  for (const [ring, setting] of shown?.turn ?? []) left = (await enter("switch", ring, setting)) || left;
  return left;
}

function wait() {
  putOff = { words: shown?.words ?? "", until: latest + PUT_OFF_MS };
  line.textContent = "";
}

/** @param {Snapshot} now @param {number} instant */
export function showNext(now, instant) {
  const room = at("next");
  if (!room.firstChild) room.append(el("h2", { id: "next-title" }, "Next"), words, when, why, caution, acts, line);
  if (now.next?.words !== shown?.words || (sureUntil && instant >= sureUntil)) {
    say(line, "");
    sureUntil = 0;
  }
  shown = now.next;
  latest = instant;
  room.hidden = shown === null;
  if (!shown) return;
  const waiting = putOff.words === shown.words && instant < putOff.until;
  room.toggleAttribute("data-later", waiting);
  say(words, shown.words);
  say(when, !shown.at ? "" : clocksThere() ? forecastWords(shown.at, now.zone, instant) : NOT_YET);
  say(why, waiting ? `${shown.why} Not yet, you said; asked again at ${clock(putOff.until, now.zone)}.` : shown.why);
  done.className = early() ? "small" : "thumb";
  say(done, shown.start ? "Make ready and light it" : !early() ? "Done" : sureUntil ? "Yes, it is turned" : "Turned already");
  const up = shown.turn.some(([, setting]) => setting !== "off");
  say(caution, cautionFor(shown.words) || (up ? cautionForTurning(now) : ""));
  acts.hidden = shown.turn.length === 0;
  later.hidden = waiting || shown.start !== null || early();
}
