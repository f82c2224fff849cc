"""The small cone in the shut-off is its own cone."""

import doctest
from math import exp

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.cones import large, shutoff
from spyhole.core.cones.doubt import offset_prior
from spyhole.core.cones.kinetics import cone, cone_names, end_point_celsius, whole_cones
from spyhole.core.cones.large import large_cone
from spyhole.core.cones.shutoff import (
    ASKEW_CELSIUS,
    TRIP_CELSIUS,
    down_between,
    late_prior,
    learn_late,
    shutoff_alpha_between,
    shutoff_cone,
    trip_deviation_celsius,
)
from spyhole.core.kiln import Probe
from spyhole.core.learned import Belief
from spyhole.core.refusal import Refusal


@pytest.mark.parametrize("module", [shutoff, large])
def test_the_examples_in_the_docstrings_hold(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]


def test_a_large_cone_the_chart_does_not_have_is_refused() -> None:
    with pytest.raises(Refusal, match="the chart has no large cone '022'"):
        large_cone("022")


@pytest.mark.parametrize("name", cone_names())
def test_it_stays_within_what_the_chart_and_its_notes_allow(name: str) -> None:
    # Chart of temperature equivalents, small cones at 300 degC/h; its notes: 7-10 degC sooner to 5 degC later.
    moved = shutoff_cone(name).end_60_celsius - cone(name).end_60_celsius
    assert -10.0 <= moved <= 15.0


def test_it_lies_half_way_between_the_small_and_the_standing_cone() -> None:
    # The chart gives small cone 04 at 300 degC/h as 1098 degC.
    standing = end_point_celsius(cone("04"), 300)
    assert end_point_celsius(shutoff_cone("04"), 300) == pytest.approx((1098 + standing) / 2, abs=1.0)


def test_a_cone_that_is_not_made_small_is_taken_as_it_stands() -> None:
    assert shutoff_cone("14") == cone("14")


def test_an_unknown_cone_is_refused() -> None:
    with pytest.raises(Refusal, match="there is no ordinary cone 'O5'"):
        shutoff_cone("O5")


UNCHECKED = offset_prior(Probe(), 1031.0)


@given(st.sampled_from(whole_cones()), st.floats(min_value=-20.0, max_value=20.0))
def test_a_trip_moves_what_is_believed_towards_itself_and_narrows_it(name: str, later: float) -> None:
    one = shutoff_cone(name)
    celsius = one.end_60_celsius
    trip = learn_late(name, None, UNCHECKED, exp(later / one.width_celsius(celsius)), celsius)
    before = late_prior(name)
    assert not trip.doubted
    assert trip.late_celsius == pytest.approx(before.value + later, abs=1e-6)
    assert abs(trip.belief.value - before.value) <= abs(later) + 1e-9
    assert trip.belief.deviation < before.deviation


def test_trips_of_one_kiln_are_learned_and_the_next_one_stays_a_little_open() -> None:
    late: Belief | None = None
    # This shut-off trips 14 degC past the standing cone, 8 past where the prior has it, and 2 either way.
    for scatter in (0.0, 2.0, -2.0, 1.0, -1.0, 0.0):
        one = shutoff_cone("05", late)
        trip_celsius = cone("05").end_60_celsius + 14.0 + scatter
        alpha = exp((trip_celsius - one.end_60_celsius) / one.width_celsius(trip_celsius))
        late = learn_late("05", late, UNCHECKED, alpha, trip_celsius).belief
    assert late is not None
    assert late.value == pytest.approx(14.0, abs=1.0)
    assert late.deviation < 2.5
    assert shutoff_cone("05", late).end_60_celsius == pytest.approx(cone("05").end_60_celsius + late.value)
    early, middle, latest = down_between("05", 60.0, late, UNCHECKED)
    at_first = down_between("05", 60.0, None, UNCHECKED)
    assert early < middle < latest
    assert latest - early < 0.6 * (at_first[2] - at_first[0])
    assert trip_deviation_celsius(late, UNCHECKED) > TRIP_CELSIUS


def test_a_trip_of_a_cone_that_sat_askew_teaches_little() -> None:
    known = Belief(6.0, 5.0)
    one = shutoff_cone("05", known)
    alpha = exp(8.0 / one.width_celsius(1040.0))
    well = learn_late("05", known, UNCHECKED, alpha, 1040.0).belief
    askew = learn_late("05", known, UNCHECKED, alpha, 1040.0, ASKEW_CELSIUS).belief
    assert known.value < askew.value < well.value
    assert askew.value - known.value < 0.4 * (well.value - known.value)
    assert well.deviation < askew.deviation < known.deviation


@pytest.mark.parametrize("alpha", [0.0, 1e-9, 0.002, 60.0])
def test_a_knock_a_timer_or_another_cone_teaches_nothing(alpha: float) -> None:
    known = Belief(10.0, 3.0)
    trip = learn_late("05", known, UNCHECKED, alpha, 1030.0)
    assert trip.doubted
    assert trip.belief == known


def test_it_is_surely_down_only_well_past_its_number() -> None:
    low, high = shutoff_alpha_between("05", 1.0, 1040.0, None, UNCHECKED)
    assert low < 0.5
    assert high > 2.0
    assert shutoff_alpha_between("05", 6.0, 1060.0, None, UNCHECKED)[0] > 1.0
    assert shutoff_alpha_between("05", 2.5, 1045.0, Belief(6.0, 2.0), UNCHECKED)[0] > 1.0
