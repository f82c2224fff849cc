// A firing begins: what is aboard, the cones, the plan, what to expect by the clock, and what to see to first.

import { NotDone, run, who } from "./act.js";
import { RELIGHTING, WIRING } from "./cautions.js";
import { at, el, mark, say, svg } from "./dom.js";
import { drawOutlook, endWords, hoursWords, whenTurned } from "./outlook.js";
import { owned } from "./own.js";
import { choices, heading, numberField } from "./plan_fields.js";
import { clock, day, when } from "./time.js";
import { difference } from "./units.js";
import { fieldName, wish } from "./wish.js";

/** @typedef {import("../../types/plans").Shelf} Shelf */
/** @typedef {import("../../types/plans").PlanTable} PlanTable */
/** @typedef {import("../../types/plans").Outlook} Outlook */
/** @typedef {import("../../types/plans").StartOffered} StartOffered */
/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const PAUSE_MS = 250;
const AGAIN_MS = 20_000;
const HOUR_MS = 3_600_000;
const MINUTE_MS = 60_000;
const ALIKE_CELSIUS = 15; // probes of a cold kiln stand within this of each other
const WARES = [["bisque", "bisque"], ["glaze", "glaze"], ["lustre", "lustre"], ["empty", "nothing, empty kiln"]];

/** @type {Snapshot} */
let now;
/** @type {Shelf} */
let shelf;
/** @type {StartOffered} */
let offered;
/** What is asked for today. */
let today = {
  key: "", cone: "", shutoff_cone: "", clay: "", ware: "bisque", damp: true,
  seated: false, rod_centred: false, askew: false, gap: /** @type {number | null} */ (null), timer: /** @type {number | null} */ (null),
  claim: false,
};
/** @type {Outlook | null} */
let seen = null;
let there = ""; // HH:MM on the studio's wall
let asked = 0;
let pause = 0;

const picture = svg("svg", { class: "outlook" });
const end = el("p", { class: "said", "aria-live": "polite" });
const by = el("p", { class: "said", role: "status" });
const high = el("p", {});
const doubts = el("ul", { class: "doubts" });
const timer = el("p", { class: "said" });
const short = el("p", { class: "wrong", id: "w-timer_minutes" });
const probes = el("li", {});
const line = el("p", { class: "line", role: "status" });
const light = el("button", { type: "button", class: "thumb", click: () => run(light, line, begin) }, "All seen to. It is lit");

void open();
whenTurned(() => { if (seen) changed(); });

async function open() {
  try {
    [now, shelf, offered] = await Promise.all([
      /** @type {Promise<Snapshot>} */ (wish("GET", "/api/now")),
      /** @type {Promise<Shelf>} */ (wish("GET", "/api/plans")),
      /** @type {Promise<StartOffered>} */ (wish("GET", "/api/start")),
    ]);
  } catch (error) {
    say(at("lead"), error instanceof NotDone ? error.message : "The page stumbled over this. Load it again.");
    return;
  }
  now = owned(now);
  if (offered.begun_utc_ms !== null) {
    at("lead").replaceChildren(
      `A firing of ${offered.kiln} is under way, since ${when(offered.begun_utc_ms, now.zone, now.now_utc_ms)}. Another begins once it is over. `,
      el("a", { href: "/" }, "Look at it"), ", or ", el("a", { href: "/card" }, "print its card"), ".",
    );
    return;
  }
  const search = new URLSearchParams(location.search);
  const wanted = shelf.plans.find((each) => each.key === search.get("plan"));
  const last = wanted ? wanted.plan : offered.plan;
  const was = offered.prepared;
  today = {
    ...today, ...ofPlan(last), key: wanted?.key ?? offered.key,
    damp: was?.damp ?? (last.ware ?? "bisque") === "bisque", gap: was?.gap_millimetres ?? null,
    claim: search.has("claim") && offered.heats_utc_ms !== null,
  };
  say(at("lead"), offered.last && !wanted
    ? `As last time: ${last.name}. Change what is different today.`
    : `By ${last.name}. Change what is different today.`);
  showAboard();
  showLighting();
  for (const id of ["aboard", "ahead", "lighting"]) at(id).hidden = false;
  await look();
  window.setInterval(again, AGAIN_MS);
}

/** The clock goes on while somebody reads, and probes come and go. */
async function again() {
  const heard = await wish("GET", "/api/now").catch(() => null);
  if (!heard) return;
  now = owned(/** @type {Snapshot} */ (heard));
  showProbes();
  if (seen && !picture.hasAttribute("data-old")) await look();
}

/** @param {PlanTable} plan */
const ofPlan = (plan) => ({
  cone: plan.cone, shutoff_cone: plan.shutoff_cone ?? plan.cone, clay: plan.lowest_firing_clay_cone ?? "", ware: plan.ware ?? "bisque",
});

function showAboard() {
  const cones = shelf.cones.map((cone) => [cone, `cone ${cone}`]);
  const claim = offered.heats_utc_ms === null ? [] : [
    el("div", { class: "question" },
      el("p", { class: "said" }, `${offered.kiln} heats since ${when(offered.heats_utc_ms, now.zone, now.now_utc_ms)}, and no firing is on.`),
      tick("claim", "It is mine: the firing began then", today.claim, (yes) => { today.claim = yes; say(light, lightWords()); changed(); })),
  ];
  at("aboard").replaceChildren(
    ...claim,
    heading("aboard-title", "What is aboard"),
    choices("key", "Plan", shelf.plans.map((each) => [each.key, each.plan.name]), today.key, (key) => {
      const plan = shelf.plans.find((each) => each.key === key)?.plan;
      today = { ...today, ...(plan ? ofPlan(plan) : {}), key };
      today.damp = today.ware === "bisque";
      showAboard();
      changed();
    }),
    el("p", {}, el("a", { class: "small", href: `/plans?key=${today.key}` }, "Look at this plan, or make another")),
    el("div", { class: "pair" },
      choices("ware", "Ware", WARES, today.ware, (ware) => { today.ware = ware; today.damp = ware === "bisque"; showAboard(); changed(); }),
      choices("damp", "The ware is", [["dry", "bone dry"], ["damp", "perhaps damp"]], today.damp ? "damp" : "dry", (word) => { today.damp = word === "damp"; changed(); }),
      choices("lowest_firing_clay_cone", "Lowest-firing clay aboard", [["", "not known"], ...cones], today.clay, (clay) => { today.clay = clay; changed(); }),
      choices("cone", "Firing cone", cones, today.cone, (cone) => {
        if (today.shutoff_cone === today.cone) today.shutoff_cone = cone;
        today.cone = cone;
        showAboard();
        changed();
      }),
    ),
    ...(shelf.cone_shutoff ? [
      heading("shutoff-title", "The shut-off"),
      el("div", { class: "pair" },
        choices("shutoff_cone", "Cone in the shut-off", cones, today.shutoff_cone, (cone) => { today.shutoff_cone = cone; changed(); }),
        numberField("gap_millimetres", "Trigger gap, mm, if measured", today.gap, (gap) => { today.gap = gap; })),
      tick("seated", "A fresh cone, seated level on both supports", today.seated, (yes) => { today.seated = yes; }),
      tick("rod_centred", "The rod rests on the middle of the cone", today.rod_centred, (yes) => { today.rod_centred = yes; }),
      tick("askew", "Something did not sit right, and it is lit all the same: this trip teaches nothing", today.askew, (yes) => { today.askew = yes; }),
    ] : []),
  );
}

/** @param {string} id @param {string} label @param {boolean} on @param {(yes: boolean) => void} changed */
function tick(id, label, on, changed) {
  const input = el("input", { id: `f-${id}`, type: "checkbox", checked: on, change: () => changed(input.checked) });
  return el("p", { class: "tick" }, input, el("label", { for: input.id }, label));
}

function showLighting() {
  const whenThere = el("input", { id: "f-there", type: "time", input: () => { there = whenThere.value; void look(); } });
  at("ahead").replaceChildren(
    heading("ahead-title", "What to expect"), picture, end, high, doubts,
    el("div", { class: "field", id: "there" }, el("label", { for: "f-there" }, "From when can you be there to see it go down?"), whenThere), by,
  );
  at("lighting").replaceChildren(
    heading("lighting-title", "Before it is lit"),
    el("ul", { class: "seen-to" },
      el("li", {}, el("strong", {}, "Air. "), "Open a window or run the fan: electric kilns give off carbon monoxide too."),
      el("li", {}, el("strong", {}, "Nothing that burns "), "within the distance the kiln's maker gives; nothing on the lid."),
      el("li", {}, el("strong", {}, "Damp ware explodes. "), "If you are not sure it is dry, candle it longer, plugs out."),
      el("li", {}, el("strong", {}, "Shut-off. "), "A fresh cone, the weight up, and the rod clear to fall. It can jam all the same."),
      el("li", {}, el("strong", {}, "Backup timer. "), timer,
        numberField("timer", "Wound to, hours (leave empty if not yet)", today.timer, (hours) => { today.timer = hours; showTimer(); }), short),
      probes,
      ...offered.care.map((words) => el("li", {}, el("strong", {}, words))),
      el("li", {}, el("strong", {}, "Overnight "), "or alone: only if the insurer's rule and the studio's allow it. spyhole watches; it does not stand there for you."),
      el("li", {}, el("strong", {}, "The card "), el("a", { href: "/card" }, "for the kiln"), " says who holds it and that nobody should touch it."),
      el("li", {}, WIRING),
    ),
    el("p", { class: "caution" }, now.firing && !now.firing.heating ? RELIGHTING : ""),
    el("div", { class: "deeds" }, light), line,
  );
  say(light, lightWords());
  showProbes();
}

function showProbes() {
  const known = now.rings.flatMap((ring) => (ring.celsius === null ? [] : [ring.celsius]));
  const apart = Math.max(...known) - Math.min(...known);
  const out = now.rings.filter((ring) => ring.has_probe && ring.celsius === null).map((ring) => ring.name);
  probes.replaceChildren(el("strong", {}, "Probes. "), out.length
    ? `Not seen now: ${out.join(", ")}. Go by the others and by your cones.`
    : known.length > 1 && apart > ALIKE_CELSIUS
      ? `They stand ${Math.round(difference(apart, now.unit))} apart. In a cold kiln they should agree: look whether one is out, or the kiln still warm.`
      : "Seen now, and they agree. Clear of shelves and ware?");
}

const lightWords = () => (today.claim ? "All seen to. It is mine" : "All seen to. It is lit");

function changed() {
  mark(picture, "data-old", "");
  window.clearTimeout(pause);
  pause = window.setTimeout(look, PAUSE_MS);
}

/** @returns {PlanTable | null} the kept plan with what is different today */
function plan() {
  const kept = shelf.plans.find((each) => each.key === today.key)?.plan;
  return kept ? {
    ...kept, cone: today.cone, shutoff_cone: today.shutoff_cone, ware: /** @type {PlanTable["ware"]} */ (today.ware),
    lowest_firing_clay_cone: today.clay || null,
  } : null;
}

/** When it is lit, as far as anybody can say. */
const lit = () => (today.claim && offered.heats_utc_ms !== null ? offered.heats_utc_ms : now.now_utc_ms);

/** The next time the wall clock shows this and the cone can be down by then. @param {string} wall HH:MM @param {number} from utc_ms */
function next(wall, from) {
  const [hours = 0, minutes = 0] = wall.split(":").map(Number);
  const [h = 0, m = 0] = clock(from, now.zone).split(":").map(Number);
  return Math.floor(from / MINUTE_MS) * MINUTE_MS + ((hours * 60 + minutes - h * 60 - m + 1440) % 1440) * MINUTE_MS;
}

async function look() {
  const mine = (asked += 1);
  const table = plan();
  if (!table) return;
  const at_utc_ms = there && seen?.off ? next(there, now.now_utc_ms + seen.off.low * HOUR_MS) : null;
  try {
    const found = /** @type {Outlook} */ (await wish("POST", "/api/outlook", { plan: table, damp: today.damp, there_utc_ms: at_utc_ms }));
    if (mine !== asked) return;
    seen = found;
    light.disabled = false;
    show(found, table);
    complain([]);
  } catch (error) {
    if (mine !== asked || !(error instanceof NotDone)) return;
    light.disabled = true;
    complain(error.fields.map(({ field }) => ({ field, words: error.message })));
    say(end, `Not so: ${error.message}`);
    for (const each of [by, high]) say(each, "");
    doubts.replaceChildren();
  }
}

/** @param {Outlook} found @param {PlanTable} table */
function show(found, table) {
  const began = lit();
  /** @param {number} hours */
  const clockAt = (hours) => when(began + hours * HOUR_MS, now.zone, began);
  /** The day once is enough. @param {number} hours */
  const inDay = (hours) => when(began + hours * HOUR_MS, now.zone, began + (found.down?.likely ?? 0) * HOUR_MS);
  drawOutlook(picture, found, { unit: now.unit, cone: table.cone, when: (hours) => clock(began + hours * HOUR_MS, now.zone) });
  mark(picture, "data-old", null);
  const lead = today.claim ? "" : "Lit now, ";
  say(end, found.down
    ? `${lead}${lead ? "c" : "C"}one ${table.cone} should be down at ${clockAt(found.down.likely)}, between ${inDay(found.down.low)} and ${found.down.high === null ? "who can say when" : inDay(found.down.high)}.`
    : endWords(found, table.cone));
  const last = found.stages.at(-1);
  say(high, last && found.stages.length > 1
    ? `The last turn, to ${last.name}, would be at ${inDay(last.from_hours)}; somebody stays from then on. All of it takes about ${hoursWords(found.off?.likely ?? 0)}.`
    : "");
  doubts.replaceChildren(...found.doubts.map((doubt) => el("li", {}, doubt.words)));
  at("there").hidden = today.claim;
  const at_it = today.claim ? null : found.lighting;
  say(by, at_it
    ? `Light by ${when(at_it.light_utc_ms, now.zone, now.now_utc_ms)} to be there when it goes down, between ${clock(at_it.down_low_utc_ms, now.zone)} and ${clock(at_it.down_high_utc_ms, now.zone)} on ${day(at_it.down_low_utc_ms, now.zone)}.`
    : "");
  showTimer();
}

function showTimer() {
  const advised = seen?.timer_minutes;
  say(timer, advised
    ? `To the late end and half an hour more: ${hoursWords(advised / 60)}. If it does not wind so far, wind it on before it ends.`
    : "Wind it past the time the cone should be down.");
  const ends = today.timer === null ? null : lit() + today.timer * HOUR_MS;
  const down = seen?.off ? lit() + seen.off.likely * HOUR_MS : null;
  say(short, ends !== null && down !== null && ends < down
    ? `It ends at ${when(ends, now.zone, now.now_utc_ms)}, before the cone: wind it on by then, or the kiln stops.`
    : "");
}

/** @param {{ field: string, words: string }[]} complaints */
function complain(complaints) {
  for (const each of document.querySelectorAll("#aboard .wrong")) say(each, "");
  for (const each of document.querySelectorAll("[aria-invalid]")) each.removeAttribute("aria-invalid");
  for (const { field, words } of complaints) {
    const place = document.getElementById(`w-${fieldName(field)}`);
    if (place) say(place, words);
    const input = document.getElementById(`f-${fieldName(field)}`);
    if (input) mark(input, "aria-invalid", "true");
  }
}

async function begin() {
  const shutoff = shelf.cone_shutoff;
  // What nobody ticked nobody looked at: only who says that it sat askew has seen it.
  const set = (/** @type {boolean} */ yes) => (!shutoff ? null : today.askew ? false : yes || null);
  await wish("POST", "/api/firings", {
    key: today.key, cone: today.cone, shutoff_cone: today.shutoff_cone, lowest_firing_clay_cone: today.clay || null,
    ware: today.ware, damp: today.damp, seated: set(today.seated), rod_centred: set(today.rod_centred),
    gap_millimetres: shutoff ? today.gap : null, timer_minutes: today.timer === null ? null : Math.round(today.timer * 60),
    claim: today.claim, who: who(),
  });
  location.assign("/");
}
