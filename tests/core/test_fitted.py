"""What the state itself tells the journal: once, when it is sure, and never again."""

from dataclasses import replace
from typing import Any

import pytest

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.fitted import due
from spyhole.core.heating import MISTAKEN_MS
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.learned import Belief
from spyhole.core.measured import Measured, Witnessed, alone, measure
from spyhole.core.state import State
from spyhole.core.thermal.prior import prior
from spyhole.core.watch import begin, step
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MEASURED = Measured(4, (Belief(0.0, 0.03),) * 3, Belief(6.4, 0.1))


def told(state: State, what: Told, minutes: float = 0.0) -> State:
    state, _ = step(state, Row("Puffin", state.sequence + 1, "boot", round(minutes * 60_000), what))
    return state


@pytest.fixture
def lit() -> State:
    state = told(begin(), Clock(1_950_000_000_000, True))
    return told(told(state, Settings(KILN, TONIGHT.plan)), Entry(EntryKind.START, "", "04"))


def over(state: State, **known: Any) -> State:
    assert state.firing is not None
    return replace(state, firing=replace(state.firing, elements=MEASURED, off=True, off_ms=state.line.now_ms, **known))


def test_a_firing_s_elements_are_told_once_its_end_can_no_longer_be_taken_back(lit: State) -> None:
    assert due(begin()) == due(lit) == ()
    state = over(lit)
    assert due(told(state, Clock(1_950_000_000_000, True), MISTAKEN_MS / 60_000 - 1)) == ()
    later = told(state, Clock(1_950_000_000_000, True), MISTAKEN_MS / 60_000 + 1)
    assert due(later) == due(over(lit, ended=True)) == (MEASURED,)
    assert due(told(later, MEASURED)) == ()


def test_what_cones_said_is_told_when_the_next_firing_is_lit_and_once(lit: State) -> None:
    said = Witnessed(3, (Belief(4.0, 2.0), None, None))
    state = replace(lit, witnessed=said)
    assert due(state) == (said,)
    assert due(told(state, said)) == ()


def test_nothing_is_told_of_cones_that_nobody_looked_at(lit: State) -> None:
    assert due(told(lit, Entry(EntryKind.START, "", "04"), 3000)) == ()


def test_a_belief_without_the_one_before_is_what_was_seen() -> None:
    assert alone(Belief(0.0, 5.0), Belief(0.1, 4.99)) is None
    seen = alone(Belief(1.0, 6.0), Belief(5.0, 3.0))
    assert seen is not None
    share = 6.0**2 / (6.0**2 + seen.deviation**2)  # Bayes, the other way round
    assert 1.0 + share * (seen.value - 1.0) == pytest.approx(5.0, abs=1e-3)
    assert 6.0 * (1.0 - share) ** 0.5 == pytest.approx(3.0, abs=1e-3)


def test_strengths_are_against_the_mean_of_the_rings_that_a_probe_sees() -> None:
    fresh = prior(KILN, (20.0, 20.0, 20.0), 0)
    mean = [*fresh.mean[:-3], 0.2, 0.1, -0.3]
    found = measure(7, (0, 1), replace(fresh, mean=tuple(mean)))
    assert [each and each.value for each in found.apart] == [pytest.approx(0.05), pytest.approx(-0.05), None]
    own = fresh.deviation(len(mean) - 1)
    assert found.apart[0] is not None
    assert found.apart[0].deviation == pytest.approx(own / 2**0.5, rel=1e-4)  # independent before anything is seen
    assert found.whole.value == pytest.approx(fresh.mean[12] + 0.15)
