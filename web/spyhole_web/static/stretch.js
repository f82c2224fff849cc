// Which stretch of time the curve shows. Pure: seconds of UTC in, seconds of UTC out.

/** @typedef {[number, number]} Stretch from, to */

export const HOUR = 3600;
const SHORTEST = HOUR / 3;

/** Inside all there is, and not shorter than a third of an hour. @param {Stretch} wanted @param {Stretch} all @returns {Stretch} */
export function inside([from, to], all) {
  const whole = Math.max(SHORTEST, all[1] - all[0]);
  const long = Math.min(whole, Math.max(SHORTEST, to - from));
  const middle = (from + to) / 2;
  const begin = Math.min(Math.max(middle - long / 2, all[0]), all[0] + whole - long);
  return [begin, begin + long];
}

/** Closer (a factor above 1) or wider, with this instant staying where it is. @param {Stretch} shown @param {number} factor @param {number} still @returns {Stretch} */
export const scaled = ([from, to], factor, still) => [still - (still - from) / factor, still + (to - still) / factor];

/** Later by a share of what is shown. @param {Stretch} shown @param {number} share @returns {Stretch} */
export function moved([from, to], share) {
  const by = (to - from) * share;
  return [from + by, to + by];
}

/**
 * Two fingers: what was under each stays under it.
 * @param {[number, number]} held instants under the fingers when they came down
 * @param {[number, number]} at where the fingers are now, as shares of the width
 * @returns {Stretch | null} null while they are too close to tell
 */
export function pinched([first, second], [left, right]) {
  const apart = right - left;
  const long = (second - first) / apart;
  if (Math.abs(apart) < 0.02 || !Number.isFinite(long) || long <= 0) return null;
  return [first - left * long, first + (1 - left) * long];
}
