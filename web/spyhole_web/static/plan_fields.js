// The fields of a plan: each with a label, and a place beside it for what is wrong with it.

import { el } from "./dom.js";
import { difference, temperature, unitName } from "./units.js";

/** @typedef {import("../../types/plans").StageTable} StageTable */
/** @typedef {import("../../types/shapes").Unit} Unit */
/** @typedef {import("../../types/shapes").Setting} Setting */

/** @type {Setting[]} */
const SETTINGS = ["off", "low", "medium", "high"];
const ENDS = [["hours", "by the clock"], ["until_celsius", "at a temperature"], ["until", "with the cone"]];
const PLUGS = [["", "as before"], ["in", "in"], ["half", "half in"], ["out", "out"]];

/** @param {string} id @param {string} words */
export const heading = (id, words) => el("h2", { id, tabindex: "-1" }, words);

/** @param {string} field */
export const wrong = (field) => el("p", { class: "wrong", id: `w-${field}` });

/** @param {string} field @param {string} label @param {string} value @param {(value: string) => void} changed */
export function textField(field, label, value, changed) {
  const input = el("input", { id: `f-${field}`, "aria-describedby": `w-${field}`, maxlength: 60, autocomplete: "off", value, input: () => changed(input.value.trim()) });
  return el("div", { class: "field" }, el("label", { for: input.id }, label), input, wrong(field));
}

/** @param {string} field @param {string} label @param {number | null | undefined} value @param {(value: number | null) => void} changed */
export function numberField(field, label, value, changed) {
  const input = el("input", { id: `f-${field}`, "aria-describedby": `w-${field}`, type: "number", step: "any", inputmode: "decimal", value: value ?? "", input: () => changed(input.value === "" ? null : Number(input.value)) });
  return el("div", { class: "field" }, el("label", { for: input.id }, label), input, wrong(field));
}

/** @param {string} field @param {string} label @param {string[][]} options value and words @param {string} value @param {(value: string) => void} changed */
export function choices(field, label, options, value, changed) {
  const input = el("select", { id: `f-${field}`, "aria-describedby": `w-${field}`, change: () => changed(input.value) },
    ...options.map(([each = "", words = ""]) => el("option", { value: each, selected: each === value }, words)));
  return el("div", { class: "field" }, el("label", { for: input.id }, label), input, wrong(field));
}

/** A temperature in the reader's unit; inside it is degC.
 * @param {string} field @param {string} label @param {number | null | undefined} celsius @param {Unit} unit @param {(celsius: number | null) => void} changed */
export function heatField(field, label, celsius, unit, changed) {
  const shown = celsius === null || celsius === undefined ? null : Math.round(temperature(celsius, unit));
  return numberField(field, label, shown, (value) => changed(value === null ? null : unit === "degF" ? Math.round((value - 32) / 0.18) / 10 : value));
}

/** A climb, or a difference. @type {typeof heatField} */
export function climbField(field, label, celsius, unit, changed) {
  const shown = celsius === null || celsius === undefined ? null : Math.round(difference(celsius, unit));
  return numberField(field, label, shown, (value) => changed(value === null ? null : unit === "degF" ? Math.round(value / 0.18) / 10 : value));
}

/**
 * @param {StageTable} stage
 * @param {number} i
 * @param {{ rings: string[], unit: Unit, last: boolean, only: boolean, changed: (hot: boolean) => void, again: () => void,
 *   move: (by: number) => void, remove: () => void, another: () => void }} to
 */
export function stageFields(stage, i, to) {
  const place = `stage ${i + 1}`;
  const ends = stage.until ? "until" : stage.until_celsius !== null && stage.until_celsius !== undefined ? "until_celsius" : "hours";
  const parts = [
    textField(`${place}, name`, "Called", stage.name, (value) => { stage.name = value; to.changed(false); }),
    turns(stage, place, to),
    el("div", { class: "pair" },
      choices(`${place}, until`, "Ends", ENDS, ends, (value) => {
        stage.hours = value === "hours" ? 2 : null;
        stage.until_celsius = value === "until_celsius" ? 600 : null;
        stage.until = value === "until" ? "cone" : null;
        to.again();
      }),
      ...(ends === "hours" ? [numberField(`${place}, hours`, "Hours", stage.hours, (value) => { stage.hours = value; to.changed(true); })] : []),
      ...(ends === "until_celsius"
        ? [
          heatField(`${place}, until_celsius`, unitName(to.unit), stage.until_celsius, to.unit, (celsius) => { stage.until_celsius = celsius; to.changed(true); }),
          numberField(`${place}, soak_minutes`, "Then held, minutes", stage.soak_minutes || null, (value) => { stage.soak_minutes = value; to.changed(true); }),
        ]
        : []),
      choices(`${place}, plugs`, "Plugs and holes", PLUGS, stage.plugs ?? "", (value) => { stage.plugs = /** @type {StageTable["plugs"]} */ (value || null); to.changed(true); }),
    ),
    el("details", {}, el("summary", {}, "Ceiling and climb"),
      el("div", { class: "pair" },
        heatField(`${place}, ceiling_celsius`, `Nothing above, ${unitName(to.unit)}`, stage.ceiling_celsius, to.unit, (celsius) => { stage.ceiling_celsius = celsius; to.changed(false); }),
        climbField(`${place}, climb_limit`, `No faster than, ${unitName(to.unit)} an hour`, stage.climb_limit, to.unit, (climb) => { stage.climb_limit = climb; to.changed(false); }),
      )),
    el("div", { class: "deeds" },
      ...(i > 0 ? [el("button", { type: "button", class: "small", click: () => to.move(-1) }, "Earlier")] : []),
      ...(to.last ? [] : [el("button", { type: "button", class: "small", click: () => to.move(1) }, "Later")]),
      el("button", { type: "button", class: "small", click: to.another }, "A stage before it"),
      ...(to.only ? [] : [el("button", { type: "button", class: "small", click: to.remove }, "Leave it out")]),
    ),
  ];
  return el("fieldset", { class: "stage" }, el("legend", {}, `Stage ${i + 1}`), ...parts);
}

/** A row of four for each ring, top above bottom. @param {StageTable} stage @param {string} place @param {{ rings: string[], changed: (hot: boolean) => void }} to */
function turns(stage, place, to) {
  const rows = [...to.rings].reverse().map((ring) => {
    const four = SETTINGS.map((setting) => {
      /** @type {HTMLButtonElement} */
      const button = el("button", { type: "button", "aria-pressed": String((stage.switches[ring] ?? "off") === setting), click: () => {
        stage.switches[ring] = setting;
        for (const each of four) each.setAttribute("aria-pressed", String(each === button));
        to.changed(true);
      } }, setting);
      return button;
    });
    return el("div", { class: "row", role: "group", "aria-label": `${ring} ring` }, el("span", {}, ring), el("div", { class: "four" }, ...four));
  });
  return el("div", { class: "turns" }, ...rows, wrong(`${place}, switches`));
}
