// The page: hears the daemon, and hands each snapshot round.

import { showAlarms, sounding } from "./alarms.js";
import { at, el, say } from "./dom.js";
import { openHole, showHole } from "./hole.js";
import { follow } from "./live.js";
import { showNext } from "./next.js";
import { showStack } from "./stack.js";
import { clock as clockWords, when } from "./time.js";
import { whole } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

/** @type {Snapshot | null} */
let latest = null;
let stale = false;
let aloud = { mood: "", at: 0 };
const conditions = el("ul", {});
/** Comes once what matters first is on the screen. @type {typeof import("./later.js") | null} */
let later = null;
/** @type {Promise<void> | null} */
let after = null;
/** What lies further down comes after the first look, and far down when it is looked at. @type {Map<string, (now: Snapshot, instant: number) => unknown>} */
const below = new Map();

const kilnClock = follow({
  news(now) {
    latest = now;
    stale = false;
    show(now);
    later?.growCurve(now);
    if (!after) window.setTimeout(comeAfter);
    knock();
  },
  silent() {
    stale = true;
    showStale();
    void comeAfter();
    knock();
  },
  back: () => later?.reloadCurve(),
});
openHole();
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
  showRehearsal(now);
  showWatch(now);
  showAges(now);
}

/** @param {Snapshot} now */
function showAges(now) {
  const instant = kilnClock.now();
  showAlarms(now, instant);
  showNext(now, instant);
  showStack(now, instant);
  // What is seldom on the page comes when it is.
  if (now.duty.asked || now.turn_asked) void import("./asked.js").then(({ showAsked }) => showAsked(now, instant));
  else at("asked").hidden = true;
  if (now.shelved.length || now.out_of_service.length) void import("./aside.js").then(({ showAside }) => showAside(now, instant));
  else at("aside").hidden = true;
  if (now.rings.filter((ring) => ring.has_probe).length < 2) void import("./alone.js").then(({ showAlone }) => showAlone(now));
  if (!now.firing?.heating) void import("./cooling.js").then(({ showCooling }) => showCooling(now, instant));
  else at("cooling").hidden = true;
  for (const each of below.values()) each(now, instant);
}

/** @param {string} id @param {() => Promise<(now: Snapshot, instant: number) => unknown>} load */
function whenSeen(id, load) {
  const watch = new IntersectionObserver(async (found) => {
    if (!found.some((each) => each.isIntersecting)) return;
    watch.disconnect();
    below.set(id, await load());
    if (latest) below.get(id)?.(latest, kilnClock.now());
  }, { rootMargin: "200px" });
  watch.observe(at(id));
}

/** Once, when what matters first is on the screen, or is not to be had: all of it is asked for at once. */
function comeAfter() {
  return (after ??= bringTheRest().catch(() => { after = null; }));
}

async function bringTheRest() {
  document.head.append(el("link", { rel: "preload", as: "script", href: "/static/uplot/uPlot.iife.min.js" }));
  const coming = import("./later.js");
  if (latest) clockWords(latest.now_utc_ms, latest.zone); // the first clock takes a while: let it pass meanwhile
  if (latest) showAges(latest);
  later = await coming;
  below.set("timer", later.showTimer).set("entries", later.showEntries);
  later.openSound();
  knock();
  later.openCurve();
  if (latest) {
    showAges(latest);
    later.growCurve(latest);
  }
  window.setTimeout(watchBelow, 300);
}

/** Once there is a page to be far down on. */
function watchBelow() {
  void import("./kilns.js").then(({ showKilns }) => below.set("kilns", showKilns));
  whenSeen("duty", async () => (await import("./duty.js")).showDuty);
  whenSeen("room", async () => (await import("./room.js")).showRoom);
  whenSeen("log", async () => (await import("./log.js")).showLog);
  whenSeen("book", async () => (await import("./book.js")).showBook);
  whenSeen("panel", async () => (await import("./panel.js")).showPanel);
}

function knock() {
  later?.wantSound("stale", stale);
  later?.wantSound("alarm", latest !== null && sounding(latest));
}

/** @param {Snapshot} now */
function showRehearsal(now) {
  const banner = at("emulated");
  banner.hidden = !now.emulated;
  say(banner, now.emulated ? `Rehearsal: an emulated kiln${now.speed > 1 ? ` at speed ${whole(now.speed)}` : ""}.` : "");
  at("panel").hidden = now.panel === null;
  at("room").hidden = now.room === null;
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

// A guest looks: what would be refused is not offered.
void fetch("/api/me").then(async (answer) => document.body.toggleAttribute("data-guest", answer.ok && (await answer.json()).role === "guest"), () => {});
