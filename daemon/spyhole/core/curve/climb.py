"""Robust climb: the median of all pairwise slopes (Theil 1950, Sen 1968), which one bad minute cannot bend."""

from itertools import pairwise
from math import exp
from statistics import median

Minute = tuple[int, float]
"""(axis milliseconds, degC): the middle of one minute of a probe."""


def theil_sen(points: tuple[Minute, ...]) -> float | None:
    """Slope [degC per hour] of points spread over at least three minutes; None for fewer than four.

    Reference: P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379.

    >>> theil_sen(tuple((m * 60_000, 20 + 2.0 * m) for m in range(6)))
    120.0
    """
    if len(points) < 4 or points[-1][0] - points[0][0] < 180_000:
        return None
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for i, a in enumerate(points) for b in points[i + 1 :] if b[0] > a[0]]
    return median(slopes) * 3_600_000 if slopes else None


def trailing(points: tuple[Minute, ...], lag_ms: int) -> float | None:
    """Climb [degC per hour] of what trails these points by a first-order lag, at rest where they begin.

    On a steady ramp it comes to the ramp's own climb; what lasts for minutes only it hardly feels.

    >>> round(trailing(tuple((m * 60_000, 20 + 2.0 * m) for m in range(121)), 15 * 60_000))
    120
    """
    if len(points) < 2:
        return None
    behind = points[0][1]
    for (before_ms, _), (at_ms, celsius) in pairwise(points):
        behind += (celsius - behind) * (1.0 - exp(-(at_ms - before_ms) / lag_ms))
    return (points[-1][1] - behind) * 3_600_000 / lag_ms


def since(points: tuple[Minute, ...], from_ms: int) -> tuple[Minute, ...]:
    """The tail of the points not older than this."""
    first = len(points)
    for at_ms, _ in reversed(points):
        if at_ms < from_ms:
            return points[first:]
        first -= 1
    return points


def value_at(points: tuple[Minute, ...], at_ms: int) -> float | None:
    """The newest point not younger than this, if it is at most three minutes older."""
    for i in range(len(points) - 1, -1, -1):
        if points[i][0] <= at_ms:
            return points[i][1] if at_ms - points[i][0] <= 180_000 else None
    return None
