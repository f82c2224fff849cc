// When the kiln will be cool enough for what the hand does next.

import { REACHING_IN } from "./cautions.js";
import { at, el, say } from "./dom.js";
import { forecastWords } from "./time.js";
import { degrees, unitName } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const list = el("ul", {});
const peak = el("p", {});

/** @param {Snapshot} now @param {number} instant */
export function showCooling(now, instant) {
  const room = at("cooling");
  if (!room.firstChild) {
    room.append(el("h2", { id: "cooling-title" }, "Cooling"), peak, list, el("p", { class: "caution" }, REACHING_IN));
  }
  room.hidden = now.firing === null || now.firing.heating || now.cool.every(([, forecast]) => forecast === null);
  if (room.hidden) return;
  const hottest = now.firing?.peak_celsius ?? null;
  say(peak, hottest === null ? "" : `The hottest it was: ${degrees(hottest, now.unit)}\u00a0${unitName(now.unit)}.`);
  const words = now.cool.map(([celsius, forecast]) => {
    const mark = `Below ${degrees(celsius, now.unit)}\u00a0${unitName(now.unit)}`;
    return forecast ? `${mark}: ${forecastWords(forecast, now.zone, instant)}.` : `${mark}: cannot tell yet.`;
  });
  while (list.children.length < words.length) list.append(el("li", {}));
  words.forEach((each, i) => say(/** @type {Node} */ (list.children[i]), each));
}
