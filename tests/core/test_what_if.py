"""What if: the model run twice, and the difference is what physics and arithmetic say it must be."""

from dataclasses import replace

import pytest

from spyhole.core.learned import Learned
from spyhole.core.plans_course import heat_believed
from spyhole.core.refusal import Refusal
from spyhole.core.what_if import Otherwise, Run, kwh_of, run
from spyhole_hardware.emulated.puffin import BISQUE_04, BISQUE_05, KILN, TONIGHT

HEAT = heat_believed(KILN, TONIGHT.plan, Learned())


def fired(otherwise: Otherwise = Otherwise()) -> Run:  # noqa: B008  (frozen)
    return run(HEAT, KILN, BISQUE_05, Learned(), otherwise, 20.0)


def test_nothing_otherwise_is_the_same_firing() -> None:
    assert fired() == fired(Otherwise(0.0, 1, 1.0, 0))


def test_an_hour_longer_on_low_ends_less_than_an_hour_later_and_costs_that_hour_less_what_it_saves() -> None:
    first, other = fired(), fired(Otherwise(later_hours=1.0, stage=1))
    assert first.course.off_hours is not None
    assert other.course.off_hours is not None
    assert 0.4 < other.course.off_hours - first.course.off_hours < 1.0
    assert other.course.stages[2] == pytest.approx(first.course.stages[2] + 1.0)


def test_half_a_load_heats_quicker_and_uses_less() -> None:
    first, other = fired(), fired(Otherwise(load=0.5))
    assert first.course.down_hours is not None
    assert other.course.down_hours is not None
    assert other.course.down_hours < first.course.down_hours - 0.1
    assert (first.kwh or 0.0) - (other.kwh or 0.0) > 1.0


def test_one_cone_hotter_is_the_next_whole_cone_in_pack_and_shut_off() -> None:
    first, other = fired(), fired(Otherwise(cones=1))
    assert (other.plan.cone, other.plan.shutoff_cone) == ("04", "04")
    assert 5.0 < other.peak_celsius - first.peak_celsius < 60.0
    assert (other.course.off_hours or 0.0) > (first.course.off_hours or 0.0)
    assert fired(Otherwise(cones=1)).course.hours == run(
        HEAT, KILN, replace(BISQUE_05, cone="04", shutoff_cone="04"), Learned(), Otherwise(), 20.0
    ).course.hours  # fmt: skip


def test_energy_is_watts_times_hours_of_each_stage() -> None:
    made = fired()
    assert made.course.off_hours is not None
    ends = [*made.course.stages[1:], made.course.off_hours]
    by_hand = sum(
        (end - begin) * sum(KILN.switch.of(s) * r.watts for s, r in zip(stage.switches, KILN.rings, strict=True))
        for stage, begin, end in zip(BISQUE_05.stages, made.course.stages, ends, strict=True)
    )
    assert kwh_of(KILN, BISQUE_05, made.course) == pytest.approx(by_hand / 1000.0)


def test_what_cannot_be_fired_so_is_refused() -> None:
    last = len(BISQUE_05.stages) - 1
    with pytest.raises(Refusal, match="hours"):
        fired(Otherwise(later_hours=1.0, stage=last))
    with pytest.raises(Refusal, match="no cone hotter"):
        run(HEAT, KILN, replace(BISQUE_04, cone="14"), Learned(), Otherwise(cones=1), 20.0)
