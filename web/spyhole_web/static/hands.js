// What a hand can do at the emulated kiln: for the panel and for exercises.

import { ask, run } from "./act.js";
import { el, mark } from "./dom.js";

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
  const seen = /** @type {{ cones: { cone: string, words: string }[] }} */ (await ask("POST", "/api/rehearsal/look", { how }));
  if (!seen.cones.length) return standing();
  return seen.cones.map((each) => `Cone ${each.cone}: ${each.words}`).join("; ") + ".";
};

/** What stands beside the switches: nobody can see it from afar. */
async function standing() {
  const { panel } = /** @type {import("../../types/shapes").Snapshot} */ (await ask("GET", "/api/now"));
  if (!panel) return "The switches are as shown above.";
  return `The switches are as shown above; the timer has ${Math.round(panel.timer_minutes_left)} min left; ` +
    `the shut-off ${panel.shutoff_tripped ? "has dropped" : "stands"}; the supply is ${panel.power ? "there" : "dead"}.`;
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

/** Each ring's switch, the top above; `showSwitches` says how they stand. @param {PanelView} panel @param {HTMLElement} line */
export function switches(panel, line) {
  const rows = topFirst(panel).map(([ring]) =>
    hand(ring, line, ["off", "low", "medium", "high"].map((setting) => ({ words: setting, act: post("switch", { ring, setting }) }))));
  showSwitches(rows, panel);
  return rows;
}

/** @param {HTMLElement[]} rows @param {PanelView} panel */
export function showSwitches(rows, panel) {
  topFirst(panel).forEach(([, now], i) => {
    for (const each of rows[i]?.querySelectorAll("button") ?? []) mark(each, "aria-pressed", String(each.textContent === now));
  });
}

/** @param {PanelView} panel */
const topFirst = (panel) => [...panel.switches].reverse();
