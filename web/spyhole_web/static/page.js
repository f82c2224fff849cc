// The page: hears the daemon, and hands each snapshot round.

import { showAlarms, sounding } from "./alarms.js";
import { showAside } from "./aside.js";
import { showBook } from "./book.js";
import { openCurve, reloadCurve, growCurve } from "./curve.js";
import { at, el, say } from "./dom.js";
import { showDuty } from "./duty.js";
import { showEntries } from "./entries.js";
import { showHole } from "./hole.js";
import { follow } from "./live.js";
import { showNext } from "./next.js";
import { showPanel } from "./panel.js";
import { openSound, wantSound } from "./sound.js";
import { showStack } from "./stack.js";
import { clock as clockWords, when } from "./time.js";
import { showTimer } from "./timer.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

/** @type {Snapshot | null} */
let latest = null;
let stale = false;
let aloud = { mood: "", at: 0 };
const conditions = el("ul", {});

openSound();
openCurve();
const kilnClock = follow({
  news(now) {
    latest = now;
    stale = false;
    show(now);
    growCurve(now);
    void showBook(now);
    wantSound("stale", false);
    wantSound("alarm", sounding(now));
  },
  silent() {
    stale = true;
    showStale();
    wantSound("stale", true);
  },
  back: reloadCurve,
});
window.setInterval(() => {
  if (latest) showAges(latest);
}, 1000);

/** @param {Snapshot} now */
function show(now) {
  document.body.toggleAttribute("data-stale", false);
  document.body.dataset["mood"] = now.mood;
  document.title = `${now.mood === "look" ? "Look now: " : ""}${now.kiln}`;
  say(at("kiln"), now.kiln);
  say(at("plan"), now.firing ? `${now.firing.plan}; ${now.firing.stage}` : "");
  say(at("sentence"), now.sentence);
  speak(now.mood, now.sentence);
  showHole(now);
  showPanel(now);
  showWatch(now);
  showAges(now);
}

/** @param {Snapshot} now */
function showAges(now) {
  const instant = kilnClock.now();
  showAlarms(now, instant);
  showDuty(now, instant);
  showAside(now, instant);
  showNext(now, instant);
  showStack(now, instant);
  showTimer(now, instant);
  // What is seldom on the page comes when it is.
  if (now.room) void import("./room.js").then(({ showRoom }) => showRoom(now, instant));
  if (!now.firing?.heating) void import("./cooling.js").then(({ showCooling }) => showCooling(now, instant));
  else at("cooling").hidden = true;
  showEntries(now, instant);
}

/** @param {Snapshot} now */
function showWatch(now) {
  const room = at("watch");
  if (!room.firstChild) room.append(el("h2", { id: "watch-title" }, "The watch itself"), conditions);
  const sentences = now.conditions.map((each) => `${each.words} Since ${when(each.since_utc_ms, now.zone, now.now_utc_ms)}.`);
  if (sentences.length === 0) sentences.push("Everything the watch needs is working.");
  if (sentences.join() !== [...conditions.children].map((item) => item.textContent).join()) {
    conditions.replaceChildren(...sentences.map((words) => el("li", {}, words)));
  }
}

function showStale() {
  document.body.toggleAttribute("data-stale", stale);
  const words = latest
    ? `No news since ${clockWords(latest.now_utc_ms, latest.zone)}. What you see below is old.`
    : "No news from spyhole yet. Go by cones and clock.";
  say(at("sentence"), words);
  document.title = "No news";
  speak("stale", words);
}

/** Read aloud when the mood turns, not at every tick. @param {string} mood @param {string} words */
function speak(mood, words) {
  if (mood === aloud.mood && Date.now() - aloud.at < 60_000) return;
  aloud = { mood, at: Date.now() };
  say(at("aloud"), words);
}
