"""The curve of a kiln that cools is followed as long as nothing but the kiln cools it, and then believed."""

from dataclasses import replace
from math import exp

import pytest

from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.falling import falling
from spyhole.core.firing import Firing, Written, open_firing, strike, write
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Plan, Stage
from spyhole.core.view import View

KILN = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle")))
PLAN = Plan("Bisque", "05", (Stage("high", (Switch.HIGH,) * 2, until_cone=True),), 1, "05")
MINUTE, HOUR = 60_000, 3_600_000
OFF = 10 * HOUR


def off() -> Firing:
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    return replace(open_firing(start, KILN, PLAN, 20.0), off=True, off_ms=OFF)


def fell(minutes: float) -> float:
    return 20.0 + 1000.0 * exp(-max(minutes, 0.0) / 400.0)


def seen(firing: Firing, minutes: int, *, fit: tuple[bool, ...] = (True, True), missing: range = range(0)) -> View:
    """So many minutes after the end; the middle is 20 degC hotter than the bottom."""
    points = tuple((OFF + m * MINUTE + 30_000, fell(m)) for m in range(minutes - 150, minutes) if m not in missing)
    tracks = tuple(
        Track(at_ms=OFF + minutes * MINUTE, celsius=fell(minutes), minutes=tuple((t, c - less) for t, c in points))
        for less in (20.0, 0.0)
    )
    return View(OFF + minutes * MINUTE, 0, firing, tracks, (None, None), fit, (fell(minutes),) * 2)


def followed(firing: Firing, to_minute: int, from_minute: int = 1, **how: range) -> Firing:
    for minute in range(from_minute, to_minute + 1):
        firing = replace(firing, fall=falling(seen(firing, minute, **how)))  # type: ignore[arg-type]
    return firing


def test_the_hottest_ring_is_followed_from_the_end_on() -> None:
    fall = followed(off(), 120).fall
    assert fall is not None
    assert not fall.lost
    assert fall.peak_celsius == pytest.approx(1020.0)
    assert fall.hours == pytest.approx(2.0, abs=0.1)
    for number, celsius in enumerate(fall.celsius[1:], 1):
        assert celsius == pytest.approx(fell(5 * number), abs=0.5)
    bend = fall.bends(20.0)[-1]
    assert bend.now / bend.two_thirds == pytest.approx(exp(-bend.hours * 20 / 400), rel=2e-3)
    assert bend.third / bend.two_thirds == pytest.approx(exp(bend.hours * 20 / 400), rel=2e-3)


def test_an_end_that_was_noticed_late_loses_nothing() -> None:
    late, early = followed(off(), 90, from_minute=80).fall, followed(off(), 90).fall
    assert late is not None
    assert late == early


def test_one_that_had_cooled_for_a_while_when_its_heat_ended_is_not_one_the_law_is_of() -> None:
    held = replace(off(), peaks=(1000.0, 1080.0))
    fall = followed(held, 60).fall
    assert fall is not None
    assert fall.lost
    just_tripped = followed(replace(held, peaks=(1003.0, 1022.0)), 60).fall
    assert just_tripped is not None
    assert not just_tripped.lost


def test_a_few_missing_minutes_are_bridged_and_many_are_not() -> None:
    few, many = followed(off(), 90, missing=range(30, 40)).fall, followed(off(), 90, missing=range(30, 60)).fall
    assert few is not None
    assert many is not None
    assert not few.lost
    assert many.lost
    assert many.bends(20.0) == ()


def test_a_lid_or_a_lost_probe_ends_it_and_an_entry_taken_back_does_not_bring_it_back() -> None:
    firing = followed(write(off(), Written(2, OFF, 0, Entry(EntryKind.SHUTOFF, "", "tripped", "Wren"))), 60)
    lid = write(firing, Written(9, OFF + 61 * MINUTE, 0, Entry(EntryKind.LID, "", "cracked", "Wren")))
    opened = followed(lid, 70, from_minute=62)
    assert opened.fall is not None
    assert opened.fall.lost
    back = followed(strike(opened, 9), 80, from_minute=71)
    assert back.fall is not None
    assert back.fall.lost
    gone = falling(seen(firing, 61, fit=(True, False)))
    assert gone is not None
    assert gone.lost


def test_a_kiln_that_heats_again_has_no_fall_and_begins_another() -> None:
    firing = followed(off(), 60)
    assert falling(seen(replace(firing, off=False, off_ms=None), 61)) is None
    again = falling(seen(replace(firing, off_ms=OFF + 30 * MINUTE), 61))
    assert again is not None
    assert again.since_ms > OFF + 29 * MINUTE


def test_before_half_an_hour_it_says_nothing() -> None:
    fall = followed(off(), 25).fall
    assert fall is not None
    assert fall.bends(20.0) == ()
