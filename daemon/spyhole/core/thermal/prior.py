"""What is believed of a kiln before it is lit: common practice, then its last good firing as the plan tells it."""

from math import log

from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.thermal.belief import Belief, predict, see
from spyhole.core.thermal.physics import NODES

FULL = (480.0, 0.45)
"""2.4 kW on 18 kJ/K of ware, shelves and inner face; kilns differ by half (common practice, no source)."""
WALL = (0.42, 0.5)
"""Half a square metre of 75 mm insulating brick, 0.3 W/mK, on the same ware (typical values, from memory)."""
MASS = (1.6, 0.4)
EXCHANGE = (2.5, 0.7)
STRENGTH = 0.12
"""A ring's watts, its place and its load against the mean ring's (chosen, no source)."""
ROOM_DEVIATION = 3.0
LAST_FIRING_CELSIUS = 25.0
"""How alike two firings end a stage, load and keeper differing (common practice, no source)."""
WIDENED = 1.5
"""A load differs from the last one's: what was learned from it is trusted a little less."""


def prior(kiln: Kiln, celsius: tuple[float, ...], at_ms: int) -> Belief:
    """Before anything is known of this kiln; celsius: each ring's at the start."""
    mean_watts = sum(r.watts for r in kiln.rings) / len(kiln.rings) or 1.0
    nodes = [c for one in celsius for c in (one,) * NODES]
    logs = [log(v) for v, _ in (FULL, WALL, MASS, EXCHANGE)]
    logs += [log(max(r.watts, 1.0) / mean_watts) for r in kiln.rings]
    deviations = [ROOM_DEVIATION] * len(nodes) + [d for _, d in (FULL, WALL, MASS, EXCHANGE)]
    deviations += [STRENGTH] * len(kiln.rings)
    return Belief(at_ms, len(kiln.rings), (*nodes, *logs), _diagonal(deviations))


def taught(kiln: Kiln, plan: Plan, end_celsius: float, celsius: tuple[float, ...], at_ms: int) -> Belief:
    """The prior after living through the last good firing, as far as the plan tells it.

    end_celsius: what the reference ring ends at where the plan gives only the last stage's hours.
    """
    fresh = prior(kiln, celsius, at_ms)
    belief, told = prior(kiln, (20.0,) * len(kiln.rings), 0), False
    for stage in plan.stages:
        hours = stage.expected_hours or stage.hours
        if hours is None:
            break
        shares = tuple(kiln.switch.of(s) for s in stage.switches)
        belief = predict(belief, belief.at_ms + round(hours * 3_600_000), shares, 20.0)
        ends = stage.expected_end_celsius or ()
        if not any(ends) and stage.until_cone and stage.expected_hours:
            ends = tuple(end_celsius if i == plan.reference_ring else None for i in range(belief.rings))
        for ring, end in enumerate(ends[: belief.rings]):
            if end is not None:
                belief, told = see(belief, ring, end, LAST_FIRING_CELSIUS), True
    if not told:
        return fresh
    nodes = NODES * belief.rings
    rows = [list(row) for row in fresh.covariance]
    for i in range(nodes, len(rows)):
        rows[i][nodes:] = [c * WIDENED for c in belief.covariance[i][nodes:]]
    return Belief(at_ms, belief.rings, fresh.mean[:nodes] + belief.mean[nodes:], tuple(tuple(r) for r in rows))


def _diagonal(deviations: list[float]) -> tuple[tuple[float, ...], ...]:
    size = len(deviations)
    return tuple(tuple(deviations[i] ** 2 if i == j else 0.0 for j in range(size)) for i in range(size))
