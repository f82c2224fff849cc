// People and their channels: added, tried, quieted, removed. An address goes in, and is never shown.

import { ask, run } from "./act.js";
import { at, el } from "./dom.js";
import { minuteOf, quietWords, SAY, timeOfDay, wayWords } from "./studio_words.js";
import { Tagged } from "./tagged.js";

/** @typedef {import("../../types/studio").PersonView} PersonView */
/** @typedef {import("../../types/studio").Delivery} Delivery */

/** @type {Tagged<PersonView[]>} */
const people = new Tagged("/api/people");
const list = el("ul", {});
const line = el("p", { class: "line", role: "status" });
let zone = "UTC";
let now = 0;

/** @param {{ zone: string, now_utc_ms: number }} manner */
export async function showPeople(manner) {
  zone = manner.zone;
  now = manner.now_utc_ms;
  const room = at("people");
  if (!list.isConnected) {
    room.append(el("h2", { id: "people-title" }, "People"), el("p", { class: "note" }, SAY.people), list, adding(), line);
  }
  await again();
}

async function again() {
  const everybody = await people.read();
  list.replaceChildren(...(everybody.length ? everybody.map(person) : [el("li", { class: "note" }, SAY.nobody)]));
}

/** Change it and look again; when it cannot be, look again all the same, since it may be another's doing.
 * @param {HTMLButtonElement | null} button @param {"POST" | "PUT" | "DELETE"} method @param {string} below @param {object} [body] */
async function change(button, method, below, body) {
  const done = await run(button, line, async () => { await people.change(method, below, body); });
  const said = line.textContent;
  await run(null, line, async () => { await again(); });
  if (!done) line.textContent = said;
  return done;
}

/** @param {string} name */
const path = (name) => `/${encodeURIComponent(name)}`;

function adding() {
  const name = el("input", { id: "new-name", maxlength: "40", autocomplete: "off", required: true });
  const role = roles("keeper", "new-role");
  const button = el("button", {}, "Add");
  return el("details", {}, el("summary", {}, "Add somebody"), el(
    "form", { class: "fields", submit: async (event) => {
      event.preventDefault();
      if (await change(button, "POST", "", { name: name.value.trim(), role: role.value })) name.value = "";
    } },
    el("label", { for: "new-name" }, "Name", name), el("label", { for: "new-role" }, "Told as", role), button,
  ));
}

/** @param {string} chosen @param {string} id */
function roles(chosen, id) {
  return el("select", { id }, ...["keeper", "helper"].map((role) => el("option", { value: role, selected: role === chosen }, role)));
}

/** @param {PersonView} of */
function person(of) {
  const ways = el("ul", { class: "ways" }, ...of.channels.map((way) => channel(of, way)));
  const head = [el("h3", {}, of.name), el("p", { class: "note" }, `${of.role}; ${quietWords(of)}${of.report ? "; gets the report the morning after" : ""}`), ways];
  if (of.channels.length === 0) head.push(el("p", {}, SAY.noChannel));
  if (of.by_settings) return el("li", { class: "person" }, ...head, el("p", { class: "note" }, SAY.bySettings));
  return el("li", { class: "person" }, ...head, el("details", {}, el("summary", {}, `Change ${of.name}`), channelForm(of), quietForm(of), reportForm(of), whole(of)));
}

/** @param {PersonView} of @param {Delivery} way */
function channel(of, way) {
  const below = `${path(of.name)}/channels${path(way.channel)}`;
  const said = el("p", { class: "line", role: "status" });
  /** @param {"yes" | "no"} rang */
  const answer = (rang) => async () => {
    await run(null, said, async () => void (await people.change("PUT", `${below}/rang`, { rang })));
    await run(null, line, async () => { await again(); });
  };
  const name = way.channel || of.name;
  const rang = el("span", { class: "asks" },
    el("span", {}, "Did it ring?"), el("button", { type: "button", click: answer("yes") }, "It rang"), el("button", { type: "button", click: answer("no") }, "It did not"));
  rang.hidden = way.rang !== "unknown" || way.told_utc_ms === null;
  /** @type {HTMLButtonElement} */
  const trial = el("button", { type: "button", "aria-label": `Try it: ${name} of ${of.name}`, click: () => run(trial, said, async () => {
    await ask("POST", `/api/people${below}/trial`);
    rang.hidden = false;
    return SAY.trial;
  }) }, "Try it");
  const asks = el("p", { class: "asks" }, trial, rang);
  if (!of.by_settings) {
    /** @type {HTMLButtonElement} */
    const drop = el("button", { type: "button", class: "small", "aria-label": `Remove ${name} of ${of.name}`, click: () => change(drop, "DELETE", below) }, "Remove");
    asks.append(drop);
  }
  return el("li", { "data-broken": way.error !== "" }, el("p", {}, wayWords(way, zone, now)), asks, said);
}

/** @param {PersonView} of */
function channelForm(of) {
  const id = (/** @type {string} */ what) => `${what}-${encodeURIComponent(of.name)}`;
  const name = el("input", { id: id("channel"), maxlength: "40", autocomplete: "off", required: true, placeholder: "phone" });
  const address = el("input", { id: id("address"), type: "password", autocomplete: "off", required: true, maxlength: "1000", "aria-describedby": id("about") });
  const loud = el("input", { id: id("loud"), type: "checkbox" });
  const button = el("button", {}, "Keep the channel");
  return el(
    "form", { class: "fields", submit: async (event) => {
      event.preventDefault();
      await change(button, "PUT", `${path(of.name)}/channels${path(name.value.trim())}`, { address: address.value.trim(), loud: loud.checked });
    } },
    el("label", { for: name.id }, "Channel, for example phone", name), el("label", { for: address.id }, "Address", address),
    el("p", { class: "note", id: id("about") }, SAY.address), el("label", { class: "tick", for: loud.id }, loud, SAY.loud), button,
  );
}

/** @param {PersonView} of */
function quietForm(of) {
  const id = (/** @type {string} */ what) => `${what}-${encodeURIComponent(of.name)}`;
  const from = el("input", { id: id("from"), type: "time", value: of.quiet_from === null ? "22:00" : timeOfDay(of.quiet_from) });
  const to = el("input", { id: id("to"), type: "time", value: of.quiet_to === null ? "07:00" : timeOfDay(of.quiet_to) });
  const keepIt = el("button", {}, "Keep quiet hours");
  /** @type {HTMLButtonElement} */
  const none = el("button", { type: "button", class: "small", click: () => change(none, "PUT", `${path(of.name)}/quiet`, { quiet_from: null, quiet_to: null }) }, "No quiet hours");
  return el(
    "form", { class: "fields", submit: async (event) => {
      event.preventDefault();
      await change(keepIt, "PUT", `${path(of.name)}/quiet`, { quiet_from: minuteOf(from.value), quiet_to: minuteOf(to.value) });
    } },
    el("label", { for: from.id }, "Quiet from", from), el("label", { for: to.id }, "to", to), el("p", { class: "note" }, SAY.quiet),
    el("p", { class: "asks" }, keepIt, none),
  );
}

/** @param {PersonView} of */
function reportForm(of) {
  /** @type {HTMLButtonElement} */
  const button = el("button", { type: "button", click: () => change(button, "PUT", `${path(of.name)}/report`, { wanted: !of.report }) },
    of.report ? "No report in the morning" : "Report in the morning");
  return el("div", { class: "fields" }, el("p", { class: "note" }, SAY.report), el("p", { class: "asks" }, button));
}

/** @param {PersonView} of */
function whole(of) {
  const other = of.role === "keeper" ? "helper" : "keeper";
  /** @type {HTMLButtonElement} */
  const role = el("button", { type: "button", click: () => change(role, "PUT", `${path(of.name)}/role`, { role: other }) }, `Make ${of.name} a ${other}`);
  /** @type {HTMLButtonElement} */
  const gone = el("button", { type: "button", class: "small", click: () => {
    if (gone.dataset["sure"]) return void change(gone, "DELETE", path(of.name));
    gone.dataset["sure"] = "yes";
    gone.textContent = SAY.remove;
  } }, `Remove ${of.name}`);
  return el("p", { class: "asks" }, role, gone);
}
