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
    TRIP_CELSIUS,
    down_between,
    late_prior,
    lateness_celsius,
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
def test_heat_work_at_the_trip_says_how_late_it_was(name: str, later: float) -> None:
    celsius = shutoff_cone(name).end_60_celsius
    alpha = exp(later / shutoff_cone(name).width_celsius(celsius))
    assert lateness_celsius(name, None, alpha, celsius) == pytest.approx(late_prior(name).value + later, abs=1e-6)


@pytest.mark.parametrize("known", [None, Belief(12.0, 2.0)])
def test_it_is_the_same_lateness_whatever_was_believed_before(known: Belief | None) -> None:
    tripped_at = cone("05").end_60_celsius + 14.0
    one = shutoff_cone("05", known)
    alpha = exp((tripped_at - one.end_60_celsius) / one.width_celsius(tripped_at))
    assert lateness_celsius("05", known, alpha, tripped_at) == pytest.approx(14.0)


def test_a_cone_that_has_done_no_work_says_nothing() -> None:
    assert lateness_celsius("05", None, 0.0, 1030.0) is None


def test_where_it_trips_is_the_surer_the_more_is_known() -> None:
    known = Belief(14.0, 2.0)
    early, middle, latest = down_between("05", 60.0, known, UNCHECKED)
    at_first = down_between("05", 60.0, None, UNCHECKED)
    assert early < middle < latest
    assert latest - early < 0.6 * (at_first[2] - at_first[0])
    assert shutoff_cone("05", known).end_60_celsius == pytest.approx(cone("05").end_60_celsius + 14.0)
    assert trip_deviation_celsius(known, UNCHECKED) > TRIP_CELSIUS


def test_it_is_surely_down_only_well_past_its_number() -> None:
    low, high = shutoff_alpha_between("05", 1.0, 1040.0, None, UNCHECKED)
    assert low < 0.5
    assert high > 2.0
    assert shutoff_alpha_between("05", 6.0, 1060.0, None, UNCHECKED)[0] > 1.0
    assert shutoff_alpha_between("05", 2.5, 1045.0, Belief(6.0, 2.0), UNCHECKED)[0] > 1.0
