// Asks for plans and what they should do. A refusal knows which field it is about.

import { NotDone } from "./act.js";

/** @typedef {import("../../types/plans").Refused} RefusedShape */

const PATIENCE_MS = 15_000;

/** Refused, with the fields it is about; the message is for the person at the page. */
export class Refused extends NotDone {
  /** @param {string} message @param {{ field: string, problem: string }[]} fields */
  constructor(message, fields) {
    super(message);
    this.fields = fields;
  }
}

/**
 * @template T
 * @param {"GET" | "POST" | "PUT" | "DELETE"} method
 * @param {string} path
 * @param {object} [body]
 * @param {number} [version] of what is changed
 * @returns {Promise<T>}
 */
export async function wish(method, path, body, version) {
  /** @type {Record<string, string>} */
  const headers = {};
  if (body) headers["content-type"] = "application/json";
  if (version !== undefined) headers["if-match"] = `"${version}"`;
  /** @type {Response} */
  let answer;
  try {
    answer = await fetch(path, {
      method, headers, signal: AbortSignal.timeout(PATIENCE_MS), ...(body ? { body: JSON.stringify(body) } : {}),
    });
  } catch {
    throw new Refused("spyhole did not answer, so this may not have been taken. Look whether it is there, then try again.", []);
  }
  if (answer.ok) return answer.json();
  const problem = /** @type {Partial<RefusedShape>} */ (await answer.json().catch(() => ({})));
  throw new Refused(problem.detail ?? `spyhole refused this (${answer.status}). Nothing was changed.`, problem.fields ?? []);
}

/** The same field, as the core and as the shapes name it: `stage 2, hours`. @param {string} field */
export function fieldName(field) {
  const within = field.replace(/^plan\.(?!toml)/, "").replace(/^plan\.toml, /, "");
  const staged = /^stage\.(\d+)\.?(\w*)/.exec(within);
  if (!staged) return within.replaceAll(".", ", ");
  return `stage ${Number(staged[1]) + 1}${staged[2] ? `, ${staged[2]}` : ""}`;
}
