// The card that hangs on the kiln: who holds it, what happens when, an hourly log by hand. Printed by the browser.

import { NotDone, who } from "./act.js";
import { at, el, say } from "./dom.js";
import { clock, day } from "./time.js";
import { wish } from "./wish.js";

/** @typedef {import("../../types/plans").StartOffered} StartOffered */
/** @typedef {import("../../types/plans").Outlook} Outlook */
/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const HOUR_MS = 3_600_000;
const LINES = 19;
const CAUTIONS = [
  "Do not turn a switch, move a plug, lift the lid or reset the shut-off. Ask the holder.",
  "Surfaces burn, at the lid and the plug holes most of all. Keep children, and all that burns, away.",
  "Air the room: electric kilns give off carbon monoxide too.",
  "Look in only with infrared-rated glasses, shade about 2; never sunglasses.",
  "Cone down and still heating, or anything wrong: all switches off; if it still heats, isolate at the wall. Leave the lid shut.",
  "A breaker that has gone stays off. Wiring is for a licensed electrician.",
  "If this card's hours run out and nobody comes: all switches off, then phone.",
  "Fire or smoke in the room: leave, isolate on the way if you can, and call the fire service.",
];

let holder = who();
let phone = "";
const name = el("dd", {});
const number = el("dd", {});

void open();

async function open() {
  try {
    const [now, start] = await Promise.all([
      /** @type {Promise<Snapshot>} */ (wish("GET", "/api/now")),
      /** @type {Promise<StartOffered>} */ (wish("GET", "/api/start")),
    ]);
    const outlook = /** @type {Outlook} */ (await wish("POST", "/api/outlook", { plan: start.plan }));
    holder = now.duty.holder || holder;
    showAsk(start);
    showCard(now, start, outlook);
  } catch (error) {
    say(at("lead"), error instanceof NotDone ? error.message : "The page stumbled over this. Load it again.");
  }
}

/** @param {StartOffered} start */
function showAsk(start) {
  say(at("lead"), start.begun_utc_ms === null
    ? `No firing is on. The card has the times of ${start.plan.name} lit now; print it again once it is lit.`
    : `The firing under way: ${start.plan.name}.`);
  const who_input = el("input", { id: "holder", autocomplete: "name", maxlength: 60, value: holder, input: () => { holder = who_input.value; fill(); } });
  const phone_input = el("input", { id: "phone", type: "tel", autocomplete: "off", maxlength: 40, input: () => { phone = phone_input.value; fill(); } });
  at("ask").replaceChildren(
    el("div", { class: "pair" },
      el("div", { class: "field" }, el("label", { for: "holder" }, "Who holds the kiln"), who_input),
      el("div", { class: "field" }, el("label", { for: "phone" }, "Phone, for this sheet only"), phone_input)),
    el("p", { class: "caution" }, "The number is not kept. Left empty, there is a line to write on."),
    el("div", { class: "deeds" }, el("button", { type: "button", class: "thumb", click: () => window.print() }, "Print")),
  );
  at("ask").hidden = false;
}

function fill() {
  say(name, holder);
  say(number, phone);
}

/** @param {Snapshot} now @param {StartOffered} start @param {Outlook} outlook */
function showCard(now, start, outlook) {
  const began = start.begun_utc_ms ?? now.now_utc_ms;
  const rings = now.rings.map((ring) => ring.name);
  /** @param {number} hours */
  const clockAt = (hours) => `${day(began + hours * HOUR_MS, now.zone).slice(0, 3)} ${clock(began + hours * HOUR_MS, now.zone)}`;
  const stages = start.plan.stage.map((stage, i) => el("tr", {},
    el("th", { scope: "row" }, outlook.stages[i] ? clockAt(outlook.stages[i]?.from_hours ?? 0) : ""), el("td", {}, stage.name),
    ...rings.map((ring) => el("td", {}, stage.switches[ring] ?? "off")), el("td", {}, stage.plugs ?? (i ? "as before" : "")),
  ));
  const down = outlook.down;
  const last = el("tr", {}, el("th", { scope: "row" }, down ? clockAt(down.likely) : ""),
    el("td", { colspan: rings.length + 2 }, `cone ${start.plan.cone} should be down${down ? `, between ${clockAt(down.low)} and ${down.high === null ? "later" : clockAt(down.high)}` : ""}; all switches off then, lid and plugs stay shut`));
  const every = Math.max(1, Math.ceil(((outlook.off?.high ?? outlook.off?.likely ?? LINES) + 1) / LINES));
  const first = Math.ceil(began / HOUR_MS) * HOUR_MS;
  const log = Array.from({ length: LINES }, (_, i) => el("tr", {},
    el("td", {}, clock(first + i * every * HOUR_MS, now.zone)), ...Array.from({ length: rings.length + 4 }, () => el("td", {}))));
  fill();
  at("card").replaceChildren(
    el("h2", {}, "Firing: do not touch"),
    el("dl", { class: "who" },
      el("div", {}, el("dt", {}, "Held by"), name), el("div", {}, el("dt", {}, "Phone"), number),
      el("div", {}, el("dt", {}, "Kiln, cone"), el("dd", {}, `${now.kiln}, cone ${start.plan.cone}`)),
      el("div", {}, el("dt", {}, "The isolator is at"), el("dd", {})),
      el("div", { class: "rule" }, el("dt", {}, "Studio's emergency rule; the fire service's number"), el("dd", {}))),
    el("table", {}, el("caption", {}, `${start.plan.name}; lit ${clock(began, now.zone)}, ${day(began, now.zone)}`),
      el("thead", {}, el("tr", {}, ...["From", "Stage", ...rings, "Plugs"].map((each) => el("th", { scope: "col" }, each)))),
      el("tbody", {}, ...stages, last)),
    el("table", { class: "log" }, el("caption", {}, `By hand, each ${every === 1 ? "hour" : `${every} hours`}; go by cones and clock if the screen is dark`),
      el("thead", {}, el("tr", {}, ...["Time", ...rings, "Switches", "Plugs, lid", "Timer ends", "By"].map((each) => el("th", { scope: "col" }, each)))),
      el("tbody", {}, ...log)),
    el("ul", {}, ...CAUTIONS.map((each) => el("li", {}, each))),
  );
  at("card").hidden = false;
}
