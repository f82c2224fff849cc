"""The kiln over the years, out of a real record: elements, probes, and what was done to them."""

import random
from typing import Any

import pytest

from spyhole.core.care import Care
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, Row, Told, Undo
from spyhole.core.learned import Belief, Learned
from spyhole.core.measured import Measured, Witnessed
from spyhole.core.watch import State
from spyhole.core.words import DEFAULT
from spyhole.services.archive import Batch, Step
from spyhole.services.care import CareBook
from spyhole_hardware.emulated.puffin import KILN

LIT = 1_900_000_000_000
DAY_MS = 86_400_000
TOP = len(KILN.rings) - 1


def measured(d: random.Random, firing: int, top: float = 0.0) -> Measured:
    own = [d.gauss(0.0, 0.012), d.gauss(0.0, 0.012), d.gauss(top, 0.012)]
    mean = sum(own) / 3
    apart = tuple(Belief(value - mean, 0.03) for value in own)
    return Measured(firing, apart, Belief(6.4 + mean + d.gauss(0.0, 0.05), 0.1))


def kept(record: Any, *told: tuple[int, Told]) -> CareBook:
    """told: (day, row), in order."""
    rows = [Row(KILN.name, 1, "first", 0, Clock(LIT, True))]
    rows += [Row(KILN.name, 2 + n, "first", day * DAY_MS + n, what) for n, (day, what) in enumerate(told)]
    record.put(Batch(steps=tuple(Step(row) for row in rows), urgent=True))
    assert record.flush(5.0)
    state = State(learned=Learned(firings=3, offsets=(None, Belief(7.0, 2.4), None), shutoff_late=Belief(5.0, 3.0)))
    return CareBook(record, KILN, DEFAULT, lambda: state)


def test_nothing_known_yet(record: Any) -> None:
    view = kept(record).view()
    assert view.elements == []
    assert [probe.celsius for probe in view.probes] == [[], [], []]
    assert all("No cone has spoken" in probe.words for probe in view.probes)


def test_a_ring_that_went_is_named_with_its_day_and_what_was_found(record: Any) -> None:
    d = random.Random("went")
    firings = [(7 * n, measured(d, n + 1, -0.105 if n >= 20 else 0.0)) for n in range(26)]
    found = Entry(EntryKind.MAINTENANCE, KILN.rings[TOP].name, Care.BULGED_ELEMENT, "Mina")
    view = kept(record, *firings, (180, found)).view()
    ring = next(each for each in view.elements if each.ring == KILN.rings[TOP].name)
    assert ring.weak
    assert [each.ring for each in view.elements if each.weak] == [ring.ring]
    assert "weaker since the firing of" in ring.words
    assert "bulged element" in ring.words
    assert "licensed electrician" in ring.words
    assert ring.strength_percent[-1] == pytest.approx(93.0, abs=3.0)
    assert [(mark.ring, mark.what, mark.who) for mark in view.marks] == [(ring.ring, "bulged element", "Mina")]


def test_new_elements_begin_anew_and_an_entry_taken_back_does_not(record: Any) -> None:
    d = random.Random("renewed")
    firings = [(7 * n, measured(d, n + 1, -0.105 if n < 12 else 0.0)) for n in range(20)]
    top = KILN.rings[TOP].name
    renewed = (80, Entry(EntryKind.MAINTENANCE, top, Care.ELEMENTS))
    early, late = firings[:12], firings[12:]
    view = kept(record, *early, renewed, *late).view()
    ring = next(each for each in view.elements if each.ring == top)
    assert (ring.new_utc_ms, ring.firings) == (LIT + 80 * DAY_MS + 12, 8)
    assert not ring.weak


def test_an_entry_taken_back_is_not_there(record: Any) -> None:
    renewed = Entry(EntryKind.MAINTENANCE, "", Care.ELEMENTS)
    assert kept(record, (1, renewed), (2, Undo(2, "Mina"))).view().marks == []


def test_cones_of_late_say_otherwise_than_before(record: Any) -> None:
    d = random.Random("drift")
    said = [Belief(d.gauss(2.0 if n < 8 else 15.0, 2.0), 2.5) for n in range(11)]
    rows = [(7 * n, Witnessed(n + 1, (None, each, None))) for n, each in enumerate(said)]
    middle = kept(record, *rows).view().probes[1]
    assert middle.drifts
    assert "seems to drift" in middle.words
    assert "lower than it did" in middle.words
    assert len(middle.celsius) == 11


def test_a_new_probe_begins_from_nothing(record: Any) -> None:
    said = [(7 * n, Witnessed(n + 1, (None, Belief(9.0, 2.5), None))) for n in range(6)]
    renewed = (60, Entry(EntryKind.MAINTENANCE, KILN.rings[1].name, Care.PROBE))
    middle = kept(record, *said, renewed).view().probes[1]
    assert middle.celsius == []
    assert "No cone has spoken" in middle.words


def test_the_shut_off_says_how_late_it_is(record: Any) -> None:
    assert kept(record).view().shutoff == (
        "By 3 trips the shut-off drops about 5 later than its cone's number, give or take 4."
    )


def test_an_open_element_is_said_of_the_last_firing(record: Any) -> None:
    well = (0.26, 0.5, 0.99)
    said = Measured(1, (None,) * 3, Belief(6.4, 0.1), (well, well, (0.03, 0.5, 0.6)))
    view = kept(record, (1, said)).view()
    assert view.open.startswith("Top ring: nothing on low and about half on high in the last firing.")
    assert "licensed electrician" in view.open
