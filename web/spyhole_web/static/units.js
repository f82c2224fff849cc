// Inside everything is degC. Here, and only here, it becomes what its reader is used to.

/** @typedef {import("../../types/shapes").Unit} Unit */

const MINUS = "\u2212";

/** @param {number} celsius @param {Unit} unit @returns {number} */
export function temperature(celsius, unit) {
  return unit === "degF" ? celsius * 1.8 + 32 : celsius;
}

/** A difference, or a climb. @param {number} celsius @param {Unit} unit @returns {number} */
export function difference(celsius, unit) {
  return unit === "degF" ? celsius * 1.8 : celsius;
}

/** @param {number} value @returns {string} whole, with a true minus */
export function whole(value) {
  const rounded = Math.round(value);
  return rounded < 0 ? MINUS + -rounded : String(Math.abs(rounded));
}

/** @param {number} celsius @param {Unit} unit */
export const degrees = (celsius, unit) => whole(temperature(celsius, unit));

/** @param {Unit} unit */
export const unitName = (unit) => (unit === "degF" ? "°F" : "°C");

/** `112 per hour`, `falling 180 per hour`, `steady`. @param {number | null} climb degC per hour @param {Unit} unit */
export function climbWords(climb, unit) {
  if (climb === null) return "";
  const shown = Math.round(difference(climb, unit));
  if (shown === 0) return "steady";
  return shown > 0 ? `${shown} per hour` : `falling ${-shown} per hour`;
}
