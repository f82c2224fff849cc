// What a firing would have been by the kiln's model: a stage an hour longer, half the load, one cone hotter.

import { ask, run } from "./act.js";
import { el, say } from "./dom.js";
import { charts, sample } from "./over.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/book").WhatIfView} WhatIfView */

/** @param {number} firing @param {string[]} stages @param {Snapshot} now */
export function whatIf(firing, stages, now) {
  const line = el("p", { class: "line", role: "status" });
  const shown = el("div", {});
  const stage = el("select", { id: "longer" }, ...stages.map((name) => el("option", { value: name }, name)));
  const ways = /** @type {const} */ ([
    ["An hour longer", () => ({ later_hours: "1", stage: stage.value })],
    ["Half the load", () => ({ load: "0.5" })],
    ["One cone hotter", () => ({ cones: "1" })],
  ]).map(([words, asked]) => {
    /** @type {HTMLButtonElement} */
    const button = el("button", { type: "button", "aria-pressed": "false", click: () => run(button, line, async () => {
      const answer = /** @type {WhatIfView} */ (await ask("GET", `/api/book/${firing}/what-if?${new URLSearchParams(asked())}`));
      for (const other of ways) other.setAttribute("aria-pressed", String(other === button));
      show(shown, answer, words.toLowerCase(), now);
      return answer.words;
    }) }, words);
    return button;
  });
  return el(
    "section", { class: "if", "aria-labelledby": "if-title" }, el("h3", { id: "if-title" }, "What if"),
    el("p", {}, "By the model of this kiln, both times: what it gets wrong of the kiln mostly falls out of the difference."),
    el("div", { class: "settings", role: "group", "aria-label": "Fired otherwise" }, ...ways.slice(0, 1), el("label", { for: "longer" }, "in", stage), ...ways.slice(1)), line, shown,
  );
}

/** @param {HTMLElement} room @param {WhatIfView} answer @param {string} words @param {Snapshot} now */
function show(room, answer, words, now) {
  const titles = ["as its plan says", words];
  const firings = answer.runs.map(({ celsius, against_first }) => ({ celsius, against_first }));
  const readout = el("p", { class: "readout", role: "status" });
  room.replaceChildren(
    el("ul", { class: "key" }, ...titles.map((title, i) => el("li", {}, sample(i), el("span", {}, title)))), readout,
  );
  room.append(charts({ hours: answer.hours, firings }, titles, now, readout, room));
  say(readout, `The ${answer.ring} ring. Touch the curves, or use the arrow keys, to read a moment.`);
}
