"""The page as a person meets it: the real daemon on Puffin, in Debian's Chromium."""

import gzip
import re
import signal
import time
from base64 import b64decode
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import expect

from spyhole.core.forms.jpeg import check_jpeg

WEB = Path(__file__).parents[2] / "web"
SCREENS = [(390, 844), (768, 1024), (1280, 800)]
SCHEMES = ["light", "dark"]
FIRST_LOAD_BYTES = 60 * 1024
PLAIN_SECONDS = 0.5
"""What one drawing alone takes where two cores are busy with seven things: a machine slower than that is forgiven."""


def test_now_at_a_glance(daemon, looker) -> None:
    page = looker.look(daemon)
    expect(page.locator("#sentence")).to_have_text(re.compile(r"^All well\. .+\.$"))
    assert page.locator(".band .ring").all_text_contents() == ["top", "middle", "bottom"], "as in the kiln"
    for heat in page.locator(".band .heat").all_inner_texts():
        assert re.fullmatch(r"\d+", heat), "no decimals"
    for climb in page.locator(".band .climb").all_inner_texts():
        assert re.fullmatch(r"(falling )?\d+ per hour|steady", climb)
    assert page.locator("#cones .number").all_inner_texts() == ["06", "05", "04"]
    expect(page.locator("#curve canvas")).to_have_count(1)
    looker.down_to(page, "book")
    expect(page.locator("#book li")).to_have_count(1)
    expect(page.locator("footer")).to_contain_text("Not a safety device")
    assert looker.complaints == []


def test_the_page_lives(daemon, looker) -> None:
    page = looker.look(daemon)
    page.evaluate("window.before = document.querySelector('.band')")
    heats = page.locator(".band .heat")
    was = heats.all_inner_texts()
    page.wait_for_function(
        "was => [...document.querySelectorAll('.heat')].every((e, i) => e.textContent !== was[i])", arg=was
    )
    assert page.evaluate("window.before === document.querySelector('.band')"), "no button is swapped under a thumb"


def test_times_are_the_studios_not_the_phones(daemon, looker) -> None:
    page = looker.look(daemon)
    entry = daemon.now()["entries"][0]
    zone = daemon.now()["zone"]
    said = page.evaluate(
        "([ms, timeZone]) => new Date(ms).toLocaleTimeString('en-GB', {timeZone, timeStyle: 'short'})",
        [entry["utc_ms"], zone],
    )
    expect(page.locator("#entries time", has_text=said).first).to_be_visible()


def test_a_turn_is_logged_with_one_tap_and_taken_back(daemon, looker) -> None:
    page = looker.look(daemon)  # nobody who fires Puffin turns a ring off, so this turn is the test's own
    page.locator(".band").first.click()
    page.locator("#turn-top button", has_text="off").click()
    first = page.locator("#entries ol li", has_text="Top to off").first
    expect(first).to_be_visible()
    expect(page.locator(".band .setting").first).to_have_text("off")
    expect(page.locator("#turn-top")).to_be_hidden()
    first.locator("button").click()
    expect(page.locator("#entries ol li", has_text="Top to off").first).to_contain_text("taken back")


def test_nothing_typed_is_lost_when_it_cannot_be_taken(daemon, looker) -> None:
    page = looker.look(daemon)
    page.fill("#minutes", "soon")
    page.locator("#timer form button").click()
    expect(page.locator("#timer .line")).to_have_text(re.compile(r"minutes.*\.$"))
    assert page.input_value("#minutes") == "soon"
    looker.down_to(page, "log")
    page.get_by_role("button", name="Note", exact=True).click()
    page.fill("#note", "Guide cone glows")
    page.locator("#log form button").click()
    expect(page.locator("#entries ol li", has_text="Guide cone glows").first).to_be_visible()
    expect(page.locator("#note")).to_have_value("")  # the stream may be sooner than the answer


def test_what_was_seen_is_written_down_with_two_taps_and_a_time(daemon, looker) -> None:
    page = looker.look(daemon)
    looker.down_to(page, "log")
    entries = page.locator("#entries ol li")
    page.get_by_role("button", name="Plugs", exact=True).click()
    page.get_by_role("button", name="10 minutes ago", exact=True).last.click()
    before = daemon.now()["now_utc_ms"]
    page.get_by_role("button", name="top plug half", exact=True).click()
    earlier = page.get_by_role("button", name="Earlier ones")
    if earlier.is_visible():
        earlier.click()
    expect(entries.filter(has_text="Top plug half").first).to_be_visible()
    expect(page.get_by_role("button", name="just now").last).to_have_attribute("aria-pressed", "true")
    written_ms = daemon.entry("Top plug half")["utc_ms"]
    assert before - 11 * 60_000 < written_ms < daemon.now()["now_utc_ms"] - 9 * 60_000
    page.get_by_role("button", name="Lid", exact=True).click()
    expect(page.locator("#log")).to_contain_text("Before opening")
    expect(page.get_by_role("button", name="top plug half", exact=True)).to_be_hidden()
    page.get_by_role("button", name="lid shut", exact=True).click()
    expect(entries.filter(has_text="Lid closed").first).to_be_visible()
    page.get_by_role("button", name="Power", exact=True).click()
    expect(page.locator("#log")).to_contain_text("Every switch off while the power is away")
    page.get_by_role("button", name="power back", exact=True).click()
    expect(entries.filter(has_text="Power back").first).to_be_visible()


def test_a_photograph_is_made_small_kept_and_shown(daemon, looker, tmp_path) -> None:
    page = looker.look(daemon)
    drawn = page.evaluate(
        """() => { const c = document.createElement("canvas"); c.width = 3000; c.height = 2000;
        c.getContext("2d").fillRect(0, 0, 99, 99); return c.toDataURL("image/png").split(",")[1]; }"""
    )
    (tmp_path / "cones.png").write_bytes(b64decode(drawn))
    looker.down_to(page, "log")
    page.get_by_role("button", name="Photo", exact=True).click()
    page.locator("#camera").set_input_files(tmp_path / "cones.png")
    expect(page.locator("#log .line")).to_have_text("The photograph is kept.")
    jpeg = daemon.get(f"/api/photos/{daemon.entry('Photograph of the cones')['photo']}.jpg").content
    assert check_jpeg(jpeg) == (1600, 1067)
    picture = page.locator("#entries ol li", has_text="Photograph of the cones").locator("img").first
    picture.scroll_into_view_if_needed()
    page.wait_for_function("() => document.querySelector('#entries img').naturalWidth === 1600")
    assert looker.complaints == []


def test_the_curve_is_looked_at_closer_and_moved_by_button_by_key_and_by_two_fingers(daemon, looker) -> None:
    page = looker.look(daemon)
    page.wait_for_selector("#curve .u-over")
    readout = page.locator("#curve .readout")
    plot = page.locator("#curve .plot")

    def at_left() -> int:
        for x in (30, 3):
            page.locator("#curve .u-over").hover(position={"x": x, "y": 40})
        page.evaluate("new Promise(drawn => requestAnimationFrame(() => requestAnimationFrame(drawn)))")
        expect(readout).to_have_text(re.compile(r"^\d\d:\d\d"))
        hours, minutes = re.findall(r"\d\d", readout.inner_text())[:2]
        return (int(hours) * 60 + int(minutes) - 12 * 60) % 1440  # from noon, since this firing crosses midnight

    def comes(holds: Callable[[int], bool]) -> bool:
        """Whether what is at the left comes to be so, once what was asked for is drawn."""
        for _ in range(100):
            if holds(at_left()):
                return True
            page.wait_for_timeout(200)
        return False

    whole = at_left()
    page.locator("#curve .u-over").hover(position={"x": 150, "y": 40})  # what is read stays where it is
    with page.expect_response("**/api/curve?points=3000*"):
        page.get_by_role("button", name="Closer").click()
    assert comes(lambda left: left > whole + 60)
    page.get_by_role("button", name="Earlier", exact=True).click()
    page.get_by_role("button", name="Earlier", exact=True).click()
    assert comes(lambda left: left < whole + 15), "all of it is in reach"
    plot.focus()
    page.keyboard.press("-")
    page.keyboard.press("PageDown")
    assert comes(lambda left: left < whole + 15), "wide open it shows everything"
    page.evaluate(
        """() => { const over = document.querySelector('#curve .u-over'), box = over.getBoundingClientRect();
        const put = (type, id, share) => over.dispatchEvent(new PointerEvent(type, {
          pointerId: id, pointerType: 'touch', clientX: box.left + share * box.width, clientY: box.top + 40 }));
        put('pointerdown', 1, 0.4); put('pointerdown', 2, 0.6); put('pointermove', 1, 0.1); put('pointermove', 2, 0.9);
        put('pointerup', 1, 0.1); put('pointerup', 2, 0.9); }"""
    )
    assert comes(lambda left: left > whole + 60), "what was between the fingers fills the width"


def test_the_curve_is_read_by_touch_and_by_key(daemon, looker) -> None:
    page = looker.look(daemon)
    page.wait_for_selector("#curve .u-over")
    readout = page.locator("#curve .readout")
    page.locator("#curve .u-over").hover(position={"x": 100, "y": 50})
    expect(readout).to_have_text(
        re.compile(r"^\d\d:\d\d.*: top \d+, middle \d+, bottom \d+, ceiling \d+; by the plan \d+ to \d+\s°C")
    )
    by_touch = readout.inner_text()
    page.locator("#curve .plot").focus()
    page.keyboard.press("Home")
    expect(readout).not_to_have_text(by_touch)
    at_start = readout.inner_text()
    page.keyboard.press("ArrowRight")
    expect(readout).not_to_have_text(at_start)


def test_an_earlier_firing_takes_the_curves_place_and_gives_it_back(daemon, looker) -> None:
    page = looker.look(daemon)
    looker.down_to(page, "book")
    page.locator("#book li button").first.click()
    expect(page.locator("#curve-title")).to_contain_text("Bisque")
    page.locator("#curve button", has_text="Back to now").click()
    expect(page.locator("#curve-title")).to_have_text("Curve")


def test_the_rehearsal_panel_says_what_it_is_and_turns_puffins_switches(own_daemon, looker) -> None:
    page = looker.look(own_daemon)
    own_daemon.post("/api/rehearsal/speed", {"speed": 1})  # or its keeper may turn them before anybody has looked
    expect(page.locator("#emulated")).to_contain_text("Rehearsal: an emulated kiln")
    looker.down_to(page, "panel")
    page.locator("#panel .hand", has_text="bottom").get_by_role("button", name="low").click()
    expect(page.locator("#panel .hand", has_text="bottom").get_by_role("button", name="low")).to_have_attribute(
        "aria-pressed", "true"
    )
    assert dict(own_daemon.now()["panel"]["switches"])["bottom"] == "low"
    page.locator("#panel button", has_text="300").click()
    expect(page.locator("#emulated")).to_contain_text("300")


def test_a_high_alarm_turns_the_page_knocks_and_is_acknowledged_with_one_tap(own_daemon, looker) -> None:
    page = looker.look(own_daemon)
    own_daemon.post("/api/rehearsal/speed", {"speed": 60})
    looker.down_to(page, "panel")
    page.get_by_role("button", name="power cut", exact=True).click()  # also the gesture that lets the page sound
    button = page.get_by_role("button", name="Acknowledge")
    expect(button).to_be_visible()
    own_daemon.post("/api/rehearsal/speed", {"speed": 1})
    alarm = page.locator(".alarm").first
    expect(alarm).to_contain_text("high: ")
    expect(page).to_have_title("Look now: Puffin")
    page.wait_for_function("() => Number(document.body.dataset.knocked) >= 1")
    box = button.bounding_box()
    assert box
    assert box["width"] > 300, "as wide as the thumb"
    assert box["height"] >= 44
    page.evaluate("localStorage.setItem('who', 'Mina')")
    button.click()
    expect(alarm).to_contain_text("Seen by Mina.")
    assert [each["acknowledged_by"] for each in own_daemon.now()["alarms"]] == ["Mina"]


@pytest.mark.parametrize(("hours", "name"), [(6.0, "Turned already"), (0.0, "Done")])
def test_a_turn_is_one_tap_when_it_is_near_and_is_asked_about_when_it_is_hours_off(daemon, looker, hours, name) -> None:
    def waits(now: dict[str, Any]) -> None:
        at = now["now_utc_ms"] + hours * 3_600_000
        forecast = {"low": at, "median": at + 60_000, "high": at + 120_000}
        turn = [["bottom", "low"], ["middle", "low"]]
        now["next"] = {
            "words": "Turn all to low",
            "why": "The night is over.",
            "at": forecast,
            "turn": turn,
            "start": None,
        }
        now["alarms"] = []

    written: list[str] = []
    page = looker.told(daemon, waits)
    page.route("**/api/entries", lambda asked: (written.append(asked.request.post_data or ""), asked.abort()))
    button = page.locator("#next").get_by_role("button", name=name, exact=True)
    box = button.bounding_box()
    assert box
    assert (box["width"] > 200) == (hours == 0), "as wide as the thumb only when it may be made"
    button.click()
    if hours:
        expect(page.locator("#next .line")).to_contain_text("not due yet")
        assert written == [], "a slip writes nothing"
        page.locator("#next").get_by_role("button", name="Yes, it is turned").click()
    expect(page.locator("#next .line")).to_contain_text("may not have been taken")
    assert len(written) == 1


def test_a_page_without_news_says_so_and_comes_back_by_itself(own_daemon, looker) -> None:
    page = looker.look(own_daemon)
    page.wait_for_selector("#curve canvas")
    own_daemon.end(signal.SIGKILL)
    expect(page.locator("#sentence")).to_have_text(
        re.compile(r"^No news since \d\d:\d\d\. What you see below is old\.$")
    )
    expect(page.locator("body")).to_have_attribute("data-stale", "")
    expect(page).to_have_title("No news")
    page.wait_for_function("() => !/now/.test(document.querySelector('.age').textContent)")  # it ages its own numbers
    page.locator(".band").first.click()
    page.locator("#turn-top button", has_text="low").click()
    expect(page.locator("#turn-top .line")).to_contain_text("did not answer")
    with page.expect_response("**/api/curve*", timeout=300_000) as reloaded:
        own_daemon.start()
    assert reloaded.value.ok, "after a gap the curve is asked for again"
    expect(page.locator("#sentence")).not_to_contain_text("No news")
    expect(page.locator("body")).not_to_have_attribute("data-stale", "")


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_it_fits_and_everybody_can_read_it(daemon, looker, axe, width, height, scheme) -> None:
    page = looker.look(daemon, width, height, scheme)
    page.wait_for_selector("#curve canvas")
    page.locator(".band").first.click()
    looker.down_to(page, "log")
    page.get_by_role("button", name="Cone", exact=True).click()
    assert page.evaluate("document.documentElement.scrollWidth") <= width, "nothing to scroll sideways"
    assert axe(page) == []
    assert looker.complaints == []


def test_old_news_stays_readable(own_daemon, looker) -> None:
    page = looker.look(own_daemon)
    own_daemon.end(signal.SIGKILL)
    page.wait_for_selector("body[data-stale]")
    page.evaluate((WEB / "node_modules" / "axe-core" / "axe.min.js").read_text())
    found = page.evaluate("axe.run(document, {runOnly: ['color-contrast']})")
    assert [node["html"] for each in found["violations"] for node in each["nodes"]] == []


def test_everything_is_in_reach_of_the_keyboard(daemon, looker) -> None:
    page = looker.look(daemon)
    for far_down in ("duty", "log", "book", "panel"):  # what comes when it is looked at
        looker.down_to(page, far_down)
    reached = set()
    for _ in range(150):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("(document.activeElement.closest('section, footer') ?? document.body).id"))
    assert {"stack", "curve", "timer", "entries", "book", "panel"} <= reached
    page.locator(".band").first.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#turn-top")).to_be_visible()


def test_nothing_but_the_cones_moves_for_who_asked_for_stillness(daemon, looker) -> None:
    page = looker.look(daemon)
    moving = "[...document.querySelectorAll('*')].filter(e => parseFloat(getComputedStyle(e).transitionDuration) > 0)"
    assert page.evaluate(f"{moving}.length") == 0


def test_the_first_load_is_small(daemon, looker) -> None:
    """Everything that comes before the page is usable, uPlot and the first snapshot included, as it is sent."""
    page = looker.look(daemon)
    page.wait_for_selector("#curve canvas")
    names = page.evaluate("performance.getEntriesByType('resource').map(e => new URL(e.name).pathname)")
    paths = {"/", *(name for name in names if name.startswith("/static/"))}
    assert {"/", "/static/page.css", "/static/page.js", "/static/later.js", "/static/uplot/uPlot.iife.min.js"} <= paths
    total = 0
    for path in paths:
        with httpx.stream("GET", daemon.url + path, headers={"accept-encoding": "gzip"}, timeout=60) as answer:
            total += sum(len(part) for part in answer.iter_raw())
    for path in ("/api/now", "/api/curve?points=300"):
        total += len(gzip.compress(daemon.get(path).content))
    assert total <= FIRST_LOAD_BYTES, f"{total} bytes"


def test_no_text_runs_over_the_end_of_a_line() -> None:
    """Indents do not travel, so a text that had one in it would change."""
    for script in (WEB / "spyhole_web" / "static").glob("*.js"):
        assert "`" not in re.sub(r"`[^`\n]*`", "", script.read_text()), script.name


def test_the_page_is_there_within_a_second_or_two(daemon, looker) -> None:
    """One look of ten: a machine that has other things to do has them at one moment more than at another."""

    def seconds(**look: str) -> float:
        began = time.monotonic()
        looker.look(daemon, **look)
        return time.monotonic() - began

    plain = min(seconds(path="/static/hole.svg", shows="svg") for _ in range(5))
    slowness = max(1.0, plain / PLAIN_SECONDS)
    assert any(seconds() < 4 * slowness for _ in range(10))
