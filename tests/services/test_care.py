"""The kiln over the years, out of a real record: elements, probes, and what was done to them."""

import random
from dataclasses import replace
from typing import Any

import pytest

from spyhole.core import care_words
from spyhole.core.care import Care
from spyhole.core.cones.correction import Sighting
from spyhole.core.cones.doubt import corrected_alpha
from spyhole.core.cones.kinetics import alpha_of_bend, cone
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, open_firing, write
from spyhole.core.journal import Clock, Row, Settings, Told, Undo
from spyhole.core.learned import Belief, Learned, ShutoffHabit
from spyhole.core.measured import Lesson, Measured, Tripped, Witnessed
from spyhole.core.plan import Body
from spyhole.core.state import State
from spyhole.core.timeline import Timeline
from spyhole.core.witnesses import follow
from spyhole.core.words import DEFAULT
from spyhole.services.archive import Batch, Step
from spyhole.services.care import CareBook
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

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
    assert record.flush(30.0)
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


def test_trips_are_listed_with_those_that_taught_nothing_and_why(record: Any) -> None:
    rows = [
        (7 * n, Tripped(n + 1, late, Belief(5.0, 3.0), gap, n, lesson))
        for n, (late, gap, lesson) in enumerate(
            ((6.0, 4.8, Lesson.TAUGHT), (19.0, None, Lesson.ASKEW), (-41.0, 4.8, Lesson.DOUBTED))
        )
    ]
    trips = kept(record, *rows).view().trips
    assert [(trip.late_celsius, trip.gap_millimetres, trip.taught) for trip in trips] == [
        (6.0, 4.8, True), (19.0, None, False), (-41.0, 4.8, False),
    ]  # fmt: skip
    assert trips[0].words == "About 6 later than its cone's number, gap 4.8 mm."
    assert trips[1].words.endswith("Left out: its cone or rod did not sit right.")
    assert "41 sooner" in trips[2].words


def test_what_gap_and_age_do_is_said_where_it_is_beyond_chance_and_not_before() -> None:
    plain = ShutoffHabit((5.0, 1.0, 0.05), (9.0, 0.0, 4.0, 0.0, 0.0, 0.01), 4.8, age=12, trips=12)
    learned = Learned(firings=12, shutoff_late=Belief(5.0, 3.0), shutoff=plain)
    said = "By 12 trips the shut-off drops about 5 later than its cone's number, give or take 4."
    assert care_words.shutoff(learned, DEFAULT) == said
    sure = replace(plain, mean=(5.0, -3.0, 0.2), spread=(9.0, 0.0, 1.0, 0.0, 0.0, 0.0004), strays=2)
    words = care_words.shutoff(replace(learned, shutoff=sure), DEFAULT)
    assert "A trigger gap wider by 1 mm makes it about 3 sooner, against the usual 4.8 mm." in words
    assert "about 2 later each ten firings" in words
    assert "isolated at the wall" in words
    assert "Its last 2 trips were far too late to be believed" in words


def test_a_probe_that_drifts_is_said_before_lighting_with_what_to_do_first_and_a_steady_one_is_not(record: Any) -> None:
    d = random.Random("drift")
    said = [Belief(d.gauss(2.0 if n < 8 else 15.0, 2.0), 2.5) for n in range(11)]
    book = kept(record, *[(7 * n, Witnessed(n + 1, (Belief(2.0, 2.5), each, None))) for n, each in enumerate(said)])
    (words,) = book.before_lighting()
    assert words.startswith(f"The {KILN.rings[1].name} probe seems to drift")
    assert "First, with the kiln cold and isolated at the wall" in words
    assert [one.since_utc_ms for one in book.drifting()] == [0]


def test_a_probe_that_was_renewed_drifts_no_longer(record: Any) -> None:
    said = [(7 * n, Witnessed(n + 1, (None, Belief(2.0 if n < 8 else 20.0, 2.5), None))) for n in range(11)]
    renewed = (90, Entry(EntryKind.MAINTENANCE, KILN.rings[1].name, Care.PROBE))
    assert follow([belief for _, one in said if (belief := one.offsets[1])]).drifts
    assert kept(record, *said, renewed).drifting() == ()


def test_the_cones_of_a_firing_that_is_over_speak_before_the_next_is_lit(record: Any) -> None:
    """They are taken down when the next is lit; somebody who stands before that kiln has to know sooner."""
    probe, peak = 1, 1040.0
    said = [(7 * n, Witnessed(n + 1, (None, Belief(-12.0, 2.5), None))) for n in range(9)]
    said += [(70, Witnessed(10, (None, Belief(14.0, 2.5), None)))]
    assert kept(record, *said).drifting() == (), "one odd firing is no drift"
    firing = open_firing(Written(99, 0, 0, Entry(EntryKind.START, "", "05")), KILN, TONIGHT.plan, 20.0)
    one = cone("05")
    half_over = corrected_alpha(one, alpha_of_bend(45.0), peak, -14.0)  # the probe reads fourteen too low
    seen = Sighting(100, probe, "05", Body.ORDINARY, 45.0, half_over, peak)
    over = replace(firing, off=True, off_ms=0, ended=True, peaks=(peak,) * 3, sightings=(seen,))
    line = Timeline(utc_ms=LIT + 75 * DAY_MS)
    book = CareBook(record, KILN, DEFAULT, lambda: State(line, Settings(KILN, TONIGHT.plan), firing=over))
    assert len(book.view().probes[probe].celsius) == 11
    assert book.view().probes[probe].celsius[-1] == pytest.approx(14.0, abs=3.0)
    assert [found.ring for found in book.drifting()] == [KILN.rings[probe].name]
    mended = write(over, Written(101, 0, 0, Entry(EntryKind.MAINTENANCE, KILN.rings[probe].name, Care.PROBE)))
    again = CareBook(record, KILN, DEFAULT, lambda: State(line, Settings(KILN, TONIGHT.plan), firing=mended))
    assert len(again.view().probes[probe].celsius) == 10, "they spoke of the one before"


def test_an_open_element_is_said_of_the_last_firing(record: Any) -> None:
    well = (0.26, 0.5, 0.99)
    said = Measured(1, (None,) * 3, Belief(6.4, 0.1), (well, well, (0.03, 0.5, 0.6)))
    view = kept(record, (1, said)).view()
    assert view.open.startswith("Top ring: nothing on low and about half on high in the last firing.")
    assert "licensed electrician" in view.open
