// The emulated kiln's own panel. Only in a rehearsal, and never to be taken for a kiln.

import { ask, run } from "./act.js";
import { at, el, keep, mark, say } from "./dom.js";
import { otherHands, showSwitches, switches } from "./hands.js";
import { whole } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const SPEEDS = [1, 10, 60, 300, 1000];
const line = el("p", { class: "line", role: "status" });
const state = el("p", {});
/** @type {HTMLElement[]} */
let rings = [];
const troubles = el("div", { class: "settings", role: "group", "aria-labelledby": "trouble-title" });
const speeds = el("div", { class: "settings", role: "group", "aria-labelledby": "speed-title" });
/** @type {Map<string, { node: HTMLElement, show: (shown: { name: string, on: boolean }) => void }>} */
const keptTroubles = new Map();
/** @type {Map<string, { node: HTMLElement, show: (shown: { name: string, on: boolean }) => void }>} */
const keptSpeeds = new Map();

/** @param {Snapshot} now */
export function showPanel(now) {
  if (!now.panel) return;
  if (!state.isConnected) {
    rings = switches(now.panel, line);
    at("sheet").append(
      el("p", { class: "note" }, "The emulated kiln, as a hand would find it. What is turned here is not written down: the watch has to notice, or be told above."),
      state, el("div", { class: "hands" }, ...rings), ...otherHands(line, now.panel),
      ...(document.querySelector('nav a[href="/exercises"]') ? [el("p", {}, el("a", { class: "small", href: "/exercises" }, "Exercises: what would you do?"))] : []),
      el("h3", { id: "trouble-title" }, "Throw a trouble in"), troubles,
      el("h3", { id: "speed-title" }, "Kiln seconds a second, at most"), speeds, line,
    );
  }
  const { panel } = now;
  const words = [
    panel.keeper ? "an automatic keeper turns the switches" : "the switches are yours",
    panel.shutoff_tripped ? "the shut-off has tripped" : "the shut-off is armed",
    panel.power ? "the supply is on" : "the supply is off",
    `the lid is ${panel.lid}`,
    `the timer has ${whole(panel.timer_minutes_left)} min left`,
  ].join("; ");
  say(state, `${words.charAt(0).toUpperCase()}${words.slice(1)}.`);
  showSwitches(rings, panel);
  keep(troubles, keptTroubles, panel.troubles.map((name) => ({ name, on: name === panel.trouble })), (each) => each.name, ({ name }) =>
    choice(name === "none" ? "no trouble" : name.replaceAll("-", " ").replace("shutoff", "shut-off"), () => ask("POST", "/api/rehearsal/trouble", { name })));
  keep(speeds, keptSpeeds, SPEEDS.map((speed) => ({ name: String(speed), on: speed === panel.speed })), (each) => each.name, ({ name }) =>
    choice(name, () => ask("POST", "/api/rehearsal/speed", { speed: Number(name) })));
}

/** @param {string} words @param {() => Promise<unknown>} act */
function choice(words, act) {
  const button = el("button", { type: "button", click: () => run(button, line, async () => void (await act())) }, words);
  return { node: button, show: (/** @type {{ on: boolean }} */ { on }) => mark(button, "aria-pressed", String(on)) };
}
