// The kiln's clock as this page can know it, and how an instant and a duration are said.

/** @typedef {import("../../types/shapes").Forecast} Forecast */

const SECOND = 1000;
const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;

/** The kiln's clock: what it said last, and on from there. */
export class KilnClock {
  #said = 0;
  #heard = 0;
  #speed = 1;

  /** @param {number} utcMs @param {number} speed kiln seconds a second */
  set(utcMs, speed) {
    this.#said = utcMs;
    this.#heard = Date.now();
    this.#speed = speed;
  }

  /** @returns {number} utc_ms */
  now() {
    return this.#said + Math.max(0, Date.now() - this.#heard) * this.#speed;
  }

  get said() {
    return this.#said;
  }

  /** Real milliseconds since the last word. */
  get silent() {
    return Math.max(0, Date.now() - this.#heard);
  }

  get speed() {
    return this.#speed;
  }
}

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();

/** @param {number} utcMs @param {string} zone @param {Intl.DateTimeFormatOptions} options */
function format(utcMs, zone, options) {
  const key = zone + JSON.stringify(options);
  let found = formats.get(key);
  if (!found) {
    found = new Intl.DateTimeFormat("en-GB", { timeZone: zone, ...options });
    formats.set(key, found);
  }
  return found.format(utcMs);
}

/** `13:21`. @param {number} utcMs @param {string} zone */
export const clock = (utcMs, zone) => format(utcMs, zone, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });

/** `Fri 30 Oct`. @param {number} utcMs @param {string} zone */
export const day = (utcMs, zone) =>
  format(utcMs, zone, { weekday: "short", day: "numeric", month: "short" }).replace(",", "");

/** `2031`. @param {number} utcMs @param {string} zone */
export const year = (utcMs, zone) => format(utcMs, zone, { year: "numeric" });

/** The clock, and the day where it is another than today. @param {number} utcMs @param {string} zone @param {number} now */
export function when(utcMs, zone, now) {
  const then = day(utcMs, zone);
  return then === day(now, zone) ? clock(utcMs, zone) : `${clock(utcMs, zone)} on ${then}`;
}

/** The same for a column: `22:17`, `Tue 22:17`. @param {number} utcMs @param {string} zone @param {number} now */
export function brief(utcMs, zone, now) {
  const then = day(utcMs, zone);
  if (then === day(now, zone) || now - utcMs > 144 * HOUR) return when(utcMs, zone, now);
  return `${then.slice(0, 3)} ${clock(utcMs, zone)}`;
}

/** `2 h 40 min`, `24 min`, `20 s`. @param {number} ms */
export function duration(ms) {
  const span = Math.abs(ms);
  if (span < MINUTE) return `${Math.round(span / SECOND)} s`;
  const minutes = Math.round(span / MINUTE);
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  return minutes % 60 && hours < 24 ? `${hours} h ${minutes % 60} min` : `${Math.round(span / HOUR)} h`;
}

/** `13:21, in 24 min; between 13:12 and 13:33`. @param {Forecast} at @param {string} zone @param {number} now */
export function forecastWords(at, zone, now) {
  const middle = when(at.median, zone, now);
  const away = at.median > now ? `in ${duration(at.median - now)}` : `${duration(now - at.median)} ago`;
  if (at.high - at.low < 2 * MINUTE) return `${middle}, ${away}`;
  return `${middle}, ${away}; between ${when(at.low, zone, at.median)} and ${when(at.high, zone, at.median)}`;
}

/** @param {number} seen @param {number} now @param {number} fresh ms that still count as now */
export function age(seen, now, fresh) {
  return now - seen <= fresh ? "seen now" : `seen ${duration(now - seen)} ago`;
}

/** Whether a clock can be said at once: the first format takes a slow phone a tenth of a second. */
export const clocksThere = () => formats.size > 0;
