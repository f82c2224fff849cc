"""The band a plan expects, held to the plan's own last good firing."""

from dataclasses import replace
from itertools import pairwise

from spyhole.core.plan_band import EVERY_HOURS, band
from spyhole.core.plans_course import expect, teacher_of
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

PLAN = TONIGHT.plan


def test_the_last_good_firing_ends_each_stage_inside_it() -> None:
    found, hours = band(expect(KILN, PLAN, teacher_of((PLAN,)))), 0.0
    for stage in PLAN.stages[:-1]:
        hours += stage.hours or 0.0
        at = min(found, key=lambda point: abs(point.hours - hours))
        assert abs(at.hours - hours) <= EVERY_HOURS
        for end in stage.expected_end_celsius or ():
            assert end is not None
            assert at.low_celsius < end < at.high_celsius


def test_it_begins_at_the_room_goes_forward_and_is_wider_for_a_kiln_nobody_knows() -> None:
    known = band(expect(KILN, PLAN, teacher_of((PLAN,)), room_celsius=5.0))
    bare = tuple(replace(s, expected_hours=None, expected_end_celsius=None) for s in PLAN.stages)
    unknown = band(expect(KILN, replace(PLAN, stages=bare), None, room_celsius=5.0))
    for found in (known, unknown):
        assert found[0].low_celsius < 5.0 < found[0].high_celsius
        assert all(one.hours < two.hours for one, two in pairwise(found))
    at = round(11 / EVERY_HOURS)
    assert unknown[at].high_celsius - unknown[at].low_celsius > known[at].high_celsius - known[at].low_celsius
