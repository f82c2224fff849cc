// To write down what was done or seen: a word to open it, a tap to say it, and how long ago it was.

import { chooser } from "./ago.js";
import { enter, run, setWho, who } from "./act.js";
import { AWAY, LOOKING_IN, OPENING } from "./cautions.js";
import { at, el, say } from "./dom.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const LIDS = /** @type {const} */ ([["closed", "shut"], ["cracked", "cracked"], ["propped", "propped"], ["open", "open"]]);

const line = el("p", { class: "line", role: "status" });
const ago = chooser("When it was");
const plugs = el("div", { class: "rows" });
const cones = el("div", { class: "rows" });
const note = el("input", { id: "note", maxlength: 300, autocomplete: "off" });
const write = el("button", { type: "submit", class: "small" }, "Write down");
const name = el("input", { id: "who", maxlength: 40, autocomplete: "nickname", change: () => setWho(name.value) });
const camera = el("input", { id: "camera", type: "file", accept: "image/*", capture: "environment", change: take });
/** @type {HTMLButtonElement[]} */
const openers = [];
let drawn = "";

/** @param {string} words @param {string} kind @param {string} subject @param {string} value @param {string} [spoken] */
function tap(words, kind, subject, value, spoken) {
  /** @type {HTMLButtonElement} */
  const button = el("button", { type: "button", "aria-label": spoken ?? words, click: () => run(button, line, say_) }, words);
  async function say_() {
    const left = await enter(kind, subject, value, ago.minutes());
    ago.again();
    return left;
  }
  return button;
}

/** @param {string} words @param {string} label @param {...(Node | string)} kids */
function fold(words, label, ...kids) {
  const id = `log-${words.toLowerCase().replaceAll(/\W/g, "-")}`;
  const sheet = el("div", { id, class: "fold", role: "group", "aria-label": label, hidden: true }, ...kids);
  const opener = el("button", { type: "button", "aria-expanded": "false", "aria-controls": id, click: () => {
    const open = sheet.hidden === true;
    for (const other of openers) if (other !== opener) shut(other);
    sheet.hidden = !open;
    opener.setAttribute("aria-expanded", String(open));
    say(line, "");
  } }, words);
  openers.push(opener);
  return [opener, sheet];
}

/** @param {HTMLButtonElement} opener */
function shut(opener) {
  opener.setAttribute("aria-expanded", "false");
  at(opener.getAttribute("aria-controls") ?? "").hidden = true;
}

/** @param {Event} event */
async function keepNote(event) {
  event.preventDefault();
  if (note.value.trim() === "") return say(line, "There is nothing in the note yet.");
  if (await run(write, line, () => enter("note", "", note.value, ago.minutes()))) {
    note.value = "";
    ago.again();
  }
}

async function take() {
  const file = camera.files?.[0];
  if (!file) return;
  say(line, "Making it smaller, then sending it.");
  await run(null, line, async () => {
    const { kept } = await import("./photo.js");
    return kept(file);
  });
  camera.value = "";
}

/** @param {Snapshot} now */
export function showLog(now) {
  const room = at("log");
  if (!line.isConnected) first(room);
  const rings = [...now.rings].reverse().map((ring) => ring.name);
  const state = JSON.stringify([rings, now.cones.map((cone) => cone.cone), now.reference_ring]);
  if (state === drawn) return;
  drawn = state;
  const settings = (/** @type {string} */ ring, /** @type {string} */ words) => [
    el("span", { class: "of" }, words),
    el("div", { class: "settings" }, ...["in", "half", "out"].map((word) => tap(word, "plugs", ring, word, `${words} plug ${word}`))),
  ];
  plugs.replaceChildren(...settings("", "all"), ...rings.flatMap((ring) => settings(ring, ring)));
  cones.replaceChildren(...now.cones.flatMap((cone) => [
    el("span", { class: "of" }, `${cone.role} ${cone.cone}`),
    el(
      "div", { class: "settings" },
      ...(/** @type {const} */ ([["leaning", "30"], ["half over", "60"], ["down", "down"], ["flat", "flat"]])).map(([words, bend]) =>
        tap(words, "cone", now.reference_ring, `${cone.cone}:${bend}`, `${cone.role} cone ${cone.cone} ${words}`)),
    ),
  ]));
  if (now.cones.length === 0) cones.replaceChildren(el("p", {}, "No firing is on, so no cone is looked at."));
}

/** @param {HTMLElement} room */
function first(room) {
  name.value = who();
  const parts = [
    fold("Cone", "A cone that was seen", cones, el("p", { class: "caution" }, LOOKING_IN)),
    fold("Plugs", "Plugs", plugs),
    fold("Lid", "The lid", el("p", { class: "caution" }, OPENING), el("div", { class: "settings" }, ...LIDS.map(([value, words]) => tap(words, "lid", "", value, `lid ${words}`)))),
    fold("Trip", "The shut-off", el("p", {}, "The shut-off has dropped, and the kiln is off."), el("div", { class: "settings" }, tap("Trip seen", "shutoff", "", "tripped"))),
    fold("Power", "The kiln's supply", el("p", { class: "caution" }, AWAY), el("div", { class: "settings" }, ...["lost", "back"].map((word) => tap(word, "power", "", word, `power ${word}`)))),
    fold("Note", "A note", el("form", { class: "inline wide", submit: keepNote }, el("label", { for: "note" }, "Note"), note, write)),
    fold("Photo", "A photograph", el("p", { class: "inline wide" }, el("label", { for: "camera" }, "Of the cones"), camera), el("p", { class: "caution" }, LOOKING_IN)),
    fold("Name", "Whose hand", el("p", { class: "inline wide" }, el("label", { for: "who" }, "Written by"), name)),
  ];
  room.append(
    el("div", { class: "openers" }, ...parts.flatMap(([opener]) => (opener ? [opener] : []))),
    ...parts.flatMap(([, sheet]) => (sheet ? [sheet] : [])), ago.node, line,
  );
}
