"""The last minutes against the kiln model: what each ring got that the believed switches do not explain."""

from dataclasses import replace
from math import exp, hypot

from spyhole.core.curve.climb import Minute, theil_sen
from spyhole.core.thermal.belief import is_drying, moved
from spyhole.core.thermal.model import Told, held, whole_minute_ms
from spyhole.core.thermal.physics import NODES, STEAM_GONE_CELSIUS, Heat, Outside, capacity
from spyhole.core.thermal.residual import (
    CLAY_SLOWS,
    CLIMB_DEVIATION,
    DRYING_SHARE,
    GUESSED_SHARE,
    OFF_SHARE,
    OWN_PART,
    SETTLES_MS,
    SHARE_DEVIATION,
    SURE,
    TURN_SHARE,
    WATTS_OWN_PART,
    Residual,
)
from spyhole.core.turns import at_minute, seen_at
from spyhole.core.view import View

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
TRAILS_MS = 10 * MINUTE_MS
"""How far what is settled trails the clock, at least."""
BEYOND_SHARE = 0.03
"""How far from what the model gives a ring its watts commonly are, as a share of full ones: mains, draughts and what
four nodes leave out (root mean square on 59 firings of the proving ground in their last hours, 0.04 to 0.01)."""
BEYOND_CLIMB = 3.0
"""How well the last minutes show a climb where nothing disturbs it [degC/h] (chosen)."""
BEYOND_AT_MOST = 4.0
"""So many times what it commonly is: more is a plug that was out or a turn, and soon over (chosen)."""
SOON_OVER_SHARE = 0.03
"""What shows of it just after a turn, and while the clay's water goes, and is over with them (on 47 firings of the
proving ground; with none of it the cone is foretold a little better two hours before and a little worse three)."""


def what_is_left(view: View) -> tuple[Residual, ...]:
    """Each ring against the model over the last quarter of an hour, bottom first; nothing before the model stands."""
    firing, model = view.firing, view.firing.model
    if model is None:
        return ()
    settled, rings = model.settled, len(firing.kiln.rings)
    to_ms = whole_minute_ms(view.now_ms)
    before, seen = start_at(view, settled.at_ms, to_ms)
    hours = max(to_ms - settled.at_ms, 60_000) / HOUR_MS
    celsius = run(settled.heat, before, model.told, settled.at_ms, to_ms)
    settled_by = _settled_by(view)
    heat = settled.heat
    # Where all rings dry they lack it together; one that dries after the others lacks it alone.
    together = OWN_PART if all(is_drying(celsius[NODES * r], model.told[-1][1]) for r in range(rings)) else 1.0
    found = []
    for ring in range(rings):
        n = NODES * ring
        expected, rise = celsius[n] - before[n], seen.get(ring)
        outside = model.told[-1][1]
        full = _full_climb(heat, ring, celsius[n], outside)
        drying = DRYING_SHARE if is_drying(celsius[n], outside) else 0.0
        share = None if rise is None or hours < 0.15 else (rise - expected) / hours / full
        asks = drying
        if share is not None and share < 0.0 and celsius[n] > STEAM_GONE_CELSIUS:
            asks = min(drying, CLAY_SLOWS / SURE * max(expected, 0.0) / hours / full)
        settles = settled_by * (OFF_SHARE if firing.off else TURN_SHARE if firing.sure[ring] else GUESSED_SHARE)
        seen_share, given = CLIMB_DEVIATION / full, SHARE_DEVIATION * outside.shares[ring]
        # A setting that nobody wrote down may be another one at this ring alone.
        own = WATTS_OWN_PART if firing.sure[ring] else 1.0
        found.append(
            Residual(
                celsius[n],
                settled.deviation(n),
                expected / hours,
                outside.shares[ring],
                share,
                hypot(seen_share, given + settles, asks),
                hypot(seen_share, own * given + OWN_PART * settles, together * drying),
            )
        )
    return tuple(found)


def by_itself(view: View) -> dict[int, float]:
    """As `Residual.share`, by probe, with every other ring as hot as it is seen to be.

    What stands beside a ring that has gone cold lacks what it gives to it, and nothing of its own. {} where the model
    cannot say.
    """
    firing, model = view.firing, view.firing.model
    to_ms = whole_minute_ms(view.now_ms)
    if model is None or view.misled or to_ms - model.settled.at_ms < TRAILS_MS:
        return {}
    rings, heat, from_ms = firing.kiln.probe_rings, model.settled.heat, model.settled.at_ms
    start, seen = start_at(view, from_ms, to_ms)
    hours = (to_ms - from_ms) / HOUR_MS
    found = {}
    for free, own in enumerate(rings):
        if own not in seen:
            continue
        celsius, n = list(start), NODES * own
        for until_ms in range(from_ms + MINUTE_MS, to_ms + 1, MINUTE_MS):
            celsius = run(heat, celsius, model.told, until_ms - MINUTE_MS, until_ms)
            for ring, reading in seen_at(view, until_ms, but=free).items():
                celsius[NODES * ring] = reading
        full = _full_climb(heat, own, celsius[n], model.told[-1][1])
        found[free] = (seen[own] - (celsius[n] - start[n])) / hours / full
    return found


def share_lost(view: View, minutes: int) -> dict[int, float]:
    """How much of what its switch gives each ring has lacked for so many minutes: 1 falls as one that gets nothing.

    By probe, for those that are seen and on; {} where the model cannot say.
    """
    firing, model = view.firing, view.firing.model
    to_ms = whole_minute_ms(view.now_ms)
    from_ms = to_ms - minutes * MINUTE_MS
    if model is None or view.misled or from_ms < model.settled.at_ms:
        return {}
    heat = model.settled.heat
    start, _ = start_at(view, model.settled.at_ms, to_ms)
    celsius = run(heat, start, model.told, model.settled.at_ms, from_ms)
    ends: dict[int, tuple[int, float]] = {}
    for probe, ring in enumerate(firing.kiln.probe_rings):
        first, last = (at_minute(view.tracks[probe].minutes, t) for t in (from_ms, to_ms))
        if view.fit[probe] and first is not None and last is not None and model.told[-1][1].shares[ring] > 0.0:
            celsius[NODES * ring] = first
            ends[probe] = ring, last
    nothing = tuple((t, replace(outside, shares=(0.0,) * len(outside.shares))) for t, outside in model.told)
    fed, unfed = (run(heat, celsius, told, from_ms, to_ms) for told in (model.told, nothing))
    return {i: (fed[NODES * r] - c) / max(fed[NODES * r] - unfed[NODES * r], 0.1) for i, (r, c) in ends.items()}


def beyond(view: View, to_ms: int) -> tuple[float, ...]:
    """See `Model.beyond`. The more there is that would show for a while only, the less of it is believed; a ring that
    nobody sees is like the mean of the others."""
    firing, model = view.firing, view.firing.model
    assert model is not None
    from_ms = model.settled.at_ms
    if firing.off or not firing.heating or to_ms - from_ms < TRAILS_MS:
        return ()
    start, _ = start_at(view, from_ms, to_ms)
    heat, outside, settled_by = model.heat, model.told[-1][1], _settled_by(view)
    minutes = range(from_ms + MINUTE_MS, to_ms + 1, MINUTE_MS)
    course = [start[::NODES], *path(heat, start, model.told, from_ms, minutes)]
    ahead: dict[int, list[Minute]] = {}
    for at_ms, celsius in zip((from_ms, *minutes), course, strict=True):
        for ring, reading in seen_at(view, at_ms).items():
            ahead.setdefault(ring, []).append((at_ms, reading - celsius[ring]))
    found = {}
    for ring, points in ahead.items():
        # Of so many minutes a look through the plug spoils a few.
        climb = theil_sen(tuple(points))
        if climb is None:
            continue
        now = course[-1][ring]
        full = _full_climb(heat, ring, now, outside)
        soon_over = SOON_OVER_SHARE * hypot(settled_by, is_drying(now, outside))
        believed = climb / full * BEYOND_SHARE**2 / (BEYOND_SHARE**2 + soon_over**2 + (BEYOND_CLIMB / full) ** 2)
        most = BEYOND_AT_MOST * BEYOND_SHARE
        found[ring] = round(min(max(believed, -most), most), 4)
    if not found:
        return ()
    mean = sum(found.values()) / len(found)
    return tuple(found.get(ring, mean) for ring in range(len(firing.kiln.rings)))


def _settled_by(view: View) -> float:
    """How much is left of what a turn, or the end, stirs up [1 to 0]."""
    firing = view.firing
    changed_ms = max(firing.changed_ms, firing.off_ms or 0, firing.back_ms or 0)
    return exp(-(view.now_ms - changed_ms) / SETTLES_MS)


def _full_climb(heat: Heat, ring: int, celsius: float, outside: Outside) -> float:
    """By how much a ring's full watts would warm it in an hour, did it lose nothing [degC/h]."""
    return heat.full * heat.strength[ring] / capacity(celsius, outside)


def start_at(view: View, from_ms: int, to_ms: int) -> tuple[list[float], dict[int, float]]:
    """Nodes when the last minutes began, as seen; and each seen ring's rise since [degC]."""
    firing, model = view.firing, view.firing.model
    assert model is not None
    celsius, seen = model.settled.celsius, {}
    for probe, ring in enumerate(firing.kiln.probe_rings):
        first, last = (at_minute(view.tracks[probe].minutes, t) for t in (from_ms, to_ms))
        if view.fit[probe] and first is not None and last is not None:
            celsius[NODES * ring] = first
            seen[ring] = last - first
    return celsius, seen


def run(heat: Heat, celsius: list[float], told: Told, from_ms: int, to_ms: int) -> list[float]:
    """Node temperatures [degC] then, with what was told between the two."""
    for end, outside in spans(told, from_ms, to_ms):
        celsius = moved(heat, celsius, outside, (end - from_ms) / 3_600_000)
        from_ms = end
    return celsius


def path(heat: Heat, celsius: list[float], told: Told, from_ms: int, minutes: range) -> list[list[float]]:
    """Every ring at each of these minutes [degC]."""
    found = []
    for minute in minutes:
        celsius = run(heat, celsius, told, from_ms, minute)
        found.append(celsius[::NODES])
        from_ms = minute
    return found


def spans(told: Told, from_ms: int, to_ms: int) -> list[tuple[int, Outside]]:
    """What held between the two, each until when."""
    cuts = [t for t, _ in told[1:] if from_ms < t < to_ms]
    found = []
    for end in (*cuts, to_ms):
        found.append((end, held(told, end)))
    return found
