// What a hand can do at the emulated kiln beside its switches: for the panel and for exercises.

import { ask, run } from "./act.js";
import { el } from "./dom.js";

/** @typedef {import("../../types/shapes").PanelView} PanelView */

/** @typedef {{ words: string, act: () => Promise<string | void> }} Deed */

/**
 * @param {string} title
 * @param {HTMLElement} line
 * @param {Deed[]} deeds
 */
export function hand(title, line, deeds) {
  const id = `hand-${title.replaceAll(/[^a-z]+/gi, "-").toLowerCase()}`;
  return el("div", { class: "hand" }, el("span", { id }, title), el(
    "div", { class: "settings", role: "group", "aria-labelledby": id }, ...deeds.map((deed) => button(deed, line)),
  ));
}

/** @param {Deed} deed @param {HTMLElement} line */
function button(deed, line) {
  /** @type {HTMLButtonElement} */
  const made = el("button", { type: "button", click: () => run(made, line, deed.act) }, deed.words);
  return made;
}

/** @param {string} path @param {object} [body] @returns {() => Promise<void>} */
const post = (path, body) => async () => void (await ask("POST", `/api/rehearsal/${path}`, body ?? {}));

/** @param {string} how */
const look = (how) => async () => {
  const seen = /** @type {{ cones: [string, number][] }} */ (await ask("POST", "/api/rehearsal/look", { how }));
  if (!seen.cones.length) return "The switches are as shown above.";
  return seen.cones.map(([cone, bend]) => `Cone ${cone}: ${bentWords(bend)}`).join("; ") + ".";
};

/** @param {number} bend degrees; upright at 8 */
export function bentWords(bend) {
  if (bend < 12) return "upright";
  if (bend < 40) return "leaning";
  if (bend < 70) return "half over";
  return bend < 86 ? "tip nearly level" : "down";
}

/** Everything but switches. @param {HTMLElement} line @param {PanelView} panel */
export function otherHands(line, panel) {
  return [
    hand("look", line, [
      { words: "in, with glasses", act: look("glasses") }, { words: "in, without", act: look("bare") }, { words: "at the switches", act: look("switches") },
    ]),
    hand("lid", line, ["closed", "cracked", "propped", "open"].map((lid) => ({ words: lid, act: post("lid", { lid }) }))),
    hand("plugs", line, ["in", "half", "out"].map((plugs) => ({ words: plugs, act: post("plugs", { plugs }) }))),
    hand("timer", line, [30, 60, 120].map((minutes) => ({ words: `${minutes} min`, act: post("timer", { minutes }) }))),
    hand("at the wall", line, [{ words: "isolate", act: post("isolation") }]),
    ...(panel.button ? [hand("button", line, [{ words: "press it", act: post("button") }])] : []),
  ];
}

/** Each ring's switch, the top above. @param {PanelView} panel @param {HTMLElement} line */
export function switches(panel, line) {
  return [...panel.switches].reverse().map(([ring, now]) => {
    const row = hand(ring, line, ["off", "low", "medium", "high"].map((setting) => ({ words: setting, act: post("switch", { ring, setting }) })));
    for (const each of row.querySelectorAll("button")) each.setAttribute("aria-pressed", String(each.textContent === now));
    return row;
  });
}

/** @param {HTMLElement[]} rows @param {PanelView} panel */
export function showSwitches(rows, panel) {
  [...panel.switches].reverse().forEach(([, now], i) => {
    for (const each of rows[i]?.querySelectorAll("button") ?? []) each.setAttribute("aria-pressed", String(each.textContent === now));
  });
}

