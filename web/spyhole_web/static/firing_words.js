// How a firing of the kiln book is said: which it was, and what became of it.

import { clock, day, duration, year } from "./time.js";
import { degrees, unitName } from "./units.js";

/** @typedef {import("../../types/shapes").FiringSummary} FiringSummary */
/** @typedef {import("../../types/shapes").Unit} Unit */
/** @typedef {{ unit: Unit, zone: string, now_utc_ms: number }} Manner */

/** `Fri 30 Oct: Bisque, cone 05`, with the year where it is another than now. @param {FiringSummary} firing @param {Manner} manner */
export function titleOf(firing, manner) {
  const then = year(firing.started_utc_ms, manner.zone);
  const said = then === year(manner.now_utc_ms, manner.zone) ? "" : ` ${then}`;
  return `${day(firing.started_utc_ms, manner.zone)}${said}: ${firing.plan}`;
}

/** @param {FiringSummary} firing @param {Manner} manner */
export function fewWords(firing, manner) {
  const parts = [];
  if (firing.ended_utc_ms === null) parts.push("under way");
  if (firing.peak_celsius !== null) parts.push(`peak ${degrees(firing.peak_celsius, manner.unit)} ${unitName(manner.unit)}`);
  const down = (firing.cone_progress ?? 0) >= 1;
  if (firing.cone_progress !== null) parts.push(down ? `cone ${firing.cone} down` : `cone ${firing.cone} not down`);
  if (firing.tripped_utc_ms !== null) {
    parts.push(`shut off ${clock(firing.tripped_utc_ms, manner.zone)}, after ${duration(firing.tripped_utc_ms - firing.started_utc_ms)}`);
  }
  parts.push(firing.alarms === 0 ? "no alarms" : firing.alarms === 1 ? "one alarm" : `${firing.alarms} alarms`);
  return parts.join("; ");
}
