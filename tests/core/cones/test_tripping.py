"""A shut-off's own trips teach how late it is, and what its trigger's gap and its tube's age do to that."""

import random
from math import hypot, sqrt
from statistics import mean

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.cones.doubt import EIGHTY_PERCENT
from spyhole.core.cones.tripping import (
    AGE,
    AGE_CELSIUS,
    BIAS,
    CHANGED_AFTER,
    GAP,
    GAP_CELSIUS,
    SCATTER_CELSIUS,
    begun,
    effect,
    expected,
    learned_from,
    older,
    with_new_probe,
    with_new_tube,
)
from spyhole.core.learned import Belief, ShutoffHabit

UNSEEN = Belief(6.0, 9.8)
"""Cone 05 in a shut-off nobody has seen trip, by an uncalibrated probe: 8 of its own and 5.6 of the probe's."""


def taught(trips: list[tuple[float, float | None]], unseen: Belief = UNSEEN) -> ShutoffHabit:
    """(late, gap) in a row, a firing each."""
    habit = begun(unseen)
    for late, gap in trips:
        habit, _ = learned_from(habit, late, gap, unseen)
        habit = older(habit)
    return habit


def test_before_any_trip_only_the_chart_speaks() -> None:
    habit = begun(UNSEEN)
    assert expected(habit, 4.8) == UNSEEN
    assert habit.trips == 0


@given(st.floats(min_value=-20.0, max_value=20.0))
def test_one_trip_moves_what_is_believed_towards_itself_and_narrows_it(later: float) -> None:
    habit, doubted = learned_from(begun(UNSEEN), UNSEEN.value + later, None, UNSEEN)
    after = expected(habit)
    assert not doubted
    assert abs(after.value - UNSEEN.value) <= abs(later) + 1e-3
    assert (after.value - UNSEEN.value) * later >= 0.0
    assert after.deviation < UNSEEN.deviation


def test_it_is_the_regression_of_all_trips_with_the_same_priors() -> None:
    """Ridge regression solved whole by NumPy: the normal equations of prior and trips together."""
    d = random.Random("ridge")
    gaps = [4.8, *(round(d.uniform(4.0, 5.6), 1) for _ in range(14))]
    trips = [(d.gauss(9.0 + 3.0 * (gap - 4.8) + 0.1 * n, 4.0), gap) for n, gap in enumerate(gaps)]
    design = np.array([[1.0, gap - 4.8, float(n)] for n, (_, gap) in enumerate(trips)])
    late = np.array([each for each, _ in trips])
    prior = np.diag([UNSEEN.deviation**-2, GAP_CELSIUS**-2, AGE_CELSIUS**-2])
    precision = prior + design.T @ design / SCATTER_CELSIUS**2
    solved = np.linalg.solve(precision, prior @ [UNSEEN.value, 0.0, 0.0] + design.T @ late / SCATTER_CELSIUS**2)
    spread = np.linalg.inv(precision)
    habit = taught(trips)
    for which in (BIAS, GAP, AGE):
        found = effect(habit, which)
        assert found.value == pytest.approx(solved[which], abs=0.01)
        assert found.deviation == pytest.approx(sqrt(spread[which, which]), rel=0.01)


def kiln(d: random.Random, trips: int) -> tuple[list[tuple[float, float]], float, float]:
    """A drawn kiln's trips with their gaps, and the next one: when it would come on the mean, and its gap."""
    bias, per_gap, per_firing = d.gauss(UNSEEN.value, 8.0), d.gauss(0.0, 4.0), d.gauss(0.0, 0.1)
    gaps = [d.gauss(4.8, 0.5) for _ in range(trips + 1)]
    late = [bias + per_gap * (gap - gaps[0]) + per_firing * n for n, gap in enumerate(gaps)]
    seen = [(d.gauss(each, SCATTER_CELSIUS), gap) for each, gap in zip(late, gaps, strict=True)]
    return seen[:-1], late[-1], gaps[-1]


@pytest.mark.parametrize("trips", [1, 2, 4, 8, 20, 60])
def test_eight_in_ten_next_trips_fall_within_its_interval(trips: int) -> None:
    d = random.Random(f"coverage {trips}")
    within = []
    for _ in range(600):
        seen, mean_late, gap = kiln(d, trips)
        known = expected(taught(list(seen)), gap)
        at = d.gauss(mean_late, SCATTER_CELSIUS)
        within.append(abs(at - known.value) <= EIGHTY_PERCENT * hypot(known.deviation, SCATTER_CELSIUS))
    # Five binomial deviations of 600 at 0.8, and what the doubt of the furthest trips costs.
    assert 0.8 - 5 * sqrt(0.16 / 600) - 0.02 < mean(within) < 0.8 + 5 * sqrt(0.16 / 600) + 0.02


def test_the_gap_is_worth_measuring_after_some_trips_and_costs_nothing_after_few() -> None:
    """Mean error of the next trip's mean, with the gap told and not told."""
    d = random.Random("worth")
    for trips, gain in ((2, 0.97), (12, 0.9)):
        told, untold = [], []
        for _ in range(400):
            seen, late, gap = kiln(d, trips)
            told.append(abs(expected(taught(list(seen)), gap).value - late))
            untold.append(abs(expected(taught([(each, None) for each, _ in seen])).value - late))
        assert mean(told) < gain * mean(untold)


def test_a_tube_that_ages_is_followed_where_a_plain_mean_falls_behind() -> None:
    d = random.Random("ages")
    late = [d.gauss(6.0 + 0.2 * n, SCATTER_CELSIUS) for n in range(60)]
    habit = taught([(each, 4.8) for each in late])
    age = effect(habit, AGE)
    assert age.value > EIGHTY_PERCENT * age.deviation, "beyond chance"
    assert abs(expected(habit, 4.8).value - 18.0) < 0.5 * abs(mean(late) - 18.0)


def test_gaps_that_never_differed_say_nothing_of_the_gap() -> None:
    habit = taught([(10.0, 4.8)] * 12)
    assert effect(habit, GAP) == Belief(0.0, GAP_CELSIUS)
    assert expected(habit, 5.8).deviation > expected(habit, 4.8).deviation


def test_a_gap_that_nobody_measured_leaves_more_open_than_one_that_was() -> None:
    habit = taught([(10.0, 4.8), (14.0, 5.8), (6.0, 3.8)])
    assert expected(habit, None).deviation > expected(habit, 4.8).deviation


def test_a_knock_a_timer_or_another_cone_teaches_nothing() -> None:
    known = taught([(10.0, 4.8)] * 6)
    after, doubted = learned_from(known, 55.0, 4.8, UNSEEN)
    assert doubted
    assert expected(after, 4.8) == expected(known, 4.8)
    assert (after.trips, after.strays) == (6, 1)
    assert learned_from(after, 11.0, 4.8, UNSEEN)[0].strays == 0, "one that fits ends the row"
    assert learned_from(after, -40.0, 4.8, UNSEEN)[0].strays == -1, "one too soon is another row"


def test_a_shut_off_that_has_changed_for_good_is_believed_at_last() -> None:
    habit = taught([(6.0, 4.8)] * 40)
    for n in range(CHANGED_AFTER):
        habit, doubted = learned_from(habit, 26.0, 4.8, UNSEEN)
        assert doubted == (n < CHANGED_AFTER - 1)
    assert (habit.trips, habit.strays) == (1, 0)
    assert expected(habit, 4.8).value == pytest.approx(26.0, abs=6.0)
    for _ in range(5):
        habit, doubted = learned_from(habit, 26.0, 4.8, UNSEEN)
        assert not doubted
    assert expected(habit, 4.8).value == pytest.approx(26.0, abs=2.0)


def test_a_new_tube_begins_with_the_chart_and_keeps_what_gaps_do() -> None:
    d = random.Random("tube")
    gaps = [d.uniform(3.8, 5.8) for _ in range(40)]
    habit = taught([(d.gauss(20.0 + 5.0 * (gap - gaps[0]), SCATTER_CELSIUS), gap) for gap in gaps])
    new = with_new_tube(habit, UNSEEN)
    assert (new.age, new.trips) == (0, 0)
    assert expected(new, habit.gap_millimetres).value == pytest.approx(UNSEEN.value, abs=1e-3)
    assert expected(new, habit.gap_millimetres).deviation == pytest.approx(UNSEEN.deviation, rel=1e-3)
    assert effect(new, GAP) == effect(habit, GAP)


def test_another_probe_sees_the_same_shut_off_as_late_by_the_difference_of_the_two() -> None:
    habit = taught([(6.0, 4.8)] * 12)
    # The old one had to have 5 added, so its trips were 5 later than it said; of the new one nobody knows.
    other = with_new_probe(habit, Belief(5.0, 2.0), Belief(0.0, 5.6))
    before, after = expected(habit, 4.8), expected(other, 4.8)
    assert after.value == pytest.approx(before.value + 5.0)
    assert after.deviation == pytest.approx(sqrt(before.deviation**2 + 2.0**2 + 5.6**2), abs=0.01)


@given(
    st.lists(
        st.tuples(st.floats(min_value=-30.0, max_value=60.0), st.none() | st.floats(min_value=0.0, max_value=20.0)),
        max_size=40,
    )
)
def test_whatever_comes_it_stays_a_belief(trips: list[tuple[float, float | None]]) -> None:
    habit = taught(trips)
    for gap in (None, 0.0, 4.8, 20.0):
        assert expected(habit, gap).deviation >= 0.0
    assert abs(habit.strays) < CHANGED_AFTER
    assert habit.age == len(trips)
