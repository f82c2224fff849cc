// What is put aside: alarms for a while, probes until somebody puts them back. Never out of sight.

import { putBack, run, takeBack } from "./act.js";
import { at, el, keep, say } from "./dom.js";
import { clock, duration, when } from "./time.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {{ key: string, words: string, why: string, act: string, back: () => Promise<string> }} Shown */

/** @type {Map<string, { node: HTMLElement, show: (shown: Shown) => void }>} */
const kept = new Map();
const list = el("ul", {});
const line = el("p", { class: "line", role: "status" });

/** @param {string} reason @param {string} who */
const why = (reason, who) => (who ? `${reason} (${who})` : reason);

/** @param {Snapshot} now @param {number} instant */
export function showAside(now, instant) {
  const room = at("aside");
  if (!room.firstChild) room.append(el("h2", { id: "aside-title" }, "Put aside"), list, line);
  const shelved = now.shelved.map((one) => ({
    key: `${one.tag} ${one.ring}`,
    words: `${one.seen} Until ${clock(one.until_utc_ms, now.zone)}, in ${duration(one.until_utc_ms - instant)}; ${one.holds ? "still so" : "over just now"}.`,
    why: why(one.reason, one.who),
    act: "Take back",
    back: () => takeBack(one.tag, one.ring),
  }));
  const out = now.out_of_service.map((one) => ({
    key: `out ${one.ring}`,
    words: `The ${one.ring} probe is out of service since ${when(one.since_utc_ms, now.zone, instant)}. What it says raises nothing.`,
    why: why(one.reason, one.who),
    act: "Put back in service",
    back: () => putBack(one.ring),
  }));
  const shown = [...shelved, ...out];
  room.hidden = shown.length === 0;
  keep(list, kept, shown, (each) => each.key, make);
}

/** @param {Shown} first */
function make(first) {
  let current = first;
  const words = el("p", {});
  const reason = el("p", { class: "because" });
  const button = el("button", { type: "button", class: "small", click: () => run(button, line, () => current.back()) });
  return {
    node: el("li", {}, words, reason, button),
    /** @param {Shown} shown */
    show(shown) {
      current = shown;
      say(words, shown.words);
      say(reason, shown.why);
      say(button, shown.act);
    },
  };
}
