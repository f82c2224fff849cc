// What can hurt somebody, said where the hand is about to act. Common practice of the trade, no source.

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

export const LOOKING_IN = "Before looking in: infrared-rated glasses, shade about 2, never sunglasses. Hot air comes out of the hole.";
export const OPENING = "Before opening: a hot plume rises, so stand aside with gloves on. Secure the prop. Opened too hot, ware cracks.";
export const LIGHTING =
  "Before lighting: air the room, electric kilns give off carbon monoxide too. Nothing that burns within the maker's distance. " +
  "Damp ware explodes. Timer wound, shut-off set, and the insurer's rule about overnight firing kept.";
export const RELIGHTING = "Before lighting again: the cone in the shut-off is spent. Until it is replaced only the timer and a person remain.";
export const REACHING_IN = "Before reaching in: isolate the kiln at the wall. Shards and glaze runs cut.";
export const AWAY = "Every switch off while the power is away: it comes back when it likes, and heats what nobody watches.";
export const WIRING = "Anything electrical is for a licensed electrician, by the local code.";

/** The caution that belongs to words like these, if any. @param {string} words @returns {string} */
export function cautionFor(words) {
  if (/\bunload|reach in|shelves/i.test(words)) return REACHING_IN;
  if (/(crack|prop|open|lift)\w* the lid|lid may be/i.test(words)) return OPENING;
  if (/spyhole plug|look in|look at the cones|read the cones(?! cold)|see the cone/i.test(words)) return LOOKING_IN;
  if (/element|breaker|welded|isolate|fuse/i.test(words)) return WIRING;
  return "";
}

/** Before a switch is turned up. @param {Snapshot} now @returns {string} */
export function cautionForTurning(now) {
  if (!now.firing) return LIGHTING;
  return now.firing.heating ? "" : RELIGHTING;
}
