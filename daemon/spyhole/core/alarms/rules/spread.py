"""The rings stand further apart than the plan likes."""

from math import hypot
from statistics import mean

from spyhole.core.alarms.book import Judgement
from spyhole.core.cones.tolerance import tolerance_celsius
from spyhole.core.outcome import Facts
from spyhole.core.view import View

SETTLED_MS = 10 * 60_000
"""Rings are turned one after the other, and stand apart until they have all been."""


def uneven(view: View) -> Judgement:
    """Wider than the plan's limit though every switch stands alike; what the last good firing had is right."""
    firing, spread = view.firing, view.firing.plan.spread
    if spread is None or firing.off or not firing.heating:
        return Judgement("uneven", None, False)
    if len(set(firing.switches)) != 1 or view.now_ms - firing.changed_ms < SETTLED_MS:
        return Judgement("uneven", None, None)
    seen = {i: t.celsius for i, t in enumerate(view.tracks) if view.fit[i] and t.celsius is not None}
    if len(seen) < 2 or mean(seen.values()) < spread.above_celsius:
        return Judgement("uneven", None, None if len(seen) < 2 else False)
    hottest, coolest = max(seen, key=seen.__getitem__), min(seen, key=seen.__getitem__)
    apart = seen[hottest] - seen[coolest]
    over = apart - spread.limit_celsius - _doubt(view, hottest, coolest) - _usual(view, hottest, coolest)
    facts: Facts = (
        ("hottest", view.ring_name(hottest)), ("coolest", view.ring_name(coolest)),
        ("apart", apart), ("limit", spread.limit_celsius),
    )  # fmt: skip
    return Judgement("uneven", None, True if over > 0.0 else None if over > -5.0 else False, facts)


def _doubt(view: View, hottest: int, coolest: int) -> float:
    """By how much two good probes differ at one temperature [degC]: a tolerance is read as two deviations."""

    def half(probe: int) -> float:
        sensor = view.sensor(probe)
        return tolerance_celsius(sensor.tolerance_class, view.tracks[probe].celsius or 0.0, sensor.type) / 2.0

    return hypot(half(hottest), half(coolest))


def _usual(view: View, hottest: int, coolest: int) -> float:
    """How far these two ended apart in the last good firing [degC]."""
    ends = view.firing.now_stage.expected_end_celsius
    if ends is None:
        return 0.0
    rings = view.firing.kiln.probe_rings
    hot, cool = ends[rings[hottest]], ends[rings[coolest]]
    return 0.0 if hot is None or cool is None else max(0.0, hot - cool)
