// uPlot, fetched when there is first something to draw, and the wall clock it puts on its axis.

/** @type {Promise<unknown> | null} */
let coming = null;

/** uPlot is there; rejected where it cannot be fetched, and asked for again the next time. */
export function chartThere() {
  coming ??= typeof uPlot === "undefined" ? fetched() : Promise.resolve();
  return coming;
}

function fetched() {
  return new Promise((there, failed) => {
    const script = document.createElement("script");
    script.src = "/static/uplot/uPlot.iife.min.js";
    script.addEventListener("load", there);
    script.addEventListener("error", () => {
      coming = null;
      script.remove();
      failed(new Error("the curve's script did not come"));
    });
    document.head.append(script);
  });
}

/** @type {Map<string, Intl.DateTimeFormat>} */
const formats = new Map();
const HALF_DAY = 43_200;
/** By zone and half day, what the wall clock is ahead of UTC at its beginning. @type {Map<string, number>} */
const aheads = new Map();

/** How far the wall clock of this zone is ahead of UTC. @param {number} seconds @param {string} zone @returns {number} seconds */
function ahead(seconds, zone) {
  let format = formats.get(zone);
  if (!format) {
    format = new Intl.DateTimeFormat("en-GB", {
      timeZone: zone, hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric", hour: "numeric", minute: "numeric", second: "numeric",
    });
    formats.set(zone, format);
  }
  /** @type {Record<string, number>} */
  const part = {};
  for (const { type, value } of format.formatToParts(seconds * 1000)) part[type] = Number(value);
  const { year = 0, month = 1, day = 1, hour = 0, minute = 0, second = 0 } = part;
  return Date.UTC(year, month - 1, day, hour, minute, second) / 1000 - Math.floor(seconds);
}

/** The same, remembered: it seldom changes, and asking is slow. @param {number} half which half day of UTC @param {string} zone */
function aheadAt(half, zone) {
  const key = `${zone} ${half}`;
  let found = aheads.get(key);
  if (found === undefined) aheads.set(key, (found = ahead(half * HALF_DAY, zone)));
  return found;
}

/** A Date whose own fields are the wall clock of this zone, as uPlot reads it. @param {number} seconds @param {string} zone */
export function wall(seconds, zone) {
  const half = Math.floor(seconds / HALF_DAY);
  const before = aheadAt(half, zone);
  const shift = before === aheadAt(half + 1, zone) ? before : ahead(seconds, zone);
  const shown = new Date((Math.floor(seconds) + shift) * 1000);
  return new Date(shown.getUTCFullYear(), shown.getUTCMonth(), shown.getUTCDate(), shown.getUTCHours(), shown.getUTCMinutes(), shown.getUTCSeconds());
}
