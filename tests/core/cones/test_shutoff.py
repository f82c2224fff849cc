"""The small cone in the shut-off is its own cone."""

import pytest

from spyhole.core.cones.kinetics import cone, cone_names, end_point_celsius
from spyhole.core.cones.shutoff import shutoff_cone
from spyhole.core.refusal import Refusal


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
