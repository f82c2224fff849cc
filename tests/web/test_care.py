"""The years of a kiln on its page: trips of the shut-off with those that taught nothing, and a probe that drifts."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from spyhole.core.journal import Row
from spyhole.core.learned import Belief
from spyhole.core.measured import Lesson, Tripped, Witnessed
from spyhole.services.archive import Batch, Step
from spyhole.store.archive import open_archive
from spyhole_hardware.emulated.puffin import KILN
from spyhole_web.plan_shapes import StartOffered

PROBE = 1
RING = KILN.rings[KILN.probe_rings[PROBE]].name


def keep(data: Path, *told: Witnessed | Tripped) -> None:
    """Put these at the end of a record that no daemon has."""
    archive = open_archive(data, seconds=time.monotonic, tell=lambda code, words: None)
    last = archive.last_sequence(KILN.name)
    rows = [Row(KILN.name, last + 1 + n, "earlier years", 86_400_000 * 7 * n, one) for n, one in enumerate(told)]
    archive.put(Batch(steps=tuple(Step(row) for row in rows), urgent=True))
    assert archive.flush(30)
    archive.close(30)


def said(offset: float) -> Witnessed:
    return Witnessed(1, tuple(Belief(offset, 2.5) if n == PROBE else None for n in range(len(KILN.probe_rings))))


@pytest.fixture
def old_kiln(cold_kiln: Any) -> Any:
    """Cold, with a book of some years: a probe that came to read low, and three trips."""
    cold_kiln.end()
    keep(
        cold_kiln.data,
        *[said(2.0)] * 8,
        *[said(16.0)] * 3,
        Tripped(1, 6.0, Belief(6.0, 8.0), 4.8, 0, Lesson.TAUGHT),
        Tripped(2, 21.0, Belief(6.0, 5.0), 4.8, 1, Lesson.ASKEW),
        Tripped(3, 7.4, Belief(6.0, 5.0), None, 2, Lesson.TAUGHT),
    )
    cold_kiln.start()
    return cold_kiln


def test_trips_are_shown_and_those_that_taught_nothing_look_otherwise(
    old_kiln: Any, looker: Any, axe: Callable[[Page], list[object]]
) -> None:
    page: Page = looker.look(old_kiln, path="/care", shows="#probes .one")
    shutoff = page.locator("#probes .one").filter(has=page.get_by_role("heading", name="Shut-off"))
    expect(shutoff.get_by_role("listitem")).to_have_count(3)
    expect(shutoff.get_by_role("listitem").nth(1)).to_contain_text("its cone or rod did not sit right")
    expect(shutoff.get_by_role("listitem").nth(2)).to_contain_text("About 6 later than its cone's number, gap 4.8 mm.")
    expect(shutoff.get_by_role("img", name="How late the shut-off dropped")).to_be_visible()
    expect(shutoff.locator("circle")).to_have_count(3)
    expect(shutoff.locator("circle.hollow")).to_have_count(1)
    expect(page.get_by_role("option", name="new shut-off tube")).to_have_count(1)
    assert axe(page) == []


def test_a_probe_that_drifts_stands_before_lighting_with_what_to_do_first(
    old_kiln: Any, looker: Any, axe: Callable[[Page], list[object]]
) -> None:
    offered = StartOffered.model_validate(old_kiln.get("/api/start").json())
    assert [words.split(":")[0] for words in offered.care] == [f"The {RING} probe seems to drift"]
    page: Page = looker.look(old_kiln, path="/start", shows="#lighting .seen-to")
    drift = page.locator(".seen-to li").filter(has_text="seems to drift")
    expect(drift).to_have_count(1)
    expect(drift).to_contain_text("First, with the kiln cold and isolated at the wall")
    assert axe(page) == []


def lit(page: Page) -> tuple[bool | None, bool | None]:
    """What the page tells of the shut-off as the kiln is lit: seated, its rod centred."""
    light = page.get_by_role("button", name="All seen to. It is lit")
    expect(light).to_be_enabled()
    with page.expect_request("**/api/firings") as asked:
        light.click()
    told = asked.value.post_data_json
    return told["seated"], told["rod_centred"]


def test_what_nobody_ticked_was_not_looked_at(cold_kiln: Any, looker: Any) -> None:
    assert StartOffered.model_validate(cold_kiln.get("/api/start").json()).care == []
    page: Page = looker.look(cold_kiln, path="/start", shows="#lighting .seen-to")
    expect(page.get_by_text("seems to drift")).to_have_count(0)
    page.get_by_label("A fresh cone").check()
    assert lit(page) == (True, None)


def test_a_firing_whose_cone_sat_askew_says_so(cold_kiln: Any, looker: Any) -> None:
    page: Page = looker.look(cold_kiln, path="/start", shows="#lighting .seen-to")
    page.get_by_label("Something did not sit right").check()
    assert lit(page) == (False, False)
