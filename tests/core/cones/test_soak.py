"""What a climb and a soak do together."""

import doctest
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.cones import soak
from spyhole.core.cones.kinetics import Cone, cone, cone_names, end_point_celsius, heat_work
from spyhole.core.cones.soak import Climb, alpha_after, peak_celsius, soak_minutes, soak_worth_celsius
from spyhole.core.plan import Body

every_cone = st.sampled_from([cone(name, body) for body in Body for name in cone_names(body)])
climbs = st.floats(min_value=15.0, max_value=150.0)
below = st.floats(min_value=0.0, max_value=120.0)


def test_the_examples_in_the_docstrings_hold() -> None:
    assert doctest.testmod(soak).failed == 0


@given(every_cone, climbs, st.floats(min_value=0.0, max_value=600.0))
def test_a_peak_with_its_soak_brings_the_cone_just_down(one: Cone, rate: float, minutes: float) -> None:
    peak = peak_celsius(one, Climb(rate), minutes)
    assert alpha_after(one, Climb(rate), peak, minutes) == pytest.approx(1.0, rel=1e-6)
    assert peak <= end_point_celsius(one, rate) + 1e-6


@given(every_cone, climbs, below)
def test_the_soak_of_a_peak_and_the_peak_of_a_soak_are_one_answer(one: Cone, rate: float, short: float) -> None:
    peak = end_point_celsius(one, rate) - short
    minutes = soak_minutes(one, Climb(rate), peak)
    assert minutes >= 0.0
    assert peak_celsius(one, Climb(rate), minutes) == pytest.approx(peak, abs=0.05)


@given(every_cone, climbs, below, st.floats(min_value=1.0, max_value=300.0))
def test_a_longer_soak_needs_a_lower_peak_and_a_lower_peak_a_longer_soak(
    one: Cone, rate: float, short: float, minutes: float
) -> None:
    climb, end = Climb(rate), end_point_celsius(one, rate)
    assert peak_celsius(one, climb, minutes * 1.2) < peak_celsius(one, climb, minutes)
    assert soak_minutes(one, climb, end - short - 1.0) > soak_minutes(one, climb, end - short)


@given(every_cone, climbs, below, st.floats(min_value=1.0, max_value=300.0))
def test_a_soak_is_worth_the_climb_that_does_the_same(one: Cone, rate: float, short: float, minutes: float) -> None:
    climb, held = Climb(rate), end_point_celsius(one, rate) - short
    worth = soak_worth_celsius(one, climb, held, minutes)
    assert worth > 0.0
    assert climb.alpha(one, held + worth) == pytest.approx(alpha_after(one, climb, held, minutes), rel=1e-6)


@given(every_cone, climbs, below, st.floats(min_value=1.0, max_value=300.0))
def test_readings_of_climb_and_soak_add_up_to_the_answer(one: Cone, rate: float, short: float, minutes: float) -> None:
    end = end_point_celsius(one, rate) - short
    start = end - 100.0
    steps = 200
    climbed = sum(
        heat_work(one, start + 0.5 * i, start + 0.5 * (i + 1), 0.5 / rate * 3600.0) for i in range(steps)
    ) + heat_work(one, end, end, minutes * 60.0)
    assert climbed == pytest.approx(alpha_after(one, Climb(rate, start), end, minutes), rel=2e-4, abs=1e-12)


@given(every_cone, climbs, st.floats(min_value=1.0, max_value=60.0))
def test_a_climb_that_begins_late_ends_later_but_hardly_when_it_begins_far_below(
    one: Cone, rate: float, short: float
) -> None:
    end = end_point_celsius(one, rate)
    assert Climb(rate, end - short).celsius(one, 1.0) > end
    assert Climb(rate, end - 300.0).celsius(one, 1.0) == pytest.approx(end, abs=1.0)


def test_a_peak_at_which_nothing_happens_takes_for_ever() -> None:
    assert soak_minutes(cone("6"), Climb(60.0), 20.0) == math.inf
    assert soak_worth_celsius(cone("6"), Climb(60.0), 1200.0, 0.0) == pytest.approx(0.0, abs=1e-6)
