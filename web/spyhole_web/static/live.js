// Hears the daemon, and notices when it falls silent. A page that looks alive and is not would be dangerous.

import { owned } from "./own.js";
import { KilnClock } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const TICKS = 3;
const SHORTEST_MS = 5000;
const RETRY_MS = [500, 1000, 2000, 4000];

/**
 * @param {{ news: (now: Snapshot) => void, silent: () => void, back: () => void }} told
 *   news: each snapshot; silent: once when none came for too long; back: once when one comes after a gap.
 * @returns {KilnClock}
 */
export function follow(told) {
  const clock = new KilnClock();
  /** @type {EventSource | null} */
  let source = null;
  let tries = 0;
  let opened = Date.now();
  let limit = SHORTEST_MS;
  let stale = false;
  let gap = false;
  /** @type {number | undefined} */
  let waiting;

  // A stream that was refused once never tries again by itself, so trying again is done here.
  function open() {
    waiting = undefined;
    source?.close();
    opened = Date.now();
    source = new EventSource("/api/live");
    source.addEventListener("now", (event) => hear(owned(/** @type {Snapshot} */ (JSON.parse(event.data)))));
    source.addEventListener("error", () => {
      source?.close();
      gap = true;
      again();
    });
  }

  function again() {
    if (waiting !== undefined) return;
    waiting = window.setTimeout(open, RETRY_MS[Math.min(tries, RETRY_MS.length - 1)]);
    tries += 1;
  }

  /** @param {Snapshot} now */
  function hear(now) {
    tries = 0;
    clock.set(now.now_utc_ms, now.speed);
    limit = Math.max((TICKS * now.tick_seconds * 1000) / Math.max(1, now.speed), SHORTEST_MS);
    const missed = gap || stale;
    gap = false;
    stale = false;
    told.news(now);
    if (missed) told.back();
  }

  function check() {
    const silent = clock.said ? clock.silent : Date.now() - opened;
    if (silent <= limit) return;
    if (!stale) {
      stale = true;
      told.silent();
    }
    // The line may be dead without anybody having said so: after a while, draw a new one.
    if (waiting === undefined && Date.now() - opened > 2 * limit) open();
  }

  open();
  // page.html asks for the first word before any script is here; the stream may be sooner all the same.
  void fetch("/api/now").then(async (answer) => {
    const now = answer.ok ? await answer.json() : null;
    if (now && !clock.said) hear(owned(/** @type {Snapshot} */ (now)));
  }, () => {});
  window.setInterval(check, 500);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) check();
  });
  return clock;
}
