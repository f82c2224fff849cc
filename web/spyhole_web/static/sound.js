// Knocks, three at a time, when an alarm waits or the news stops. A browser allows it after the first touch only.

import { at, el, say } from "./dom.js";

const AGAIN_MS = 20_000;
const SOON_MS = 2000;
/** @type {AudioContext | null} */
let room = null;
/** @type {Set<string>} */
let reasons = new Set();
let last = 0;
const words = el("span", {});
const button = el("button", { type: "button", class: "small", click: knock }, "Hear it");

/** Three knocks on wood, a low one and two higher. */
function knock() {
  if (!room) return;
  [0, 0.24, 0.48].forEach((delay, i) => {
    const start = /** @type {AudioContext} */ (room).currentTime + delay;
    for (const [pitch, loud] of /** @type {const} */ ([[i === 0 ? 196 : 262, 0.6], [i === 0 ? 523 : 698, 0.25]])) {
      const wood = /** @type {AudioContext} */ (room).createOscillator();
      const fade = /** @type {AudioContext} */ (room).createGain();
      wood.type = "triangle";
      wood.frequency.value = pitch;
      fade.gain.setValueAtTime(0.0001, start);
      fade.gain.exponentialRampToValueAtTime(loud, start + 0.006);
      fade.gain.exponentialRampToValueAtTime(0.0001, start + 0.2);
      wood.connect(fade).connect(/** @type {AudioContext} */ (room).destination);
      wood.start(start);
      wood.stop(start + 0.22);
    }
  });
  document.body.dataset["knocked"] = String(Number(document.body.dataset["knocked"] ?? 0) + 1);
}

function tell() {
  say(words, room ? "This page knocks at an alarm, and when the news stops." : "This page is silent until you touch it once.");
  button.hidden = room === null;
}

export function openSound() {
  at("sound").append(words, " ", button);
  const touched = () => {
    room ??= new AudioContext();
    void room.resume();
    tell();
    sound();
  };
  for (const gesture of ["pointerdown", "keydown"]) document.addEventListener(gesture, touched, { once: true });
  window.setInterval(sound, 1000);
  tell();
  // Touched already, and nothing asks for it to be soon: opening the sound holds a slow phone up.
  if (navigator.userActivation.hasBeenActive) window.setTimeout(touched, SOON_MS);
}

/** @param {string} reason @param {boolean} on */
export function wantSound(reason, on) {
  const had = reasons.has(reason);
  if (on) reasons.add(reason);
  else reasons.delete(reason);
  if (on && !had) last = 0;
  sound();
}

function sound() {
  if (!room || reasons.size === 0 || Date.now() - last < AGAIN_MS) return;
  last = Date.now();
  knock();
}
