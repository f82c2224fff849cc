"""How a plan should go: the likeliest kiln run through its stages, held to the ends of the last good firing.

What is drawn of it is a band, not a line: how far its edges lie apart is common practice, no source.
"""

from functools import lru_cache
from typing import NamedTuple

from spyhole.core.cones.kinetics import cone, end_point_celsius
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan, Stage
from spyhole.core.thermal.physics import NODES, advance
from spyhole.core.thermal.prior import outside_of, taught

STEP_HOURS = 1 / 6
LONGEST_HOURS = 72.0
LAST_CLIMB = 60.0
"""Degrees an hour towards the end, where the plan does not say how long the last stage takes."""
LEAST_CELSIUS = 8.0
SHARE = 0.05
"""Half the band: so many degrees, and this share of what the kiln is above the room."""


class Expected(NamedTuple):
    """One instant of a plan: hours since it was lit, and between which temperatures every ring should be [degC]."""

    hours: float
    low_celsius: float
    high_celsius: float


@lru_cache(maxsize=8)
def expected(kiln: Kiln, plan: Plan, room_celsius: float = 20.0) -> tuple[Expected, ...]:
    """The band of a plan from lighting to the cone, one instant every ten minutes."""
    end_celsius = end_point_celsius(cone(plan.cone, plan.body), LAST_CLIMB)
    heat = taught(kiln, plan, end_celsius, (room_celsius,) * len(kiln.rings), 0).heat
    celsius = [room_celsius] * (NODES * len(kiln.rings))
    hours, found = 0.0, [_band(0.0, [room_celsius], room_celsius)]
    for stage in plan.stages:
        outside = outside_of(kiln, plan, stage, stage.switches, room_celsius)
        run: list[tuple[float, list[float]]] = []
        began = hours
        while hours < LONGEST_HOURS and not _over(
            stage, hours - began, celsius[::NODES][plan.reference_ring], end_celsius
        ):
            celsius = advance(heat, celsius, outside, STEP_HOURS)
            hours += STEP_HOURS
            run.append((hours, celsius[::NODES]))
        off = _off(stage, celsius[::NODES])
        for at, rings in run:
            share = (at - began) / (hours - began)
            found.append(_band(at, [c + o * share for c, o in zip(rings, off, strict=True)], room_celsius))
        for ring, more in enumerate(off):
            celsius[NODES * ring] += more
    return tuple(found)


def _over(stage: Stage, hours: float, celsius: float, end_celsius: float) -> bool:
    planned = stage.expected_hours if stage.hours is None else stage.hours
    if planned is not None:
        return hours >= planned - STEP_HOURS / 2
    return celsius >= (end_celsius if stage.until_celsius is None else stage.until_celsius)


def _off(stage: Stage, rings: list[float]) -> list[float]:
    """By how much each ring ends elsewhere than last time [degC]; unknown ends are as far off as the known ones."""
    ends = stage.expected_end_celsius or ()
    known = [end - celsius for end, celsius in zip(ends, rings, strict=False) if end is not None]
    mean = sum(known) / len(known) if known else 0.0
    told = (*ends, *(None,) * (len(rings) - len(ends)))
    return [mean if end is None else end - celsius for end, celsius in zip(told, rings, strict=True)]


def _band(hours: float, rings: list[float], room_celsius: float) -> Expected:
    low, high = min(rings), max(rings)
    return Expected(hours, low - _half(low, room_celsius), high + _half(high, room_celsius))


def _half(celsius: float, room_celsius: float) -> float:
    return LEAST_CELSIUS + SHARE * max(0.0, celsius - room_celsius)
