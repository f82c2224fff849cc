// Plans: several by name, changed on a phone, with what each should do redrawn as one types.

import { NotDone, run, who } from "./act.js";
import { at, el, mark, say, svg } from "./dom.js";
import { drawOutlook, endWords, hoursWords, whenTurned } from "./outlook.js";
import { owned } from "./own.js";
import { choices, heading, stageFields, textField, wrong } from "./plan_fields.js";
import { limitFields } from "./plan_limits.js";
import { fieldName, wish } from "./wish.js";

/** @typedef {import("../../types/plans").Shelf} Shelf */
/** @typedef {import("../../types/plans").KeptPlan} KeptPlan */
/** @typedef {import("../../types/plans").PlanTable} PlanTable */
/** @typedef {import("../../types/plans").StageTable} StageTable */
/** @typedef {import("../../types/plans").Outlook} Outlook */
/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/shapes").Unit} Unit */

const PAUSE_MS = 250; // after the last key
const EMPTY_MS = 3000; // a record that is still being read holds none yet
const WIDE = window.matchMedia("(min-width: 62rem)"); // list and plan stand side by side
const WARES = ["bisque", "glaze", "lustre", "empty"];

/** @type {Shelf} */
let shelf = { kiln: "", rings: [], maximum_celsius: 0, cone_shutoff: true, cones: [], plans: [] };
/** @type {Unit} */
let unit = "degC";
/** @type {KeptPlan | null} */
let open = null;
/** The plan as it stands in the form. @type {PlanTable} */
let plan = { name: "", cone: "", stage: [] };
let asked = 0;
let pause = 0;

const line = el("p", { class: "line", role: "status" });
const picture = svg("svg", { class: "outlook" });
const end = el("p", { class: "said", "aria-live": "polite" });
const doubts = el("ul", { class: "doubts" });
const save = el("button", { type: "button", class: "thumb", click: () => run(save, line, keep) }, "Keep the changes");
const copy = el("button", { type: "button", class: "small", click: () => run(copy, line, keepCopy) }, "Keep as another plan");
const drop = el("button", { type: "button", class: "small", click: () => run(drop, line, takeDown) }, "Take it down");
const file = el("a", { class: "small", download: "" }, "Its plan file");
const light = el("a", { class: "small" }, "Start a firing by it");

void begin();
whenTurned(() => { if (open) changed(); });

async function begin() {
  try {
    const now = owned(/** @type {Snapshot} */ (await wish("GET", "/api/now")));
    unit = now.unit;
    await load(new URLSearchParams(location.search).get("key"));
  } catch (error) {
    at("kept").append(el("p", { class: "line" }, error instanceof NotDone ? error.message : "The page stumbled. Load it again."));
  }
}

/** @param {string | null} key the plan to open */
async function load(key) {
  shelf = /** @type {Shelf} */ (await wish("GET", "/api/plans"));
  if (shelf.plans.length === 0) window.setTimeout(() => void load(key).catch(() => {}), EMPTY_MS);
  const found = shelf.plans.find((each) => each.key === key) ?? (key === null && !WIDE.matches ? null : shelf.plans[0]);
  show(found ?? null);
}

/** @param {KeptPlan | null} kept */
function show(kept) {
  open = kept;
  plan = kept ? structuredClone(kept.plan) : plan;
  showKept();
  at("edit").hidden = at("ahead").hidden = kept === null;
  if (kept) {
    line.textContent = "";
    showForm();
    look();
  }
}

function showKept() {
  const items = shelf.plans.map((kept) => {
    const candling = kept.plan.stage[0]?.hours;
    const more = [`cone ${kept.plan.cone}`, kept.plan.ware ?? "bisque", candling ? `${kept.plan.stage[0]?.name} ${hoursWords(candling)}` : ""];
    return el("li", {}, el(
      "button", { type: "button", "aria-pressed": String(kept.key === open?.key), click: () => openPlan(kept) },
      kept.plan.name, el("span", { class: "more" }, more.filter(Boolean).join(", ")),
    ));
  });
  const text = el("textarea", { id: "toml", spellcheck: "false", autocomplete: "off" });
  const said = el("p", { class: "line", role: "status" });
  /** @type {HTMLButtonElement} */
  const bring = el("button", { type: "button", click: () => run(bring, said, async () => {
    const kept = /** @type {KeptPlan} */ (await wish("POST", "/api/plans/from-toml", { toml: text.value, who: who() }));
    await load(kept.key);
  }) }, "Keep this plan");
  const picked = el("input", { id: "toml-file", type: "file", accept: ".toml,text/plain", change: async () => {
    text.value = (await picked.files?.[0]?.text()) ?? text.value;
  } });
  at("kept").replaceChildren(
    items.length ? el("ul", { class: "kept" }, ...items) : el("p", {}, "No plan is here. The record may still be being read; they come by themselves then."),
    el("details", {}, el("summary", {}, "Bring in a plan file"),
      el("p", { class: "field" }, el("label", { for: "toml-file" }, "File"), picked),
      el("p", { class: "field" }, el("label", { for: "toml" }, "Or its text"), text), bring, said),
  );
}

/** @param {KeptPlan} kept */
function openPlan(kept) {
  show(kept);
  history.replaceState(null, "", `/plans?key=${kept.key}`);
  at("edit-title").focus();
}

function showForm() {
  const cones = shelf.cones.map((cone) => [cone, `cone ${cone}`]);
  /** @param {string[][]} more */
  const orNone = (...more) => [...more, ...cones];
  const fields = [
    textField("name", "Name", plan.name, (value) => { plan.name = value; changed(); }),
    el("div", { class: "pair" },
      choices("cone", "Firing cone", cones, plan.cone, (value) => {
        if (plan.shutoff_cone === plan.cone) plan.shutoff_cone = value;
        plan.cone = value;
        changed(plan.stage.length - 1);
        showForm();
      }),
      choices("shutoff_cone", "Cone in the shut-off", cones, plan.shutoff_cone ?? plan.cone, (value) => { plan.shutoff_cone = value; changed(); }),
      choices("lowest_firing_clay_cone", "Lowest-firing clay aboard", orNone(["", "not said"]), plan.lowest_firing_clay_cone ?? "", (value) => { plan.lowest_firing_clay_cone = value || null; changed(); }),
      choices("ware", "Ware", WARES.map((ware) => [ware, ware]), plan.ware ?? "bisque", (value) => { plan.ware = /** @type {PlanTable["ware"]} */ (value); changed(); }),
    ),
    ...plan.stage.map((stage, i) => stageFields(stage, i, {
      rings: shelf.rings, unit, last: i === plan.stage.length - 1, only: plan.stage.length === 1,
      changed: (hot) => changed(hot ? i : undefined),
      again: () => { changed(i); showForm(); },
      move: (by) => { plan.stage.splice(i + by, 0, ...plan.stage.splice(i, 1)); changed(0); showForm(); },
      remove: () => { plan.stage.splice(i, 1); changed(i); showForm(); },
      another: () => { plan.stage.splice(i, 0, { name: "another", switches: { ...stage.switches }, hours: 1 }); changed(i); showForm(); },
    })),
    el("div", { class: "field" }, el("label", { for: "f-timer_margin_minutes" }, "Backup timer past the cone, minutes"),
      el("input", { id: "f-timer_margin_minutes", type: "number", inputmode: "numeric", min: 0, max: 240, value: plan.timer_margin_minutes ?? 30, input: (event) => {
        plan.timer_margin_minutes = Number(/** @type {HTMLInputElement} */ (event.target).value);
        changed();
      } }), wrong("timer_margin_minutes")),
    limitFields(plan, { rings: shelf.rings, unit, changed: (hot) => changed(hot ? 0 : undefined), again: () => { changed(); showForm(); } }),
  ];
  mark(file, "href", open ? `/api/plans/${open.key}/toml` : null);
  mark(light, "href", open ? `/start?plan=${open.key}` : null);
  at("edit").replaceChildren(
    heading("edit-title", plan.name), doubts, ...fields, line, el("div", { class: "deeds" }, save, copy, light, file, drop),
  );
  if (!at("ahead").firstChild) {
    at("ahead").append(heading("ahead-title", "What it should do"), picture, end);
  }
}

/** Something is another. from: the stage from which on what happened last time tells nothing any more. @param {number} [from] */
function changed(from) {
  if (from !== undefined) {
    for (const stage of plan.stage.slice(from)) {
      delete stage.expected_hours;
      delete stage.expected_end_celsius;
    }
  }
  mark(picture, "data-old", "");
  window.clearTimeout(pause);
  pause = window.setTimeout(look, PAUSE_MS);
}

async function look() {
  const mine = (asked += 1);
  try {
    const seen = /** @type {Outlook} */ (await wish("POST", "/api/outlook", { plan, damp: (plan.ware ?? "bisque") === "bisque" }));
    if (mine !== asked) return;
    complain([]);
    drawOutlook(picture, seen, { unit, cone: plan.cone, when: (hours) => `${hours} h` });
    mark(picture, "data-old", null);
    say(end, `${endWords(seen, plan.cone)}${seen.known ? "" : " Nobody has fired this kiln here yet, so this is wide."}${doubtWords(seen.doubts.length)}`);
    doubts.replaceChildren(...seen.doubts.map((doubt) => el("li", {}, `${placeWords(doubt.field)}${doubt.words}`)));
  } catch (error) {
    if (mine !== asked || !(error instanceof NotDone)) return;
    complain(error.fields.length ? error.fields.map(({ field }) => ({ field, words: error.message })) : []);
    say(end, `Not so: ${error.message}`);
    doubts.replaceChildren();
  }
}

/** @param {number} many */
const doubtWords = (many) => (many === 0 ? "" : many === 1 ? " One thing speaks against it, at the head of the plan." : ` ${many} things speak against it, at the head of the plan.`);

/** @param {string} field */
function placeWords(field) {
  const staged = /^stage (\d+)/.exec(field);
  return staged ? `In ${plan.stage[Number(staged[1]) - 1]?.name ?? field}: ` : "";
}

/** Say at each field what is wrong with it. @param {{ field: string, words: string }[]} complaints */
function complain(complaints) {
  for (const each of document.querySelectorAll(".wrong")) say(each, "");
  for (const each of document.querySelectorAll("[aria-invalid]")) each.removeAttribute("aria-invalid");
  for (const { field, words } of complaints) {
    const name = fieldName(field);
    let place = document.getElementById(`w-${name}`);
    for (let wide = name; !place && wide.includes(", "); place = document.getElementById(`w-${wide}`)) wide = wide.slice(0, wide.lastIndexOf(", "));
    if (place) {
      say(place, words);
      place.closest("details")?.toggleAttribute("open", true);
    }
    const input = document.getElementById(`f-${name}`);
    if (input) mark(input, "aria-invalid", "true");
  }
}

async function keep() {
  if (!open) return "";
  return kept(/** @type {KeptPlan} */ (await told(wish("PUT", `/api/plans/${open.key}`, { plan, who: who() }, open.version))), "Kept.");
}

async function keepCopy() {
  const name = shelf.plans.some((each) => each.plan.name === plan.name) ? `${plan.name.slice(0, 48)}, another` : plan.name;
  return kept(/** @type {KeptPlan} */ (await told(wish("POST", "/api/plans", { plan: { ...plan, name }, who: who() }))), `Kept as ${name}.`);
}

/** @param {KeptPlan} plan @param {string} words */
async function kept(plan, words) {
  await load(plan.key);
  history.replaceState(null, "", `/plans?key=${plan.key}`);
  return words;
}

async function takeDown() {
  if (!open) return "";
  if (drop.dataset["sure"] !== open.key) {
    drop.dataset["sure"] = open.key;
    return "Tap again to take this plan down. Firings that followed it keep it in the kiln book.";
  }
  await wish("DELETE", `/api/plans/${open.key}?who=${encodeURIComponent(who())}`, undefined, open.version);
  await load(null);
  history.replaceState(null, "", "/plans");
  return "";
}

/** @template T @param {Promise<T>} answer @returns {Promise<T>} */
async function told(answer) {
  try {
    return await answer;
  } catch (error) {
    if (error instanceof NotDone) complain(error.fields.map(({ field }) => ({ field, words: error.message })));
    throw error;
  }
}
