"""What the page costs a phone: Chromium slowed six times, a firing of 48 hours. Prints milliseconds.

    python tests/bench/page.py http://localhost:8470/

There is something to measure only while a daemon runs there, a rehearsal for instance. The curve is made up here.
"""

import json
import shutil
import statistics
import sys
from functools import partial

from playwright.sync_api import Route, sync_playwright

SLOWER = 6
RUNS = 7
MINUTES = 48 * 60
POINTS = 300  # as the page asks for first on a phone

WATCH = """
window.seen = {};
let plot;
Object.defineProperty(window, 'uPlot', {
  get: () => plot,
  set: (real) => {
    plot = new Proxy(real, {construct(made, given) {
      seen.begun ??= performance.now();
      const drawing = new made(...given);
      drawing.hooks.draw.push(() => { seen.done ??= performance.now(); });
      return drawing;
    }});
  },
});
new MutationObserver(() => {
  const now = performance.now();
  if (!seen.usable && document.querySelector('.band .heat')?.textContent) seen.usable = now;
  if (!seen.painted && document.querySelector('#curve canvas')) {
    seen.painted = true;
    requestAnimationFrame(() => setTimeout(() => { seen.painted = performance.now(); }));
  }
}).observe(document, {subtree: true, childList: true, characterData: true});
"""


def two_days(now: dict[str, object]) -> str:
    """A curve of three rings, as long as the longest firing, for the firing under way."""
    firing, until = now["firing"], int(str(now["now_utc_ms"]))
    assert isinstance(firing, dict), "there is a firing to draw only once the record was read"
    step = MINUTES * 60_000 // POINTS
    utc_ms = [until - (POINTS - i) * step for i in range(POINTS)]
    rings = {name: [20.0 + 1.7 * i + n for i in range(POINTS)] for n, name in enumerate(("bottom", "middle", "top"))}
    low = [1.7 * i for i in range(0, POINTS, 5)]
    band = {"utc_ms": utc_ms[::5], "low": low, "high": [60 + celsius for celsius in low]}
    shown = {"firing": firing["id"], "utc_ms": utc_ms, "rings": rings, "ceiling": [1100.0] * POINTS, "marks": []}
    return json.dumps(shown | {"expected": band})


def fulfil(curve: str, route: Route) -> None:
    """Answer with this curve."""
    route.fulfill(body=curve, content_type="application/json")


def main(url: str) -> None:
    """Median and longest of RUNS loads."""
    usable, drawn, painted = [], [], []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), chromium_sandbox=False)
        for _ in range(RUNS):
            context = browser.new_context(viewport={"width": 390, "height": 844})
            page = context.new_page()
            curve = two_days(context.request.get(url + "api/now").json())

            page.route("**/api/curve*", partial(fulfil, curve))
            page.add_init_script(WATCH)
            context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
            page.goto(url)
            page.wait_for_function("() => seen.usable && seen.painted > 1")
            usable.append(page.evaluate("seen.usable"))
            drawn.append(page.evaluate("seen.done - seen.begun"))
            painted.append(page.evaluate("seen.painted - seen.begun"))
            context.close()
        browser.close()
    for what, found in (("usable after", usable), ("48 h drawn in", drawn), ("and painted in", painted)):
        print(f"{what}: median {statistics.median(found):.0f} ms, longest {max(found):.0f} ms, {SLOWER}x slower")


if __name__ == "__main__":
    main(sys.argv[1])
