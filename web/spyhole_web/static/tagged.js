// Asks with a version, so that two who edit at once do not write over each other.

import { NotDone } from "./act.js";

/** @typedef {import("../../types/shapes").Problem} Problem */

const PATIENCE_MS = 20_000;

/** @template T */
export class Tagged {
  /** @type {string | null} */
  #tag = null;

  /** @param {string} path */
  constructor(path) {
    this.path = path;
  }

  /** What is there now. @returns {Promise<T>} */
  async read() {
    const answer = await reach(this.path, { method: "GET" });
    this.#tag = answer.headers.get("etag");
    return answer.json();
  }

  /** Change it, if it is still as it was read. @param {"POST" | "PUT" | "DELETE"} method @param {string} below @param {object} [body] */
  async change(method, below, body) {
    await reach(this.path + below, {
      method,
      headers: { "content-type": "application/json", ...(this.#tag ? { "if-match": this.#tag } : {}) },
      ...(body ? { body: JSON.stringify(body) } : {}),
    });
  }
}

/** @param {string} path @param {RequestInit} request */
async function reach(path, request) {
  /** @type {Response} */
  let answer;
  try {
    answer = await fetch(path, { ...request, signal: AbortSignal.timeout(PATIENCE_MS) });
  } catch {
    throw new NotDone("spyhole did not answer, so this may not have been taken. Look again in a moment.");
  }
  if (answer.ok) return answer;
  const problem = /** @type {Partial<Problem>} */ (await answer.json().catch(() => ({})));
  throw new NotDone(problem.detail ?? `spyhole refused this (${answer.status}). Nothing was changed.`);
}
