"""What the trip that ended a firing teaches of the shut-off: not if its cone sat askew, and as its gap was set."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from spyhole.core.care import Care
from spyhole.core.cones.correction import Sighting
from spyhole.core.entering import lessons
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, write
from spyhole.core.journal import Preparation, Row, Settings
from spyhole.core.kiln import Probe
from spyhole.core.learned import Belief, Learned
from spyhole.core.measured import Lesson, Tripped
from spyhole.core.plan import Body
from spyhole.core.state import State, view_of
from spyhole.core.trips import a_firing_older, after_trip, by_other_probe, expecting
from spyhole.core.view import View
from spyhole.core.watch import step
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE = 60_000


@pytest.fixture(scope="module")
def state(fired: Callable[..., object]) -> State:
    """After a healthy firing of Puffin, whose shut-off ended it."""
    found: State = fired("none").state  # type: ignore[attr-defined]
    return found


@pytest.fixture(scope="module")
def over(state: State) -> View:
    view = view_of(state)
    assert view is not None
    return replace(view, firing=replace(view.firing, written=tuple(_but_timers(view))))


def _but_timers(view: View) -> list[Written]:
    return [w for w in view.firing.written if w.entry.kind is not EntryKind.TIMER]


def set_to(view: View, **seen: object) -> View:
    return replace(view, firing=replace(view.firing, prepared=Preparation(**seen)))  # type: ignore[arg-type]


def known(over: View, learned: Learned, *gaps: float) -> Learned:
    for gap in gaps:
        learned, _ = after_trip(set_to(over, gap_millimetres=gap), learned)
    return learned


def trip(over: View, learned: Learned | None = None) -> Tripped:
    _, told = after_trip(over, learned or Learned())
    assert told is not None
    return told


def test_a_trip_is_told_with_what_was_expected_of_it_and_how_it_was_set(over: View) -> None:
    told = trip(set_to(over, seated=True, rod_centred=True, gap_millimetres=4.8))
    assert (told.firing, told.gap_millimetres, told.age, told.lesson) == (over.firing.id, 4.8, 0, Lesson.TAUGHT)
    assert abs(told.late_celsius - told.expected.value) < 3 * told.expected.deviation


@pytest.mark.parametrize("seen", [{"seated": False}, {"rod_centred": False}])
def test_a_cone_that_sat_askew_is_shown_and_teaches_nothing(over: View, seen: dict[str, bool]) -> None:
    learned, told = after_trip(set_to(over, **seen), Learned())
    assert told is not None
    assert told.lesson is Lesson.ASKEW
    assert told.late_celsius == trip(over).late_celsius
    assert (learned.firings, learned.shutoff_late) == (0, None)
    before = known(over, Learned(), 4.8, 4.8)
    after, _ = after_trip(set_to(over, **seen), before)
    assert (after.shutoff, after.firings) == (before.shutoff, before.firings)


def test_nobody_looked_is_not_askew(over: View) -> None:
    assert trip(set_to(over)).lesson is trip(over).lesson is Lesson.TAUGHT


def test_a_kiln_that_its_timer_ended_was_ended_by_no_shut_off(over: View) -> None:
    nobody_s_hand = tuple(w for w in over.firing.written if w.entry.kind is not EntryKind.SWITCH)
    firing = replace(over.firing, tripped=False, written=nobody_s_hand)
    assert firing.off_ms is not None
    wound = replace(firing, timer_ends_ms=firing.off_ms + 2 * MINUTE)
    assert after_trip(replace(over, firing=wound), Learned()) == (Learned(), None)
    later = replace(firing, timer_ends_ms=firing.off_ms + 90 * MINUTE)
    assert after_trip(replace(over, firing=later), Learned())[1] is not None
    said = replace(wound, tripped=True)
    assert after_trip(replace(over, firing=said), Learned())[1] is not None, "a person says that it tripped"


def test_the_next_firing_expects_what_its_own_gap_makes_of_it(over: View) -> None:
    learned = known(over, Learned(), 4.8)
    assert learned.shutoff is not None
    steep = replace(learned, shutoff=replace(learned.shutoff, mean=(learned.shutoff.mean[0], 3.0, 0.0)))
    usual, wider = (expecting(steep, KILN, TONIGHT.plan, gap).shutoff_late for gap in (4.8, 5.8))
    assert usual is not None
    assert wider is not None
    assert wider.value - usual.value == pytest.approx(3.0)
    assert wider.deviation > usual.deviation, "one gap says nothing of another"


def test_a_start_gives_the_firing_its_own_and_keeps_the_usual_for_the_kiln(state: State) -> None:
    assert state.learned.shutoff is not None
    moved = replace(state.learned.shutoff, mean=(state.learned.shutoff.mean[0], 3.0, 0.0), gap_millimetres=4.8)
    lit = replace(state, learned=replace(state.learned, shutoff=moved))
    at = state.line.now_ms + MINUTE

    def told(state: State, what: object) -> State:
        row = Row(KILN.name, state.sequence + 1, state.line.boot, at, what)  # type: ignore[arg-type]
        return step(state, row)[0]

    plain = told(lit, Entry(EntryKind.START, "", "05"))
    wide = told(told(lit, Preparation(gap_millimetres=6.8)), Entry(EntryKind.START, "", "05"))
    assert plain.firing is not None
    assert wide.firing is not None
    a, b = plain.firing.learned.shutoff_late, wide.firing.learned.shutoff_late
    assert a is not None
    assert b is not None
    assert b.value - a.value == pytest.approx(6.0, abs=0.01)
    assert plain.learned.shutoff_late == wide.learned.shutoff_late == a
    assert plain.firing.learned.shutoff is not None
    assert plain.firing.learned.shutoff.age == moved.age + 1, "its tube is a firing older"


def test_an_offset_that_is_learned_later_moves_no_trip_that_was_seen(over: View) -> None:
    """The shut-off drops where it drops: once the probe is known to read 6 low, that is 6 later than was thought."""
    learned = known(over, Learned(), 4.8, 4.8, 4.8)
    probe = over.reference
    offsets = tuple(Belief(6.0, 2.0) if n == probe else None for n in range(len(KILN.probe_rings)))
    before = expecting(learned, KILN, TONIGHT.plan).shutoff_late
    after = expecting(replace(learned, offsets=offsets), KILN, TONIGHT.plan).shutoff_late
    assert before is not None
    assert after is not None
    assert after.value - before.value == pytest.approx(6.0)
    # And the same trip of the same kiln, by the corrected probe, is where it is expected.
    corrected = replace(learned, offsets=offsets, shutoff_late=after)
    again = replace(over, firing=replace(over.firing, learned=corrected))
    again = replace(again, firing=replace(again.firing, alpha_at_end=again.work.shutoff))
    assert trip(again, corrected).lesson is Lesson.TAUGHT


def test_cones_read_on_the_shelf_do_not_shift_a_trip_that_was_judged_without_them(over: View) -> None:
    firing = over.firing
    assert firing.off_ms is not None
    entry = Written(10**6, firing.off_ms + 40 * MINUTE, 0, Entry(EntryKind.CONE, "", "05:45"))
    alpha = firing.work[over.reference].firing * 0.7
    seen = Sighting(10**6, over.reference, "05", Body.ORDINARY, 45.0, alpha, firing.peaks[over.reference])
    later = replace(firing, written=(*firing.written, entry), sightings=(*firing.sightings, seen))
    with_cone = replace(over, firing=later)
    assert with_cone.taught(over.reference).offset != over.taught(over.reference).offset
    assert trip(with_cone) == trip(over)


def written(what: Care, ring: str = "") -> Written:
    return Written(10**7, 0, 0, Entry(EntryKind.MAINTENANCE, ring, what))


def test_a_new_tube_is_a_shut_off_nobody_has_seen_trip(over: View) -> None:
    learned = known(over, Learned(), 4.8, 5.2, 4.4)
    assert learned.shutoff is not None
    aged = a_firing_older(over.firing, learned)
    assert aged.shutoff == replace(learned.shutoff, age=1)
    renewed = a_firing_older(write(over.firing, written(Care.TUBE)), learned)
    assert renewed.shutoff is not None
    assert (renewed.shutoff.age, renewed.firings) == (0, 0)
    assert expecting(renewed, KILN, TONIGHT.plan).shutoff_late is None
    other = a_firing_older(write(over.firing, written(Care.ELEMENTS)), learned)
    assert other == aged
    undone = replace(written(Care.TUBE), undone=True)
    kept = replace(over.firing, written=(*over.firing.written, undone))
    assert a_firing_older(kept, learned) == aged


def test_a_firing_that_never_got_hot_makes_no_tube_older(over: View) -> None:
    learned = known(over, Learned(), 4.8)
    candled = replace(over.firing, peaks=(140.0,) * len(over.firing.peaks))
    assert a_firing_older(candled, learned).shutoff == learned.shutoff


def test_another_probe_that_decides_leaves_the_trips_less_sure_and_another_ring_s_does_not(over: View) -> None:
    learned = a_firing_older(over.firing, known(over, Learned(), 4.8, 4.8))
    deciding = KILN.probe_rings[over.reference]
    for ring in KILN.probe_rings:
        entry = written(Care.PROBE, KILN.rings[ring].name)
        found = a_firing_older(write(over.firing, entry), known(over, Learned(), 4.8, 4.8))
        assert (found == learned) == (ring != deciding)
    rings = list(KILN.rings)
    rings[deciding] = replace(rings[deciding], probe=Probe("N"))
    described_anew = by_other_probe(learned, KILN, replace(KILN, rings=tuple(rings)), TONIGHT.plan)
    before, after = (expecting(each, KILN, TONIGHT.plan).shutoff_late for each in (learned, described_anew))
    assert before is not None
    assert after is not None
    assert after.deviation > before.deviation
    assert by_other_probe(learned, KILN, KILN, TONIGHT.plan) is learned


def test_what_an_earlier_release_had_learned_is_gone_on_with(over: View) -> None:
    old = Learned(firings=9, shutoff_late=Belief(9.0, 1.5))
    firing = replace(over.firing, learned=old)
    view = replace(over, firing=firing)
    learned, told = after_trip(view, old)
    assert told is not None
    assert learned.firings == 10
    assert learned.shutoff_late is not None
    assert learned.shutoff_late.deviation < 1.6
    assert abs(learned.shutoff_late.value - 9.0) < 3.0


def test_it_is_told_to_the_journal_once(state: State) -> None:
    from spyhole.core.fitted import due

    assert state.trip is not None
    assert state.trip in due(state)
    row = Row(KILN.name, state.sequence + 1, state.line.boot, state.line.now_ms, state.trip)
    assert state.trip not in due(step(state, row)[0])


def test_lessons_of_a_firing_count_it_once(state: State) -> None:
    assert state.settings == Settings(KILN, TONIGHT.plan)
    once, twice = lessons(state), lessons(state)
    assert once == twice
    assert once.shutoff is not None
    assert once.shutoff.age == 1
