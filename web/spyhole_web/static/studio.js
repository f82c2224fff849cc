// The studio: people, the watch itself, the kiln as described, a reader's own unit and zone, copies of the record.

import { ask, putBack, run, takeOut } from "./act.js";
import { at, el, say } from "./dom.js";
import { choose, known, owned, ownUnit, ownZone } from "./own.js";
import { showPeople } from "./studio_people.js";
import { backupWords, SAY } from "./studio_words.js";
import { when } from "./time.js";
import { degrees, difference, unitName, whole } from "./units.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */
/** @typedef {import("../../types/studio").StudioView} StudioView */
/** @typedef {import("../../types/studio").BackupsView} BackupsView */

const LOOK_AGAIN_MS = 2000;
const line = el("p", { class: "line", role: "status" });

async function open() {
  const [plain, studio] = await Promise.all([
    /** @type {Promise<Snapshot>} */ (ask("GET", "/api/now")), /** @type {Promise<StudioView>} */ (ask("GET", "/api/studio")),
  ]);
  const now = owned(plain);
  const banner = at("emulated");
  banner.hidden = !now.emulated;
  say(banner, now.emulated ? "Rehearsal: an emulated kiln." : "");
  say(at("studio-title"), `Studio: ${now.kiln}`);
  document.title = `Studio, ${now.kiln}`;
  showKiln(studio, now);
  showWatch(studio, now);
  showOwn(studio);
  await Promise.all([showPeople(now), showBackups(now.zone), showKeys()]);
}

/** @param {StudioView} studio @param {Snapshot} now */
function showWatch(studio, now) {
  const holds = studio.watch.filter((part) => part.since_utc_ms !== null);
  const well = studio.watch.filter((part) => part.since_utc_ms === null);
  const standing = holds.map((part) => el("li", { class: "holds" }, `${part.words} Since ${when(part.since_utc_ms ?? 0, now.zone, now.now_utc_ms)}.`));
  const wired = now.room ? [el("dt", {}, "In the room"), el("dd", {}, roomWords(now.room))] : [];
  at("watch").replaceChildren(
    el("h2", { id: "watch-title" }, "The watch itself"),
    el("ul", { class: "parts" }, ...(standing.length ? standing : [el("li", {}, SAY.allWell)])),
    el("dl", {}, el("dt", {}, "A reading"), el("dd", {}, `each ${studio.tick_seconds} s`), ...wired),
    el("details", {}, el("summary", {}, SAY.parts), el("ul", { class: "parts" }, ...well.map((part) => el("li", {}, `${part.code}: ${part.words}`)))),
  );
}

/** @param {import("../../types/shapes").RoomView} room */
function roomWords(room) {
  const parts = [];
  if (room.sounder) parts.push(`sounder ${room.sounder}`);
  if (room.lamp) parts.push(`lamp ${room.lamp}`);
  parts.push(room.button ? "a button at the kiln" : "no button");
  if (room.cut_out) parts.push(`cut-out heartbeat ${room.cut_out.running ? "runs" : "stands still"}`);
  return parts.join("; ");
}

/** @param {StudioView} studio @param {Snapshot} now */
function showKiln(studio, now) {
  const rings = [...studio.rings].reverse().map((ring) => {
    const out = now.out_of_service.find((each) => each.ring === ring.name);
    const probe = ring.probe
      ? `probe type ${ring.probe.type}, class ${ring.probe.tolerance_class}${ring.probe.offset_celsius ? `, offset ${whole(difference(ring.probe.offset_celsius, now.unit))} ${unitName(now.unit)}` : ""}`
      : "no probe";
    const item = el("li", {}, el("span", { class: "name" }, ring.name), el("span", {}, `${whole(ring.watts)} W at ${whole(studio.mains_volts)} V; ${probe}`));
    if (ring.probe) item.append(service(ring.name, out ? `${out.reason}${out.who ? `, ${out.who}` : ""}` : null));
    return item;
  });
  at("described").replaceChildren(
    el("h2", { id: "described-title" }, "The kiln"), el("p", { class: "note" }, SAY.kiln),
    el("dl", {},
      el("dt", {}, "Hottest it may be"), el("dd", {}, `${degrees(studio.maximum_celsius, now.unit)} ${unitName(now.unit)}`),
      el("dt", {}, "Cone shut-off"), el("dd", {}, studio.cone_shutoff ? "there is one" : "none"),
      el("dt", {}, "Backup timer"), el("dd", {}, studio.timer_stops_in_power_cut ? "stands still in a power cut" : "goes on in a power cut")),
    el("ul", { class: "rings" }, ...rings), line, el("p", { class: "note" }, SAY.wires),
  );
}

/** @param {string} ring @param {string | null} out why it is out of service */
function service(ring, out) {
  if (out !== null) {
    /** @type {HTMLButtonElement} */
    const back = el("button", { type: "button", click: async () => { if (await run(back, line, () => putBack(ring))) await open(); } }, "Put it back in service");
    return el("span", { class: "asks" }, el("span", {}, `The probe is out of service: ${out}`), back);
  }
  const why = el("input", { id: `why-${ring}`, minlength: "3", maxlength: "200", required: true, autocomplete: "off" });
  const button = el("button", {}, "Take it out of service");
  return el("details", { class: "asks" }, el("summary", {}, `Take the ${ring} probe out of service`), el(
    "form", { class: "fields", submit: async (event) => {
      event.preventDefault();
      if (await run(button, line, () => takeOut(ring, why.value.trim()))) await open();
    } }, el("label", { for: why.id }, "Why", why), button,
  ));
}

/** @param {StudioView} studio */
function showOwn(studio) {
  const said = el("p", { class: "line", role: "status" });
  const unit = el("select", { id: "unit", change: () => { choose("unit", unit.value); void open(); } },
    ...[["", `as the studio's (${unitName(studio.unit)})`], ["degC", "°C"], ["degF", "°F"]].map(([value = "", words = ""]) =>
      el("option", { value, selected: value === (localStorage.getItem("unit") ?? "") }, words)));
  const zone = el("input", { id: "zone", autocomplete: "off", value: localStorage.getItem("zone") ?? "", placeholder: studio.zone });
  at("own").replaceChildren(
    el("h2", { id: "own-title" }, "For you"), el("p", { class: "note" }, SAY.own),
    el("form", { class: "fields", submit: (event) => {
      event.preventDefault();
      const wanted = zone.value.trim();
      if (wanted && !known(wanted)) return say(said, SAY.badZone);
      choose("zone", wanted);
      void open();
    } },
    el("label", { for: "unit" }, "Temperatures", unit),
    el("label", { for: "zone" }, `Time zone; empty for the studio's, ${studio.zone}`, zone), el("button", {}, "Use this zone")), said,
    el("p", { class: "note" }, `Now ${unitName(ownUnit(studio.unit))}, ${ownZone(studio.zone)}.`),
  );
}

/** @param {string} zone */
async function showBackups(zone) {
  /** @type {BackupsView} */
  let copies;
  try {
    copies = /** @type {BackupsView} */ (await ask("GET", "/api/backups"));
  } catch {
    return; // a database server makes its own
  }
  const room = at("backups");
  const said = el("p", { class: "line", role: "status" });
  /** @type {HTMLButtonElement} */
  const button = el("button", { type: "button", disabled: copies.making, click: async () => {
    if (await run(button, said, async () => void (await ask("POST", "/api/backups")))) await showBackups(zone);
  } }, "Make a copy now");
  room.hidden = false;
  room.replaceChildren(
    el("h2", { id: "backups-title" }, "Copies of the record"),
    el("p", {}, backupWords(copies, zone, Date.now())), el("p", { class: "asks" }, button), said, el("p", { class: "note" }, SAY.backup),
  );
  if (copies.making) window.setTimeout(() => void showBackups(zone), LOOK_AGAIN_MS);
}

/** Keys to this page are another room's business; the way there, where it is. */
async function showKeys() {
  const answer = await fetch("/api/me").catch(() => null);
  if (!answer?.ok) return;
  const me = /** @type {{ name?: string, role?: string }} */ (await answer.json());
  at("keys").hidden = false;
  at("keys").replaceChildren(
    el("h2", { id: "keys-title" }, "Keys to this page"),
    el("p", {}, me.name ? `You are ${me.name}, ${me.role}.` : "Nobody is signed in here."),
    el("p", { class: "asks" }, el("a", { class: "report", href: "/door" }, "Devices, tokens, and signing out")),
  );
}

void run(null, line, open);
