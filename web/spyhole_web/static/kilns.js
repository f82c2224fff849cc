// The way to the pages of other kilns that this machine watches. Most kilns are alone, and then nothing is said.

import { ask } from "./act.js";
import { at, el } from "./dom.js";

const AGAIN_MS = 60_000;
let asked = 0;

export function showKilns() {
  if (Date.now() - asked < AGAIN_MS) return;
  asked = Date.now();
  void find().catch(() => {}); // the way there is no news, and this kiln's page says by itself when it is cut off
}

async function find() {
  const others = /** @type {{ kiln: string, port: number, address: string }[]} */ (await ask("GET", "/api/kilns"));
  at("kilns").hidden = others.length === 0;
  at("kilns").replaceChildren("Also watched here: ", ...others.flatMap(({ kiln, port, address }, i) => {
    const link = el("a", { class: "small", href: address || `${location.protocol}//${location.hostname}:${port}/` }, kiln);
    return i ? [", ", link] : [link];
  }));
}
