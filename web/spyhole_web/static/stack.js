// The kiln as its rings, top above bottom. Each band ends where its heat does: the ragged edge is the spread.

import { chooser } from "./ago.js";
import { enter, run, takeOut } from "./act.js";
import { cautionForTurning } from "./cautions.js";
import { at, el, keep, mark, say } from "./dom.js";
import { age } from "./time.js";
import { climbWords, degrees, difference, unitName } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").RingView} RingView */

/** @typedef {{ ring: RingView, now: Snapshot, instant: number, behind: number }} Shown */
/** @type {Map<string, { node: HTMLElement, show: (shown: Shown) => void }>} */
const kept = new Map();
const SETTINGS = ["off", "low", "medium", "high"];
const LARGEST_STEP = 56; // px of ragged edge

const bands = el("ul", { class: "bands" });
const spread = el("p", { class: "spread" });
const unit = el("span", { class: "unit" });

/** @param {Snapshot} now @param {number} instant */
export function showStack(now, instant) {
  const room = at("stack");
  if (!room.firstChild) {
    room.append(el("div", { class: "title" }, el("h2", { id: "stack-title" }, "Rings"), unit), bands, spread);
  }
  say(unit, unitName(now.unit));
  const known = now.rings.flatMap((ring) => (ring.celsius === null ? [] : [ring.celsius]));
  const hottest = Math.max(...known);
  const shown = [...now.rings].reverse().map((ring) => ({
    ring, now, instant, behind: ring.celsius === null ? 0 : Math.min(LARGEST_STEP, (hottest - ring.celsius) * 0.9),
  }));
  keep(bands, kept, shown, (each) => each.ring.name, (each) => make(each.ring.name));
  say(spread, spreadWords(now));
}

/** @param {Snapshot} now */
function spreadWords(now) {
  const known = now.rings.filter((ring) => ring.celsius !== null).sort((a, b) => (b.celsius ?? 0) - (a.celsius ?? 0));
  const [hot, cool] = [known[0], known.at(-1)];
  if (!hot || !cool || hot === cool || hot.celsius === null || cool.celsius === null) return "";
  const apart = Math.round(difference(hot.celsius - cool.celsius, now.unit));
  return apart < 2 ? "The rings are even." : `The ${cool.name} ring is ${apart} behind the ${hot.name}.`;
}

/** @param {string} name */
function make(name) {
  const title = el("span", { class: "ring" });
  const seen = el("span", { class: "age" });
  const heat = el("span", { class: "heat" });
  const climb = el("span", { class: "climb" });
  const setting = el("span", { class: "setting" });
  const fault = el("p", { class: "fault" });
  const line = el("p", { class: "line", role: "status" });
  const caution = el("p", { class: "caution" });
  const turns = SETTINGS.map((word) => {
    /** @type {HTMLButtonElement} */
    const button = el("button", { type: "button", click: () => turn(word, button) }, word);
    return button;
  });
  const reason = el("input", { id: `out-${name}`, maxlength: 200, autocomplete: "off" });
  const out = el("button", { type: "button", class: "small", click: () => run(out, line, () => takeOut(name, reason.value)) }, "Take it out of service");
  const probe = el(
    "details", {}, el("summary", {}, "This probe is not to be believed"),
    el("p", {}, "Out of service it raises nothing and decides nothing, until somebody puts it back."),
    el("p", { class: "inline wide" }, el("label", { for: `out-${name}` }, "Reason"), reason), out,
  );
  const ago = chooser("When it was turned");
  const choice = el(
    "div", { class: "turn", hidden: true, id: `turn-${name}` },
    el("p", {}, `The ${name} ring's switch now stands on`), el("div", { class: "settings" }, ...turns), ago.node, line, caution, probe,
  );
  const band = el(
    "button", { type: "button", class: "band", "aria-expanded": "false", "aria-controls": `turn-${name}`, click: unfold },
    title, heat, setting, seen, climb,
  );

  function unfold() {
    choice.hidden = !choice.hidden;
    band.setAttribute("aria-expanded", String(!choice.hidden));
    line.textContent = "";
  }

  /** @param {string} word @param {HTMLButtonElement} button */
  async function turn(word, button) {
    if (await run(button, line, () => enter("switch", name, word, ago.minutes()))) {
      ago.again();
      if (line.textContent === "") unfold();
      band.focus();
    }
  }

  return {
    node: el("li", {}, band, fault, choice),
    /** @param {Shown} shown */
    show({ ring, now, instant, behind }) {
      band.style.setProperty("--behind", `${behind.toFixed(0)}px`);
      const fresh = Math.max(3 * now.tick_seconds, 2 * now.speed) * 1000;
      say(title, ring.name);
      say(heat, ring.celsius === null ? "unknown" : degrees(ring.celsius, now.unit));
      mark(band, "data-unknown", ring.celsius === null ? "" : null);
      say(seen, ring.seen_utc_ms === null ? (ring.has_probe ? "not seen yet" : "no probe") : age(ring.seen_utc_ms, instant, fresh));
      say(climb, climbWords(ring.climb, now.unit));
      say(setting, ring.switch_sure ? ring.switch : `${ring.switch}?`);
      mark(setting, "aria-label", ring.switch_sure ? `switch on ${ring.switch}` : `switch probably on ${ring.switch}`);
      mark(setting, "data-setting", ring.switch);
      say(fault, ring.fault ?? "");
      probe.hidden = !ring.has_probe || now.out_of_service.some((one) => one.ring === name);
      turns.forEach((button, i) => mark(button, "aria-pressed", String(SETTINGS[i] === ring.switch)));
      say(caution, cautionForTurning(now));
    },
  };
}
