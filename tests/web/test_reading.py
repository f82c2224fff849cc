"""The handbook in a real browser, every page: on a phone and on a desk, in the light and in the dark."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route

from spyhole_web.handbook.pages import CONTENTS, document, drawing

STATIC = Path(__file__).parents[2] / "web/spyhole_web/static"
HERE = "http://handbook.example"
ADDRESSES = (
    "<table><tr><th>address</th><th>what it does</th></tr><tr><td>GET /api/now</td><td>All of it</td></tr></table>"
)
TABLES = """() => [...document.querySelectorAll("main table")].map(table => ({
    beside: [...table.querySelectorAll("tbody tr")].every(row => new Set([...row.cells].filter(cell => cell.textContent)
        .map(cell => Math.round(cell.getBoundingClientRect().top))).size === 1),
    within: table.parentElement.scrollWidth <= table.parentElement.clientWidth + 8,
    long: [...table.querySelectorAll("td")].some(cell => cell.textContent.length > 24),
}))"""


def served(route: Route) -> None:
    """What the page's own web service would answer, out of the package; nothing else is there."""
    path = route.request.url.removeprefix(HERE)
    name = path.rpartition("/")[2]
    if path.startswith("/static/"):
        route.fulfill(
            body=(STATIC / name).read_bytes(), content_type=f"{'text/css' if '.css' in name else 'image/svg+xml'}"
        )
    elif name.endswith(".svg"):
        route.fulfill(body=drawing(name), content_type="image/svg+xml")
    else:
        words = document(None if name == "handbook" else name, addresses=ADDRESSES)
        route.fulfill(body=words, content_type="text/html; charset=utf-8")


@pytest.mark.parametrize(("width", "scheme"), [(320, "light"), (390, "dark"), (1280, "light"), (1280, "dark")])
def test_every_page_is_read_without_scrolling_sideways(
    browser: Browser, axe: Callable[[Page], list[object]], width: int, scheme: Any
) -> None:
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    try:
        page = context.new_page()
        page.route("**/*", served)
        for name in ("handbook", *(f"handbook/{each}" for each in CONTENTS)):
            page.goto(f"{HERE}/{name}")
            assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), name
            tables = page.evaluate(TABLES)
            assert all(table["within"] for table in tables), name
            if width > 1000:
                assert all(table["beside"] for table in tables), f"{name}: at a desk a table is a table"
            else:
                assert not any(table["beside"] for table in tables if table["long"]), f"{name}: read downwards"
            assert axe(page) == [], name
    finally:
        context.close()
