"""The band in which a plan wants every ring: between the kiln that heats worse and the one that heats better."""

from bisect import bisect_right
from typing import NamedTuple

from spyhole.core.plans_course import Course, Expected

EVERY_HOURS = 1 / 6
LEAST_CELSIUS = 10.0
"""The band is this much wider either way: two kilns alike do not agree to the degree (common practice, no source)."""


class Between(NamedTuple):
    """One instant: hours since it was lit, and between which temperatures every ring should be [degC]."""

    hours: float
    low_celsius: float
    high_celsius: float


def band(expected: Expected) -> tuple[Between, ...]:
    """From lighting to the end of the likeliest kiln; one that is done by then stays at its end."""
    end = expected.likely.hours[-1]
    count = max(1, round(end / EVERY_HOURS))
    return tuple(_between(expected, end * number / count) for number in range(count + 1))


def _between(expected: Expected, hours: float) -> Between:
    seen = [_at(course, hours) for course in (expected.slow, expected.likely, expected.quick)]
    low, high = min(map(min, seen)), max(map(max, seen))
    return Between(hours, low - LEAST_CELSIUS, high + LEAST_CELSIUS)


def _at(course: Course, hours: float) -> list[float]:
    after = bisect_right(course.hours, hours)
    if after >= len(course.hours):
        return [ring[-1] for ring in course.rings]
    before = course.hours[after - 1]
    share = (hours - before) / (course.hours[after] - before)
    return [ring[after - 1] * (1.0 - share) + ring[after] * share for ring in course.rings]
