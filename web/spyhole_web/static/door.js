// The way in, and what lets others in. The code stands behind the hash of the address and is taken out of it at once.

import { ask, run, setWho } from "./act.js";
import { at, el, say, svg } from "./dom.js";

/** @typedef {{ name: string, role: "keeper" | "guest", set_up: boolean, open: boolean }} Me */
/** @typedef {{ id: string, kind: string, role: string, person: string, label: string, seen_utc_ms: number | null, ends_utc_ms: number | null }} Key */
/** @typedef {{ key: Key, words: string, address: string, squares: string[] }} Made */

const CLASS_DAYS = 7;
const line = el("p", { class: "line", role: "alert" });
const code = new URLSearchParams(location.hash.slice(1)).get("code") ?? "";
history.replaceState(null, "", location.pathname);

/** What this device is called in the list. */
function device() {
  const agent = navigator.userAgent;
  const kind = /iPhone|Android.*Mobile/.test(agent) ? "phone" : /iPad|Android/.test(agent) ? "tablet" : "computer";
  return `${kind}, ${new Date().toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" })}`;
}

/** @param {string} path @param {object} body @returns {Promise<Me>} */
async function come(path, body) {
  return /** @type {Me} */ (await ask("POST", path, { ...body, device: device() }));
}

/** @param {Me} me */
function goIn(me) {
  if (me.name) setWho(me.name);
  location.replace("/");
}

function askIn() {
  say(at("words"), code ? "This code lets this device in." : "Scan the square code that spyhole printed, or that a keeper shows you.");
  const typed = el("input", { name: "code", value: code, required: true, autocomplete: "off", maxlength: "20", class: "code", spellcheck: "false" });
  const name = el("input", { name: "name", autocomplete: "username", maxlength: "40" });
  const button = el("button", { class: "thumb" }, "Come in");
  at("in").replaceChildren(
    el("form", { submit: (event) => {
      event.preventDefault();
      void run(button, line, async () => goIn(await come("/api/door/code", { code: typed.value, name: name.value.trim() })));
    } },
    ...(code ? [] : [el("label", {}, "The code", typed)]),
    el("label", {}, "Your name, as others should read it; guests leave it empty", name), button),
    line, byPassword(),
  );
  (code ? name : typed).focus();
}

function byPassword() {
  const name = el("input", { name: "name", required: true, autocomplete: "username", maxlength: "40" });
  const password = el("input", { type: "password", required: true, autocomplete: "current-password", maxlength: "128" });
  const button = el("button", {}, "Come in");
  const said = el("p", { class: "line", role: "alert" });
  return el("details", {}, el("summary", {}, "I have a password"), el(
    "form", { submit: (event) => {
      event.preventDefault();
      void run(button, said, async () => goIn(await come("/api/door/password", { name: name.value.trim(), password: password.value })));
    } }, el("label", {}, "Name", name), el("label", {}, "Password", password), button,
  ), said);
}

/** @param {Me} me */
function showInside(me) {
  document.title = "Keys";
  say(at("title"), "Keys to this page");
  say(at("words"), me.open
    ? "This is a rehearsal on its own machine, so nobody needs a key until somebody has come in by one."
    : `You are ${me.name || "somebody without a name"}, a ${me.role}.`);
  at("in").replaceChildren(el("p", {}, el("a", { href: "/" }, "To the kiln")), line);
  if (me.open) return void askAlso();
  showMine(me);
  if (me.role === "keeper") void showKeys();
}

/** A rehearsal that is open can be come into all the same. */
function askAlso() {
  if (code) askIn();
}

/** @param {Me} me */
function showMine(me) {
  const out = el("button", { type: "button" }, "Sign this device out");
  out.addEventListener("click", () => void run(out, line, async () => {
    await ask("DELETE", "/api/me");
    location.reload();
  }));
  const parts = [out];
  at("mine").hidden = false;
  at("mine").replaceChildren(...parts);
  if (!me.name) return;
  const password = el("input", { type: "password", required: true, minlength: "12", maxlength: "128", autocomplete: "new-password" });
  const button = el("button", {}, "Keep this password");
  const said = el("p", { class: "line", role: "status" });
  at("mine").append(el("details", {}, el("summary", {}, "A password, to come in by name"), el("form", { submit: (event) => {
    event.preventDefault();
    void run(button, said, async () => {
      await ask("PUT", "/api/me/password", { password: password.value });
      password.value = "";
      return "Kept. It works beside your devices.";
    });
  } }, el("label", {}, "Twelve characters or more; four words of your own will do", password), button), said));
}

async function showKeys() {
  const keys = /** @type {Key[]} */ (await ask("GET", "/api/keys"));
  const said = el("p", { class: "line", role: "status" });
  /** @param {string} words @param {{ kind: string, label: string, days?: number, role?: string }} body */
  const maker = (words, body) => {
    /** @type {HTMLButtonElement} */
    const button = el("button", { type: "button", click: () => void run(button, said, async () => {
      showMade(/** @type {Made} */ (await ask("POST", "/api/keys", body)), words);
      if (body.kind === "class") await showSheet();
      await showKeys();
    }) }, words);
    return button;
  };
  at("keys").hidden = false;
  at("keys").replaceChildren(
    el("h2", { id: "keys-title" }, "Let somebody in"),
    el("div", { class: "settings" },
      maker("A keeper's device", { kind: "code", label: "another device" }),
      maker("A class, for a week", { kind: "class", label: "class", days: CLASS_DAYS }),
      maker("A program that looks", { kind: "token", label: "program", role: "guest" }),
      maker("A program that may act", { kind: "token", label: "program", role: "keeper" })), said,
    el("h2", { class: "line" }, "What lets somebody in now"),
    el("ul", {}, ...keys.map((key) => el("li", {}, el("span", {}, words(key)), takeBack(key, said)))),
  );
}

/** @param {Key} key */
function words(key) {
  const kinds = /** @type {Record<string, string>} */ ({ code: "a code, for once", class: "a class code", device: "a device", token: "a token", password: "a password" });
  const day = (/** @type {number} */ ms) => new Date(ms).toLocaleDateString("en-GB", { day: "numeric", month: "short" });
  return [kinds[key.kind] ?? key.kind, key.person, key.role, key.label,
    key.seen_utc_ms ? `used ${day(key.seen_utc_ms)}` : "", key.ends_utc_ms ? `until ${day(key.ends_utc_ms)}` : ""].filter(Boolean).join(", ");
}

/** @param {Key} key @param {HTMLElement} said */
function takeBack(key, said) {
  /** @type {HTMLButtonElement} */
  const button = el("button", { type: "button", class: "small", "aria-label": `Take back: ${words(key)}`, click: () => void run(button, said, async () => {
    await ask("DELETE", `/api/keys/${key.id}`);
    await showKeys();
  }) }, "Take back");
  return button;
}

/** @param {Made} made @param {string} title */
function showMade(made, title) {
  at("made").hidden = false;
  at("made").replaceChildren(
    el("h2", {}, title),
    el("p", {}, made.squares.length ? "Shown this once. Scan it, or open the door and type:" : "Shown this once. It goes into the header Authorization, after Bearer:"),
    el("p", { class: "shown" }, made.words),
    ...(made.squares.length ? [
      el("div", { class: "square" }, square(made.squares, made.address)),
      el("p", { class: "link" }, "Or by this link: ", el("a", { href: made.address }, made.address)),
    ] : []),
  );
}

/** What stands above and below a class's square on paper, where nobody knows what it is for. */
async function showSheet() {
  const { kiln } = /** @type {{ kiln: string }} */ (await ask("GET", "/api/now"));
  const end = new Date(Date.now() + CLASS_DAYS * 86_400_000).toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long" });
  at("made").prepend(el("p", { class: "paper head" }, `Look in on ${kiln}`));
  at("made").append(
    el("p", { class: "paper" }, `Scan the square on the studio's network, or open the address and type the code. It shows and changes nothing, and works until ${end}.`),
    el("p", { class: "paper" }, "Do not touch the kiln, its switches, plugs or lid: it may be hot. Ask whoever holds it."),
    el("button", { type: "button", click: () => window.print() }, "Print it"),
  );
}

/** @param {string[]} rows @param {string} label */
function square(rows, label) {
  const dots = rows.flatMap((row, y) => [...row].map((dot, x) => (dot === "1" ? `M${x} ${y}h1v1h-1z` : ""))).join("");
  return svg("svg", { viewBox: `0 0 ${rows.length} ${rows.length}`, role: "img", "aria-label": `Square code of ${label}`, "shape-rendering": "crispEdges" }, svg("path", { d: dots }));
}

const answer = await fetch("/api/me").catch(() => null);
if (answer?.ok && !code) showInside(/** @type {Me} */ (await answer.json()));
else askIn();
