// Fingers on the curve: one reads, two choose the stretch of time. A mouse is uPlot's own affair.

import { pinched } from "./stretch.js";

/** @typedef {import("./stretch.js").Stretch} Stretch */

/**
 * @param {HTMLElement} over what is touched
 * @param {() => Stretch} span what is shown
 * @param {(wanted: Stretch) => void} choose
 * @param {(left: number, top: number) => void} read
 */
export function fingers(over, span, choose, read) {
  /** Where each is, as a share of the width. @type {Map<number, number>} */
  const down = new Map();
  /** @type {[number, number] | null} instants under both */
  let held = null;

  /** @param {PointerEvent} event */
  const share = (event) => {
    const box = over.getBoundingClientRect();
    return (event.clientX - box.left) / box.width;
  };
  /** @returns {[number, number]} */
  const both = () => {
    const [one = 0, two = 0] = down.values();
    return one < two ? [one, two] : [two, one];
  };
  over.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse") return;
    down.set(event.pointerId, share(event));
    if (down.size !== 2) return;
    const [from, to] = span();
    const [left, right] = both();
    held = [from + left * (to - from), from + right * (to - from)];
  });
  over.addEventListener("pointermove", (event) => {
    if (event.pointerType === "mouse") return;
    if (down.has(event.pointerId)) down.set(event.pointerId, share(event));
    if (held && down.size === 2) {
      const stretch = pinched(held, both());
      if (stretch) choose(stretch);
      return;
    }
    const box = over.getBoundingClientRect();
    read(event.clientX - box.left, event.clientY - box.top);
  });
  for (const gone of /** @type {const} */ (["pointerup", "pointercancel"])) {
    over.addEventListener(gone, (event) => {
      down.delete(event.pointerId);
      held = null;
    });
  }
}
