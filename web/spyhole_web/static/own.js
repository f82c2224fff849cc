// Unit and zone are each reader's own choice, made in the studio's room and kept in this browser. Sentences that the
// daemon makes stay in the studio's.

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").Unit} Unit */

const UNITS = /** @type {const} */ (["degC", "degF"]);

/** The reader's unit, else the studio's. @param {Unit} studios @returns {Unit} */
export function ownUnit(studios) {
  const chosen = localStorage.getItem("unit");
  return UNITS.find((unit) => unit === chosen) ?? studios;
}

/** The reader's zone, else the studio's. @param {string} studios */
export function ownZone(studios) {
  const chosen = localStorage.getItem("zone");
  return chosen && known(chosen) ? chosen : studios;
}

/** @param {"unit" | "zone"} what @param {string} value empty for the studio's */
export function choose(what, value) {
  if (value) localStorage.setItem(what, value);
  else localStorage.removeItem(what);
}

/** As its reader wants it. @template {{ unit: Unit, zone: string }} T @param {T} now @returns {T} */
export const owned = (now) => ({ ...now, unit: ownUnit(now.unit), zone: ownZone(now.zone) });

/** Whether this browser knows such a zone. @param {string} zone */
export function known(zone) {
  try {
    new Intl.DateTimeFormat("en-GB", { timeZone: zone });
    return true;
  } catch {
    return false;
  }
}
