// Asks for plans and what they should do.

import { reach } from "./act.js";

const PATIENCE_MS = 15_000;

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
  const headers = version === undefined ? {} : { "if-match": `"${version}"` };
  const silent = "Look whether it is there, then try again.";
  return (await reach(method, path, body, { headers, patience: PATIENCE_MS, silent })).json();
}

/** The same field, as the core and as the shapes name it: `stage 2, hours`. @param {string} field */
export function fieldName(field) {
  const within = field.replace(/^plan\.(?!toml)/, "").replace(/^plan\.toml, /, "");
  const limit = /^cooling\.limits\.(\d+)\.?(\w*)/.exec(within);
  if (limit) return `cooling, limits ${Number(limit[1]) + 1}${limit[2] ? `, ${limit[2]}` : ""}`;
  const staged = /^stage\.(\d+)\.?(\w*)/.exec(within);
  if (!staged) return within.replaceAll(".", ", ");
  return `stage ${Number(staged[1]) + 1}${staged[2] ? `, ${staged[2]}` : ""}`;
}
