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

/** A Date whose own fields are the wall clock of this zone, as uPlot reads it. @param {number} seconds @param {string} zone */
export function wall(seconds, zone) {
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
  return new Date(year, month - 1, day, hour, minute, second);
}
