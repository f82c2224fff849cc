// Says something to the daemon, and tells in a sentence what became of it.

/** @typedef {import("../../types/shapes").Done} Done */
/** @typedef {import("../../types/shapes").Problem} Problem */

const PATIENCE_MS = 8000;

/** Something could not be done; the message is for the person at the page. fields: those it is about. */
export class NotDone extends Error {
  /** @param {string} message @param {{ field: string, problem: string }[]} [fields] */
  constructor(message, fields = []) {
    super(message);
    this.fields = fields;
  }
}

/** @returns {string} */
export const who = () => localStorage.getItem("who") ?? "";

/** @param {string} name */
export function setWho(name) {
  localStorage.setItem("who", name.trim());
}

/**
 * @param {"GET" | "POST" | "PUT" | "DELETE"} method
 * @param {string} path
 * @param {object} [body] a Blob goes as it is, anything else as JSON
 * @returns {Promise<unknown>}
 */
export async function ask(method, path, body) {
  return (await reach(method, path, body)).json();
}

/**
 * The whole answer; NotDone where there is none, or it is a refusal.
 * @param {string} method @param {string} path @param {object} [body]
 * @param {{ headers?: Record<string, string>, patience?: number, silent?: string }} [manner] silent: what to do when nothing answers
 */
export async function reach(method, path, body, { headers = {}, patience = PATIENCE_MS, silent = "Look at the kiln, then try again." } = {}) {
  const json = body && !(body instanceof Blob);
  /** @type {Response} */
  let answer;
  try {
    answer = await fetch(path, {
      method,
      headers: json ? { "content-type": "application/json", ...headers } : headers,
      signal: AbortSignal.timeout(patience),
      ...(body ? { body: body instanceof Blob ? body : JSON.stringify(body) } : {}),
    });
  } catch {
    throw new NotDone(`spyhole did not answer, so this may not have been taken. ${silent}`);
  }
  if (answer.ok) return answer;
  const problem = /** @type {Partial<Problem>} */ (await answer.json().catch(() => ({})));
  throw new NotDone(problem.detail ?? `spyhole refused this (${answer.status}). Nothing was changed.`, problem.fields);
}

/** @param {string} kind @param {string} subject @param {string} value @param {number} [minutes] how long ago */
export async function enter(kind, subject, value, minutes = 0) {
  return told(await ask("POST", "/api/entries", { kind, subject, value, who: who(), minutes_ago: minutes }));
}

/** @param {number} sequence */
export async function undo(sequence) {
  return told(await ask("DELETE", `/api/entries/${sequence}?who=${encodeURIComponent(who())}`));
}

/** @param {string} episode */
export async function acknowledge(episode) {
  return told(await ask("POST", `/api/alarms/${encodeURIComponent(episode)}/acknowledgement`, { who: who() }));
}

/** @param {string} episode */
export async function reset(episode) {
  return told(await ask("POST", `/api/alarms/${encodeURIComponent(episode)}/reset`, { who: who() }));
}

/** @param {string} tag @param {string | null} ring @param {number} minutes @param {string} reason */
export async function shelve(tag, ring, minutes, reason) {
  return told(await ask("POST", "/api/shelvings", { tag, ring, minutes, reason, who: who() }));
}

/** @param {string} tag @param {string | null} ring */
export async function takeBack(tag, ring) {
  return told(await ask("DELETE", `/api/shelvings?${new URLSearchParams({ tag, ring: ring ?? "", who: who() })}`));
}

/** @param {string} ring @param {string} reason */
export async function takeOut(ring, reason) {
  return told(await ask("POST", "/api/out-of-service", { ring, reason, who: who() }));
}

/** @param {string} ring */
export async function putBack(ring) {
  return told(await ask("DELETE", `/api/out-of-service?${new URLSearchParams({ ring, who: who() })}`));
}

/** @param {string} name empty for nobody @param {string} note */
export async function takeWatch(name, note) {
  return told(await ask("POST", "/api/watch", { who: name, note }));
}

export async function armCutOut() {
  return told(await ask("POST", "/api/room/cut-out", { who: who() }));
}

/** @param {string} [name] */
export async function sayInReach(name = who()) {
  return told(await ask("POST", "/api/watch/in-reach", { who: name }));
}

/** @param {number} question @param {"yes" | "no" | "then"} said @param {number} minutes how long ago, with then */
export async function answerTurn(question, said, minutes) {
  return told(await ask("POST", `/api/turns/${question}/answer`, { said, who: who(), minutes_ago: minutes }));
}

/** @param {unknown} answer @returns {string} what to add to a success, mostly nothing */
function told(answer) {
  return /** @type {Done} */ (answer).stored ? "" : "Taken, but not on the disk yet: a power cut now would lose it.";
}

/**
 * Run an act from a button: it waits, and the sentence beside it says what became of it.
 * @param {HTMLButtonElement | null} button
 * @param {HTMLElement} line where to say so
 * @param {() => Promise<string | void>} act
 * @returns {Promise<boolean>} whether it was done
 */
export async function run(button, line, act) {
  if (button?.getAttribute("aria-busy") === "true") return false;
  button?.setAttribute("aria-busy", "true");
  try {
    line.textContent = (await act()) ?? "";
    return true;
  } catch (error) {
    line.textContent = error instanceof NotDone ? error.message : "The page stumbled over this. Load it again.";
    return false;
  } finally {
    button?.removeAttribute("aria-busy");
  }
}
