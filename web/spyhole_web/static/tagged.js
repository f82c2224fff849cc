// Asks with a version, so that two who edit at once do not write over each other.

import { reach } from "./act.js";

const MANNER = { patience: 20_000, silent: "Look again in a moment." };

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
    const answer = await reach("GET", this.path, undefined, MANNER);
    this.#tag = answer.headers.get("etag");
    return answer.json();
  }

  /** Change it, if it is still as it was read. @param {"POST" | "PUT" | "DELETE"} method @param {string} below @param {object} [body] */
  async change(method, below, body) {
    /** @type {Record<string, string>} */
    const headers = this.#tag ? { "if-match": this.#tag } : {};
    await reach(method, this.path + below, body, { ...MANNER, headers });
  }
}
