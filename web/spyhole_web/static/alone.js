// What cannot be known with one probe, said beside what it shows.

import { at, el, say } from "./dom.js";

/** @typedef {import("../../types/shapes").Snapshot} Snapshot */

const words = el("p", { class: "spread" });

/** @param {Snapshot} now */
export function showAlone(now) {
  if (!words.isConnected) at("stack").append(words);
  const [seen, ...others] = now.rings.filter((ring) => ring.has_probe);
  words.hidden = !seen || others.length > 0;
  if (!seen || words.hidden) return;
  say(words, now.rings.length > 1
    ? `One probe, at the ${seen.name} ring. It cannot tell how even the rings are, nor one ring that fails from the whole kiln, nor that it drifts itself: a probe that reads low hides an overfire. Go by your cones.`
    : "One probe. It cannot tell that it drifts itself: a probe that reads low hides an overfire. Go by your cones.");
}
