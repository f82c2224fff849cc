"""A cone seen by somebody, through the fold, over Puffin's firing without troubles."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from spyhole.core import watch
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Row, Undo
from spyhole.core.outcome import AlarmOutcome, PromptOutcome
from spyhole.core.state import State, view_with
from spyhole.core.view import View

Fire = Callable[..., Any]
SEEN = 900_001


@pytest.fixture(scope="module")
def until(fired: Fire) -> Callable[[float], tuple[State, Row, tuple[Row, ...]]]:
    """The state, the last row and the rows to come, once the watch holds the firing cone at this much heat work."""
    rows = fired("none", 30).rows

    @cache
    def reach(alpha: float) -> tuple[State, Row, tuple[Row, ...]]:
        state = watch.begin()
        for i, row in enumerate(rows):
            state, _ = watch.step(state, row)
            if state.firing is not None and view_of(state).work.firing >= alpha:
                return state, row, rows[i + 1 :]
        raise AssertionError("never so far")

    return reach


def view_of(state: State) -> View:
    assert state.firing is not None
    return view_with(state, state.firing)


def see(state: State, row: Row, value: str, ring: str | None = None, ago_minutes: int = 0) -> Any:
    view = view_of(state)
    named = ring or view.ring_name(view.reference)
    happened = state.line.utc_ms - ago_minutes * 60_000 if ago_minutes else None
    return watch.step(
        state, replace(row, sequence=SEEN, told=Entry(EntryKind.CONE, named, value, "Wren", happened_utc_ms=happened))
    )


def firing_name(state: State) -> str:
    return view_of(state).pack.firing.name


def test_a_cone_further_over_than_we_thought_raises_heat_work_and_narrows_it(until: Any) -> None:
    state, row, _ = until(0.5)
    before = view_of(state)
    state, said = see(state, row, f"{firing_name(state)}:60")
    after = view_of(state)
    assert said == ()
    assert 0.5 <= before.work.firing < after.work.firing < 0.8
    assert after.work.guard > before.work.guard
    assert state.firing.work == before.firing.work, "what was read stays as it was read"
    one = after.pack.firing
    (low, high), (wide_low, wide_high) = after.alpha_between(one, 1.0), before.alpha_between(one, 1.0)
    assert wide_low < low < 1.0 < high < wide_high
    assert after.doubt_factor(one) < before.doubt_factor(one)


def test_beside_a_probe_that_was_lost_long_ago_a_cone_is_read_at_its_rings_own_heat(until: Any) -> None:
    """The probe last spoke at 435 degC. A cone's width there is a third of what it is at its end, so that the offset it
    teaches would be worth many times the heat work."""
    state, row, _ = until(0.5)
    reference = view_of(state).reference
    fit = tuple(i != reference for i in range(len(state.fit)))
    peaks = tuple(435.0 if i == reference else p for i, p in enumerate(state.firing.peaks))
    lost = replace(state, fit=fit, firing=replace(state.firing, peaks=peaks))
    assert view_of(lost).peak_of(reference) == pytest.approx(view_of(state).peak_of(reference), abs=5.0)
    whole, _ = see(state, row, f"{firing_name(state)}:60")
    seen, _ = see(lost, row, f"{firing_name(state)}:60")
    assert view_of(seen).work.firing == pytest.approx(view_of(whole).work.firing, abs=0.05)


def test_through_its_neighbours_a_ring_hides_more_heat_work(until: Any) -> None:
    state, _, _ = until(0.5)
    view = view_of(state)
    lost = replace(view, fit=tuple(i != view.reference for i in range(len(view.fit))))
    assert lost.doubt_factor(view.pack.guard) > view.doubt_factor(view.pack.guard) > 1.0


def test_undone_it_is_as_if_nobody_had_seen_it(until: Any) -> None:
    state, row, _ = until(0.5)
    seen, _ = see(state, row, f"{firing_name(state)}:60")
    back, _ = watch.step(seen, replace(row, sequence=SEEN + 1, told=Undo(SEEN, "Wren")))
    assert view_of(back).work == view_of(state).work
    assert (
        view_of(back).taught(view_of(back).reference).offset == view_of(state).taught(view_of(state).reference).offset
    )


@pytest.mark.parametrize("value", ["{}:flat", "{}:down", "{}:70", "10:down"])
def test_a_mistaken_entry_hours_too_early_moves_nothing_and_is_asked_about_once(until: Any, value: str) -> None:
    state, row, ahead = until(1e-6)
    state, said = see(state, row, value.format(firing_name(state)))
    assert [p.tag for p in said if isinstance(p, PromptOutcome)] == ["cone-doubted"]
    assert view_of(state).work.firing == pytest.approx(1e-6, rel=2.0)
    more = []
    for later in ahead[:400]:
        state, said = watch.step(state, later)
        more += [o for o in said if isinstance(o, AlarmOutcome) or getattr(o, "tag", "") == "cone-doubted"]
    assert more == []


def test_a_witness_cone_of_another_number_counts_too(until: Any) -> None:
    state, row, _ = until(1.0)
    before = view_of(state)
    assert before.pack.guide is not None
    after = view_of(see(state, row, f"{before.pack.guide.name}:down")[0])
    # The guide has long been down by our own reckoning: no news, so hardly a move.
    assert abs(after.taught(after.reference).offset.value) < 1.0
    # A half cone, which no pack holds, found only half over when we held it down: we read high.
    state, row, _ = until(0.5)
    low = view_of(see(state, row, "05.5:50")[0])
    assert low.taught(low.reference).doubted == ()
    assert low.taught(low.reference).offset.value < -5.0


def test_an_entry_written_late_is_held_against_what_was_then(until: Any) -> None:
    state, row, _ = until(1.0)
    name = firing_name(state)
    at_once = view_of(see(state, row, f"{name}:45")[0])
    late = view_of(see(state, row, f"{name}:45", ago_minutes=6)[0])
    assert at_once.taught(at_once.reference).offset.value < late.taught(late.reference).offset.value


def test_a_cone_on_a_ring_without_a_probe_is_only_written_down(until: Any) -> None:
    state, row, _ = until(0.5)
    view = view_of(state)
    kiln = view.firing.kiln
    blind = tuple(
        replace(ring, probe=None) if i != view.firing.plan.reference_ring else ring for i, ring in enumerate(kiln.rings)
    )
    one_probe = replace(
        state,
        firing=replace(
            view.firing,
            kiln=replace(kiln, rings=blind),
            work=(view.work,),
            peaks=(view.firing.peaks[view.reference],),
            apart=(0.0,),
            sightings=(),
        ),
        tracks=(state.tracks[view.reference],),
        doubts=(None,),
        fit=(True,),
    )
    elsewhere = next(i for i in range(len(kiln.rings)) if i != view.firing.plan.reference_ring)
    after, _ = see(one_probe, row, f"{firing_name(state)}:60", ring=kiln.rings[elsewhere].name)
    assert after.firing.sightings == ()
    assert len(after.firing.written) == len(view.firing.written) + 1


def test_witness_cones_read_on_the_table_teach_the_next_firing_its_probe(fired: Fire) -> None:
    """The morning after: the firing is long over, and its cones are looked at one by one."""
    done = fired("none", 30)
    state, row = done.state, done.rows[-1]
    assert state.firing.ended
    before, seen = view_of(state).offset_before(view_of(state).reference), len(state.firing.sightings)
    for number, value in enumerate(("06:down", f"{firing_name(state)}:70", "03:15")):
        state, _ = watch.step(state, replace(row, sequence=SEEN + number, told=seen_cold(state, value)))
    assert len(state.firing.sightings) == seen + 3
    probe = view_of(state).reference
    taught = view_of(state).taught(probe).offset
    assert taught.deviation < before.deviation
    assert state.learned.offsets == (), "the next firing asks for it, this one keeps what it began with"
    state, _ = watch.step(state, replace(row, sequence=SEEN + 9, told=Entry(EntryKind.START, "", "05", "Wren")))
    assert state.firing.learned.offsets[probe] == taught
    assert [each is None for each in state.learned.offsets] == [each != probe for each in range(3)]


def seen_cold(state: State, value: str) -> Entry:
    view = view_of(state)
    return Entry(EntryKind.CONE, view.ring_name(view.reference), value, "Wren")
