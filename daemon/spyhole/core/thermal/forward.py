"""The likeliest kiln run forward: when something will be so."""

from collections.abc import Callable

from spyhole.core.thermal.physics import NODES, Heat, Outside, advance

LIMIT_HOURS = 20.0

Ahead = Callable[[float, list[float]], tuple[Outside, float]]
"""What the kiln is told, and for how long at most [h], from the hours gone and every ring's temperature."""
Finish = Callable[[float, list[float]], float | None]
"""Told the hours gone and every ring's temperature after each step; the hours at which it was over, once it is."""


def ahead(
    heat: Heat, celsius: list[float], told: Ahead, finish: Finish, limit_hours: float = LIMIT_HOURS
) -> float | None:
    """Hours until the finish, from these node temperatures; None when the likeliest kiln never gets there."""
    hours = 0.0
    while hours < limit_hours:
        outside, step = told(hours, celsius[::NODES])
        celsius = advance(heat, celsius, outside, step)
        hours += step
        end = finish(hours, celsius[::NODES])
        if end is not None:
            return end
    return None
