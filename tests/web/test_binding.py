"""Scripts bound into one: what runs is what the modules would have run, each once."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Route

from spyhole_web.binding import bind
from spyhole_web.static import BOUND

STATIC = Path(__file__).parents[2] / "web" / "spyhole_web" / "static"
SOURCES = {
    "first": """\
globalThis.said ??= [];
said.push("first");
export const count = { n: 0 };
export function more() { return ++count.n; }
""",
    "second": """\
import { count, more as again } from "./first.js";
said.push("second");
again();
export class Kept { n = count.n; }
export async function late() { return again(); }
""",
    "page": """\
import { count } from "./first.js";
import { Kept } from "./second.js";
said.push(`page ${new Kept().n} ${count.n}`);
import("./later.js").then(({ late, both }) => both(late));
""",
    "later": """\
import { more } from "./first.js";
export { late } from "./second.js";
said.push("later");
export async function both(late) {
more();
await late();
said.push(`both ${more()}`);
document.title = said.join("; ");
}
""",
}


def test_each_module_runs_once_in_its_order_and_is_shared(browser: Browser) -> None:
    files = {f"/{name}.js": text for name, text in bind(SOURCES, {"page": (), "later": ("page",)}).items()}
    files["/"] = '<!doctype html><script type="module" src="/page.js"></script>'

    def answer(route: Route) -> None:
        path = route.request.url.removeprefix("http://bound.test")
        kind = "text/javascript" if path.endswith(".js") else "text/html"
        route.fulfill(body=files[path], content_type=kind) if path in files else route.abort()

    page = browser.new_page()
    page.route("**/*", answer)
    page.goto("http://bound.test/")
    page.wait_for_function("() => document.title !== ''")
    assert page.title() == "first; second; page 1 1; later; both 4"
    page.close()


@pytest.mark.parametrize(
    "line", ['import dom from "./dom.js";', "export default 3;", "export let n = 1;", 'import "./dom.js";']
)
def test_a_form_nobody_has_met_is_refused_by_its_line(line: str) -> None:
    with pytest.raises(ValueError, match=re.escape(f"page.js cannot be bound: {line}")):
        bind({"page": f"{line}\n"}, {"page": ()})


def test_what_travels_bound_is_asked_for_by_now_alone() -> None:
    """Anybody else would get the whole of Now with it."""
    for script in STATIC.glob("*.js"):
        if script.stem not in BOUND:
            asked = set(re.findall(r'"\./(\w+)\.js"', script.read_text()))
            assert not asked & BOUND.keys(), script.name
    for document in STATIC.glob("*.html"):
        asked = set(re.findall(r"/static/(\w+)\.js", document.read_text()))
        assert document.name == "page.html" or not asked & BOUND.keys(), document.name
