"""A cone: which there are, who guides and guards it, how its work grows."""

import doctest
import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.cones import integral, kinetics, tolerance
from spyhole.core.cones.kinetics import (
    alpha_of_bend,
    alpha_of_climb,
    alpha_words,
    bend_degrees,
    bend_words,
    cone,
    cone_names,
    end_point_celsius,
    guard_of,
    guide_of,
    heat_work,
    whole_cones,
)
from spyhole.core.plan import Body
from spyhole.core.refusal import Refusal

kiln_celsius = st.floats(min_value=-50.0, max_value=1820.0)
every_cone = st.sampled_from([cone(name, body) for body in Body for name in cone_names(body)])


@pytest.mark.parametrize("module", [integral, kinetics, tolerance])
def test_the_examples_in_the_docstrings_hold(module: object) -> None:
    assert doctest.testmod(module).failed == 0  # type: ignore[arg-type]


def test_05_and_5_are_two_cones() -> None:
    assert cone("5").end_60_celsius - cone("05").end_60_celsius > 150.0


@pytest.mark.parametrize("name", ["", "15", "005", "5.0", " 05", "05 ", "o5", "cone 05", "023"])
def test_a_name_that_is_no_cone_is_refused_with_the_cones_there_are(name: str) -> None:
    with pytest.raises(Refusal, match=r"the ordinary cones are 022, 021, .*, 13, 14$"):
        cone(name)


def test_iron_free_has_no_cone_2() -> None:
    with pytest.raises(Refusal, match="there is no iron-free cone '2'"):
        cone("2", Body.IRON_FREE)
    guide, guard = guide_of(cone("3", Body.IRON_FREE)), guard_of(cone("1", Body.IRON_FREE))
    assert guide is not None
    assert guide.name == "1"
    assert guard is not None
    assert guard.name == "3"


@pytest.mark.parametrize("body", Body)
def test_guide_and_guard_are_whole_numbers_on_either_side_and_end_with_the_chart(body: Body) -> None:
    whole = whole_cones(body)
    assert not any("." in name for name in whole)
    for name in cone_names(body):
        one = cone(name, body)
        guide, guard = guide_of(one), guard_of(one)
        assert (guide is None) == (name == whole[0])
        assert (guard is None) == (name == whole[-1])
        for other in (guide, guard):
            assert other is None or (other.name in whole and other.body is body)
        assert guide is None or guide.end_60_celsius < one.end_60_celsius
        assert guard is None or guard.end_60_celsius > one.end_60_celsius


@given(every_cone, kiln_celsius, kiln_celsius)
def test_hotter_works_faster_and_nothing_a_probe_can_read_breaks_it(
    one: kinetics.Cone, first: float, second: float
) -> None:
    cooler, hotter = sorted((one.rate_per_second(first), one.rate_per_second(second)))
    assert 0.0 <= cooler <= hotter < math.inf
    if first > second:
        assert one.rate_per_second(first) >= one.rate_per_second(second)


@given(every_cone, kiln_celsius, kiln_celsius, st.floats(min_value=0.0, max_value=86_400.0))
def test_heat_work_never_falls_and_cooling_through_a_band_does_what_climbing_does(
    one: kinetics.Cone, start: float, end: float, seconds: float
) -> None:
    up = heat_work(one, start, end, seconds)
    assert 0.0 <= up < math.inf
    assert heat_work(one, end, start, seconds) == pytest.approx(up, rel=1e-9)


@given(
    every_cone,
    st.floats(min_value=-150.0, max_value=60.0),
    st.floats(min_value=-200.0, max_value=200.0),
    st.floats(min_value=1.0, max_value=3600.0),
)
def test_one_straight_step_is_worth_its_hundred_parts(
    one: kinetics.Cone, below_end: float, step: float, seconds: float
) -> None:
    start = one.end_60_celsius + below_end
    parts = [start + step * i / 100.0 for i in range(101)]
    whole = sum(heat_work(one, a, b, seconds / 100.0) for a, b in pairwise(parts))
    assert heat_work(one, start, start + step, seconds) == pytest.approx(whole, rel=1e-4, abs=1e-12)


def test_no_time_is_no_work() -> None:
    assert heat_work(cone("6"), 1222.0, 1230.0, 0.0) == 0.0
    assert heat_work(cone("6"), 1222.0, 1230.0, -5.0) == 0.0


@given(every_cone, st.floats(min_value=5.0, max_value=500.0))
def test_a_cone_is_down_at_its_end_point_and_a_faster_climb_ends_hotter(one: kinetics.Cone, rate: float) -> None:
    end = end_point_celsius(one, rate)
    assert alpha_of_climb(one, end, rate) == pytest.approx(1.0, abs=1e-6)
    assert end_point_celsius(one, rate * 1.1) > end


@given(st.floats(min_value=0.0, max_value=1.0))
def test_bend_and_heat_work_say_the_same(alpha: float) -> None:
    assert alpha_of_bend(bend_degrees(alpha)) == pytest.approx(alpha, abs=1e-9)


@given(st.floats(min_value=-1.0, max_value=1e9))
def test_a_bend_stays_between_upright_and_down(alpha: float) -> None:
    assert 7.999 <= bend_degrees(alpha) <= 90.0


def test_a_cone_passes_through_every_word_once() -> None:
    said = [alpha_words(i / 100.0) for i in range(300)]
    assert list(dict.fromkeys(said)) == ["upright", "leaning", "half over", "tip nearly level", "down", "flat"]
    assert sum(a != b for a, b in pairwise(said)) == 5
    assert bend_words(bend_degrees(1.0)) == "down"
