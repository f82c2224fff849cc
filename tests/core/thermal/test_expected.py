"""How a plan should go, drawn as a band: held to the plan's own ends, and to a firing that goes as planned."""

from dataclasses import replace
from itertools import pairwise

from spyhole.core.thermal.expected import STEP_HOURS, expected
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

PLAN = TONIGHT.plan


def test_it_ends_each_stage_about_where_the_last_good_firing_did() -> None:
    band, hours = expected(KILN, PLAN), 0.0
    for stage in PLAN.stages:
        hours += stage.hours or stage.expected_hours or 0.0
        at = min(band, key=lambda point: abs(point.hours - hours))
        ends = [end for end in stage.expected_end_celsius or () if end is not None]
        assert abs(at.hours - hours) <= STEP_HOURS
        assert at.low_celsius < min(ends)
        assert at.high_celsius > max(ends)
        assert at.high_celsius - at.low_celsius < max(ends) - min(ends) + 0.11 * max(ends) + 20.0


def test_it_begins_at_the_room_and_goes_forward_in_time() -> None:
    band = expected(KILN, PLAN, 5.0)
    assert band[0].hours == 0.0
    assert band[0].low_celsius < 5.0 < band[0].high_celsius
    assert all(one.hours < two.hours for one, two in pairwise(band))


def test_a_plan_that_knows_no_last_firing_still_comes_to_its_cone() -> None:
    bare = tuple(replace(s, expected_hours=None, expected_end_celsius=None) for s in PLAN.stages)
    band = expected(KILN, replace(PLAN, stages=bare))
    assert 900.0 < band[-1].low_celsius < 1046.0 < band[-1].high_celsius  # cone 05 at 60 degC/h: 1046, by its kinetics
