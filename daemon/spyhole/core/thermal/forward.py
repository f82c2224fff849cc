"""The likeliest kiln run forward: when something will be so."""

from collections.abc import Callable

from spyhole.core.thermal.belief import Belief
from spyhole.core.thermal.physics import NODES, advance

LIMIT_HOURS = 20.0

Shares = Callable[[float, list[float]], tuple[float, ...]]
"""Shares of full watts for the step that begins now, from the hours gone and every ring's temperature."""
Finish = Callable[[float, list[float]], float | None]
"""Told the hours gone and every ring's temperature after each step; the hours at which it was over, once it is."""


def ahead(belief: Belief, shares: Shares, finish: Finish, room_celsius: float, step_hours: float) -> float | None:
    """Hours until the finish; None when the likeliest kiln never gets there."""
    celsius, heat, hours = belief.celsius, belief.heat, 0.0
    while hours < LIMIT_HOURS:
        celsius = advance(heat, celsius, shares(hours, celsius[::NODES]), room_celsius, step_hours)
        hours += step_hours
        end = finish(hours, celsius[::NODES])
        if end is not None:
            return end
    return None
