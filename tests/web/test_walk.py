"""One evening at the kiln from end to end, and the morning after, in a real browser: at each station all that is there.

At three sizes, light and dark, on the same page, so that it stays cheap: nothing to scroll sideways, and nothing that
axe-core finds, contrast of at least 4.5 to 1 among it. Nothing moves for who asked for stillness; the keyboard comes to
everything that a finger can touch. PICTURES=FOLDER keeps a picture of each.
"""

import os
import re
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import pypdfium2
import pytest
from playwright.sync_api import Page, expect

AXE = Path(__file__).parents[2] / "web" / "node_modules" / "axe-core" / "axe.min.js"
SCREENS = ((390, 844), (768, 1024), (1280, 800))
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
FOUND = """async tags => (await axe.run(document, {runOnly: tags, resultTypes: ['violations']})).violations
    .map(each => [each.id, each.nodes.map(node => node.html.slice(0, 120))])"""

MOVES = """() => [...document.querySelectorAll('*')].map(each => getComputedStyle(each))
    .filter(style => parseFloat(style.transitionDuration) > 0 || style.animationName !== 'none').length"""
NUMBERED = """() => { const all = 'a[href], button, input, select, textarea, summary';
    const touched = [...document.querySelectorAll(all)]
    .filter(each => each.checkVisibility({visibilityProperty: true}) && !each.disabled && !each.closest('.skip'));
    touched.forEach((each, i) => each.setAttribute('data-touched', i));
    document.activeElement.blur(); window.scrollTo(0, 0); return touched.length; }"""
HERE = "document.activeElement.getAttribute('data-touched')"
NAMED = "i => document.querySelector(`[data-touched='${i}']`).outerHTML.slice(0, 120)"


class Walk:
    """A page that goes from station to station. kiln: whose it is."""

    def __init__(self, page: Page, kiln: Any) -> None:
        self.page, self.kiln = page, kiln

    def to(self, path: str, shows: str) -> None:
        self.page.goto(self.kiln.url + path)
        self.page.wait_for_selector(shows)

    def look(self, station: str) -> None:
        """At everything that is here, on every screen."""
        page = self.page
        expect(page.locator("[aria-busy=true]")).to_have_count(0)
        if page.evaluate("typeof axe === 'undefined'"):
            page.evaluate(AXE.read_text())
        for width, height in SCREENS:
            page.set_viewport_size({"width": width, "height": height})
            for scheme in SCHEMES:
                page.emulate_media(color_scheme=scheme)
                where = f"{station}, {width}, {scheme}"
                assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{where}: runs over the side"
                assert page.evaluate(FOUND, TAGS) == [], where
                if "PICTURES" in os.environ:
                    page.screenshot(path=f"{os.environ['PICTURES']}/{where}.png", full_page=True)
        assert page.evaluate(MOVES) == 0, f"{station}: something moves"
        page.set_viewport_size({"width": 390, "height": 844})
        page.emulate_media(color_scheme="light")

    def by_keyboard(self, station: str) -> None:
        """Tab comes to everything that a finger can touch, and one can see where it is."""
        page = self.page
        left = {str(i) for i in range(page.evaluate(NUMBERED))}
        assert left, station
        for _ in range(2 * len(left) + 10):
            page.keyboard.press("Tab")
            here = page.evaluate(HERE)
            if here in left:
                seen = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
                assert seen != "none", f"{station}: {page.evaluate(NAMED, here)} does not show that it has the keyboard"
                left.discard(here)
            if not left:
                break
        assert not left, f"{station}: out of reach of the keyboard: {[page.evaluate(NAMED, each) for each in left]}"

    def hand(self, act: str, **how: object) -> None:
        """At the emulated kiln."""
        assert self.page.request.post(f"{self.kiln.url}/api/rehearsal/{act}", data=how, timeout=120_000).ok

    def now(self) -> dict[str, Any]:
        seen: dict[str, Any] = self.page.request.get(f"{self.kiln.url}/api/now", timeout=120_000).json()
        return seen


@pytest.mark.timeout(1800)
def test_an_evening_from_end_to_end(another: Callable[..., Any], looker: Any) -> None:
    kiln = another("--speed", "20", "--sample-seconds", "30")
    code = re.findall(r"/door#code=([0-9A-Z]{10})", (kiln.data.parent / f"{kiln.port}.log").read_text())[-1]
    page: Page = looker.look(kiln, path=f"/door#code={code}", shows="form")
    walk = Walk(page, kiln)

    # Set up, and signed in.
    walk.look("door")
    page.get_by_label("Your name").fill("Ruth")
    page.get_by_role("button", name="Come in").first.click()
    page.wait_for_selector("#curve canvas")
    walk.to("/door", "#keys li")
    walk.look("keys")

    # A plan.
    walk.to("/plans?key=bisque-cone-05-overnight", ".outlook polyline")
    page.get_by_text("Rings, damp ware and cooling").click()
    page.get_by_role("button", name="Slower through cristobalite").click()
    expect(page.locator("#ahead .said")).to_contain_text("should be down after")
    walk.look("plan")
    page.get_by_role("button", name="Keep the changes").click()
    expect(page.locator("#edit > .line")).to_have_text("Kept.")

    # Written down.
    walk.to("/", "#curve canvas")
    for far_down in ("duty", "log", "book", "room", "panel"):
        looker.down_to(page, far_down)
    page.locator(".band").first.click()
    page.get_by_role("button", name="Note", exact=True).click()
    page.fill("#note", "Guide cone glows")
    page.locator("#log form button").click()
    expect(page.locator("#entries ol li", has_text="Guide cone glows").first).to_be_visible()
    page.get_by_role("button", name="Cone", exact=True).click()
    walk.look("log")

    # An alarm, acknowledged.
    walk.hand("trouble", name="probe-open")
    button = page.get_by_role("button", name="Acknowledge").first
    expect(button).to_be_visible(timeout=300_000)
    walk.look("alarm")
    button.click()
    expect(page.locator(".alarm").first).to_contain_text("Seen by Ruth.")

    # No news, and news again.
    kiln.end(signal.SIGKILL)
    page.wait_for_selector("body[data-stale]", timeout=300_000)
    expect(page.locator("#sentence")).to_contain_text("No news since")
    walk.look("no news")
    kiln.start()
    expect(page.locator("body")).not_to_have_attribute("data-stale", "", timeout=300_000)

    # The shut-off trips, and it cools.
    walk.hand("trouble", name="none")
    walk.hand("speed", speed=1200)  # a night's cooling is over in less than a minute, and has to be seen
    expect(page.locator("#sentence")).to_contain_text("Stopped heating", timeout=600_000)
    walk.hand("speed", speed=1)
    expect(page.locator("#cooling li").first).to_be_visible()
    walk.look("cooling")

    # The kiln book, and two firings over one another.
    walk.to("/book", ".leaves li")
    walk.look("book")
    for box in page.locator(".pick input").all():
        box.check()
    page.get_by_role("link", name="Lay them over one another").click()
    page.wait_for_selector(".chart .trace")
    walk.look("overlay")
    page.go_back()
    page.locator(".leaves a").last.click()
    page.wait_for_selector("#curve canvas")
    walk.look("leaf")

    # The other rooms.
    for path, shows in (("/studio", "#described dd"), ("/exercises", "article"), ("/card", "#card table")):
        walk.to(path, shows)
        walk.look(path[1:])

    # Cold and unloaded, it begins anew.
    walk.hand("speed", speed=3600)
    walk.to("/", ".band")
    again = page.locator("#next").get_by_role("button", name="Make ready and light it")
    expect(again).to_be_visible(timeout=600_000)
    walk.hand("speed", speed=1)
    again.click()
    page.wait_for_selector("#lighting .thumb")
    walk.look("start")
    page.get_by_role("button", name="All seen to. It is lit").click()
    expect(page.locator("#plan")).to_contain_text("candling")
    assert [said for said in looker.complaints if not said.startswith("Failed to load resource")] == []


@pytest.mark.timeout(1800)
def test_the_morning_after(another: Callable[..., Any], looker: Any) -> None:
    kiln = another("--speed", "1", "--sample-seconds", "30")
    page: Page = looker.look(kiln, path="/care", shows="#elements h2")
    walk = Walk(page, kiln)

    # Cones are read by their likeness, and what was renewed is written down.
    page.get_by_label("Shelf of the ring").select_option("top")
    page.get_by_role("button", name="tip nearly level").click()
    expect(page.locator("#shelves ol")).to_contain_text("Seen at the top ring: cone 05")
    page.get_by_role("combobox", name="What", exact=True).select_option("new elements")
    page.locator("#mended").get_by_role("button", name="Write down").click()
    expect(page.locator("#mended li")).to_contain_text("new elements")
    walk.look("care")
    walk.by_keyboard("care")

    # Its report, what it would have been otherwise, and both on paper.
    walk.to("/book", ".leaves li")
    page.locator(".leaves a").last.click()
    page.wait_for_selector(".sheet .course")
    expect(page.locator(".sheet")).not_to_contain_text("degC")
    walk.look("report")
    for way in ("An hour longer", "Half the load", "One cone hotter"):
        page.get_by_role("button", name=way).click()
        expect(page.get_by_role("button", name=way)).to_have_attribute("aria-pressed", "true", timeout=300_000)
        expect(page.locator(".if .line")).to_contain_text("Heating would end after")
        expect(page.locator(".if .key")).to_contain_text(way.lower())
    walk.look("what if")
    walk.by_keyboard("what if")
    words = "".join(each.get_textpage().get_text_range() for each in pypdfium2.PdfDocument(page.pdf(format="A4")))
    assert "Heat work" in words
    assert "What if" not in words, "a question is not printed"
    assert "Print this page" not in words

    # People, their channels, and a probe that is out of service.
    walk.to("/studio", "#described dd")
    page.get_by_text("Add somebody", exact=True).click()
    page.get_by_label("Name", exact=True).fill("Ruth")
    page.get_by_role("button", name="Add", exact=True).click()
    page.get_by_text("Change Ruth", exact=True).click()
    page.get_by_label("Channel, for example phone").fill("phone")
    page.get_by_label("Address").fill("json://localhost:9/nobody")
    page.get_by_role("button", name="Keep the channel").click()
    expect(page.locator(".ways li")).to_contain_text("phone")
    assert "json://" not in page.content(), "an address is never shown again"
    page.get_by_text("Take the top probe out of service").click()
    page.get_by_label("Why").locator("visible=true").fill("Its lead is worn")
    page.get_by_role("button", name="Take it out of service").locator("visible=true").click()
    expect(page.locator("#described")).to_contain_text("Its lead is worn")
    page.get_by_text("What is looked after", exact=True).click()
    page.get_by_text("Change Ruth", exact=True).click()
    walk.look("studio")
    walk.by_keyboard("studio")
    assert looker.complaints == []
