// What a plan asks of the rings together, of damp ware, and of the cooling: seldom changed, so it stands folded.

import { el } from "./dom.js";
import { choices, climbField, heatField, heading, wrong } from "./plan_fields.js";
import { degrees, difference, unitName } from "./units.js";

/** @typedef {import("../../types/plans").PlanTable} PlanTable */
/** @typedef {import("../../types/plans").CoolingLimit} CoolingLimit */
/** @typedef {import("../../types/shapes").Unit} Unit */

// Quartz: Dodd and Murfin, Dictionary of Ceramics, 3rd ed. 1994; 50 an hour for thick ware: Fortuna, Sanitaryware, 2000.
// Cristobalite: 210 to 280 across sources; that it bears the same is common practice, no source.
/** @type {Record<string, CoolingLimit>} */
const BANDS = {
  quartz: { from_celsius: 600, to_celsius: 540, celsius_per_hour: 50 },
  cristobalite: { from_celsius: 280, to_celsius: 210, celsius_per_hour: 50 },
};
const ANOTHER = { from_celsius: 800, to_celsius: 700, celsius_per_hour: 100 };
const SPREAD_FROM_CELSIUS = 600;
const BODIES = [["ordinary", "ordinary"], ["iron_free", "iron-free"]];

let unfolded = false;

/** @param {PlanTable} plan @param {{ rings: string[], unit: Unit, changed: (hot: boolean) => void, again: () => void }} to */
export function limitFields(plan, to) {
  const { unit } = to;
  const cooling = (plan.cooling ??= {});
  const damp = (plan.damp ??= {});
  const limits = (cooling.limits ??= []);
  const cold = () => to.changed(false);
  /** @param {CoolingLimit} band */
  const add = (band) => () => { limits.push({ ...band }); unfolded = true; to.again(); };
  const more = Object.entries(BANDS).map(([name, band]) => el("button", { type: "button", class: "small", click: add(band) }, `Slower through ${name}`));
  const spread = plan.spread;
  let above = spread?.above_celsius ?? SPREAD_FROM_CELSIUS;
  return el("details", { class: "limits", open: unfolded, toggle: (event) => { unfolded = /** @type {HTMLDetailsElement} */ (event.target).open; } },
    el("summary", {}, "Rings, damp ware and cooling"),
    el("div", { class: "pair" },
      choices("reference_ring", "Ring whose cone decides", [...to.rings].reverse().map((ring) => [ring, ring]), plan.reference_ring ?? "", (ring) => { plan.reference_ring = ring; to.changed(true); }),
      choices("body", "Cones are", BODIES, plan.body ?? "ordinary", (body) => { plan.body = body; to.changed(true); })),
    heading("spread-title", "Rings together"),
    el("div", { class: "pair" },
      climbField("spread, limit_celsius", `No further apart than, ${unitName(unit)}`, spread?.limit_celsius, unit, (limit) => {
        plan.spread = limit === null ? null : { limit_celsius: limit, above_celsius: above };
        cold();
      }),
      heatField("spread, above_celsius", `From, ${unitName(unit)}`, above, unit, (from) => {
        above = from ?? SPREAD_FROM_CELSIUS;
        if (plan.spread) plan.spread.above_celsius = above;
        cold();
      })),
    heading("damp-title", "Damp ware"),
    el("div", { class: "pair" },
      climbField("damp, celsius_per_hour", `No faster than, ${unitName(unit)} an hour`, damp.celsius_per_hour, unit, (climb) => { damp.celsius_per_hour = climb; cold(); }),
      heatField("damp, from_celsius", `From, ${unitName(unit)}`, damp.from_celsius, unit, (celsius) => { damp.from_celsius = celsius; cold(); }),
      heatField("damp, to_celsius", `To, ${unitName(unit)}`, damp.to_celsius, unit, (celsius) => { damp.to_celsius = celsius; cold(); })),
    wrong("damp"),
    heading("cooling-fields", "Cooling"),
    el("div", { class: "pair" },
      heatField("cooling, crack_below_celsius", `Crack the lid below, ${unitName(unit)}`, cooling.crack_below_celsius, unit, (celsius) => { cooling.crack_below_celsius = celsius; cold(); }),
      heatField("cooling, open_below_celsius", `Open it below, ${unitName(unit)}`, cooling.open_below_celsius, unit, (celsius) => { cooling.open_below_celsius = celsius; cold(); }),
      heatField("cooling, unload_below_celsius", `Unload below, ${unitName(unit)}`, cooling.unload_below_celsius, unit, (celsius) => { cooling.unload_below_celsius = celsius; cold(); })),
    wrong("cooling"),
    ...limits.map((limit, i) => bandFields(limit, `cooling, limits ${i + 1}`, unit, cold, () => { limits.splice(i, 1); to.again(); })),
    wrong("cooling, limits"),
    el("p", { class: "hint" }, `Quartz turns at ${degrees(573, unit)}, and cristobalite, in a body that has it, at ${degrees(220, unit)} to ${degrees(226, unit)}: the ware changes size at once. Thick ware bears about ${Math.round(difference(50, unit))} an hour there. spyhole says when it cools faster; with the lid and plugs shut it cools as slowly as this kiln can.`),
    el("div", { class: "deeds" }, ...more, el("button", { type: "button", class: "small", click: add(ANOTHER) }, "Slower through another band")),
  );
}

/** @param {CoolingLimit} limit @param {string} place @param {Unit} unit @param {() => void} changed @param {() => void} remove */
function bandFields(limit, place, unit, changed, remove) {
  return el("div", { class: "band-limit" },
    el("div", { class: "pair" },
      heatField(`${place}, from_celsius`, `Falling from, ${unitName(unit)}`, limit.from_celsius, unit, (celsius) => { limit.from_celsius = celsius; changed(); }),
      heatField(`${place}, to_celsius`, `to, ${unitName(unit)}`, limit.to_celsius, unit, (celsius) => { limit.to_celsius = celsius; changed(); }),
      climbField(`${place}, celsius_per_hour`, `no faster than, ${unitName(unit)} an hour`, limit.celsius_per_hour, unit, (climb) => { limit.celsius_per_hour = climb; changed(); })),
    el("button", { type: "button", class: "small", click: remove }, "No limit there"));
}
