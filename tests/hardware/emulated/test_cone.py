"""Cones of the emulated kiln bend when the chart says, and once down stay down."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole_hardware.emulated.cone import SMALL_AT_300, STANDING_AT_60, Cone, cooler, standing


def end_point(cone: Cone, celsius_per_hour: float) -> float:
    """degC at which it is down, climbing at this rate from the cold."""
    celsius = 300.0
    while not cone.down:
        cone.step(2, celsius + celsius_per_hour / 3600)  # the middle of the two seconds
        celsius += 2 * celsius_per_hour / 3600
    return celsius


@pytest.mark.parametrize("name", ["022", "06", "05", "04", "5", "10"])
def test_each_is_down_at_its_published_end_point(name: str) -> None:
    """Orton chart: self-supporting at 60 degC/h, small at 300 degC/h."""
    assert end_point(standing(name), 60) == pytest.approx(STANDING_AT_60[name], abs=0.3)
    assert end_point(Cone(SMALL_AT_300[name], 300), 300) == pytest.approx(SMALL_AT_300[name], abs=0.3)


@pytest.mark.parametrize(("name", "at_15", "at_150"), [("06", 981, 1013), ("05", 1021, 1044), ("04", 1046, 1077)])
def test_at_other_climbs_it_is_near_the_chart_without_having_seen_it(name: str, at_15: int, at_150: int) -> None:
    """The chart's other columns, self-supporting; one activation energy for all is worth a dozen degrees."""
    assert end_point(standing(name), 15) == pytest.approx(at_15, abs=13)
    assert end_point(standing(name), 150) == pytest.approx(at_150, abs=13)


def test_five_and_zero_five_are_not_the_same_cone() -> None:
    assert STANDING_AT_60["5"] - STANDING_AT_60["05"] == 155


def test_it_leans_8_degrees_fresh_and_90_down() -> None:
    cone = standing("05")
    assert cone.bend_degrees == pytest.approx(8)
    cone.work = 1
    assert cone.bend_degrees == pytest.approx(90, abs=0.5)
    cone.work = 30
    assert cone.bend_degrees == 90


@given(st.lists(st.floats(min_value=-3, max_value=1400), max_size=50))
def test_heat_work_never_goes_back(celsius: list[float]) -> None:
    cone = standing("05")
    for degrees in celsius:
        before = cone.work
        cone.step(5, degrees)
        assert cone.work >= before


def test_the_guide_is_one_whole_number_cooler() -> None:
    assert [cooler(name) for name in ("05", "1", "022")] == ["06", "01", None]


def test_a_cone_nobody_makes_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="no cone '5a'"):
        standing("5a")


def test_another_engineers_kinetics_meet_at_the_published_rate_and_part_elsewhere() -> None:
    """A lower activation energy makes a cone mind its climb more."""
    easy, hard = (lambda: Cone(1031, 60, 650e3)), (lambda: Cone(1031, 60, 1_050e3))
    assert end_point(easy(), 60) == pytest.approx(end_point(hard(), 60), abs=0.6)
    assert end_point(easy(), 150) > end_point(hard(), 150) + 5
