"""Falling too fast: for a band of the plan, or as a kiln does whose lid is opened hot."""

from dataclasses import replace
from statistics import median

from spyhole.core.alarms.book import Judgement
from spyhole.core.firing import Firing
from spyhole.core.outcome import Facts
from spyhole.core.view import View

SETTLED_MS = 20 * 60_000
LIMIT_GRACE = 1.25
"""A band's limit is for the ware; what a probe shows runs ahead of it (common practice, no source)."""
OPENED_TIMES = 2.0
OPENED_CELSIUS_PER_HOUR = 120.0
HOT_CELSIUS = 200.0
FASTEST_AN_HOUR = 0.7
"""Share of what it stands above the room that no closed kiln loses an hour (common practice, no source)."""
LEARNED_A_MINUTE = 0.02


def cooling_fast(view: View) -> Judgement:
    """The first ring that falls faster than its band of the plan, or than this kiln does while it is shut."""
    firing = view.firing
    if not firing.off or firing.off_ms is None or view.now_ms - firing.off_ms < SETTLED_MS:
        return Judgement("cooling-fast", None, False)
    falling = [
        (i, t.celsius, -t.climb)
        for i, (t, fit) in enumerate(zip(view.tracks, view.fit, strict=True))
        if fit and t.celsius is not None and t.climb is not None
    ]
    banded = [one for one in falling if _over(_band(firing, one[1]), one[2])]
    opened = [one for one in falling if _over(_shut(firing, one[1]), one[2])]
    if not banded and 2 * len(opened) <= len(falling):
        # An opened lid chills the whole kiln.
        return Judgement("cooling-fast", None, False)
    probe, celsius, fall = (banded or opened)[0]
    limit = _band(firing, celsius) if banded else _shut(firing, celsius)
    facts: Facts = (("hottest", view.ring_name(probe)), ("celsius", celsius), ("climb", fall), ("limit", limit))
    return Judgement("cooling-fast", None, True, facts)


def follow_cooling(view: View) -> Firing:
    """The firing with how fast this kiln cools while it is shut: a share of its heat above the room, an hour.

    Falls that are far from it teach nothing, so an opened lid does not become what is usual.
    """
    firing = view.firing
    if not firing.off or firing.off_ms is None or view.now_ms - firing.off_ms < SETTLED_MS:
        return firing
    seen = [
        -t.climb / (t.celsius - firing.room_celsius)
        for t, fit in zip(view.tracks, view.fit, strict=True)
        if fit and t.celsius is not None and t.climb is not None and t.celsius > firing.room_celsius + 50.0
    ]
    if not seen:
        return firing
    now = median(seen)
    usual = firing.cools_an_hour
    if usual is None:
        return replace(firing, cools_an_hour=min(now, FASTEST_AN_HOUR / OPENED_TIMES)) if now > 0.0 else firing
    if now > 1.4 * usual:
        return firing
    return replace(firing, cools_an_hour=usual + LEARNED_A_MINUTE * (now - usual))


def _over(limit: float | None, fall: float) -> bool:
    return limit is not None and fall > limit


def _band(firing: Firing, celsius: float) -> float | None:
    """The plan's limit for this band, widened."""
    for band in firing.plan.cooling.limits:
        if band.to_celsius < celsius < band.from_celsius:
            return band.celsius_per_hour * LIMIT_GRACE
    return None


def _shut(firing: Firing, celsius: float) -> float | None:
    """Well beyond how this kiln falls while it is shut; None where a lid may be open."""
    if celsius < max(HOT_CELSIUS, firing.plan.cooling.crack_below_celsius + 30.0) or firing.cools_an_hour is None:
        return None
    return max(OPENED_CELSIUS_PER_HOUR, OPENED_TIMES * firing.cools_an_hour * (celsius - firing.room_celsius))
