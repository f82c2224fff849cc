// How long ago something was done. People write down with one hand, and late.

import { el, mark } from "./dom.js";

const AGO_MINUTES = [0, 5, 10, 20, 30];

/** How long ago: now, unless one of these is chosen; after an act it is now again. @param {string} label @param {number[]} [choosable] */
export function chooser(label, choosable = AGO_MINUTES) {
  let minutes = 0;
  const choices = choosable.map((ago) => {
    const words = ago === 0 ? "just now" : String(ago);
    return el("button", { type: "button", "aria-pressed": String(ago === 0), "aria-label": ago ? `${ago} minutes ago` : words, click: () => choose(ago) }, words);
  });
  /** @param {number} ago */
  function choose(ago) {
    minutes = ago;
    choices.forEach((choice, i) => mark(choice, "aria-pressed", String(choosable[i] === ago)));
  }
  const node = el("div", { class: "ago", role: "group", "aria-label": label }, ...choices, el("span", {}, "min ago"));
  return { node, minutes: () => minutes, again: () => choose(0) };
}
