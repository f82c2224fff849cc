"""Climbing too fast: for this stage, for these switches, or for damp ware."""

from math import exp
from statistics import fmean

from spyhole.core.alarms.book import Judgement
from spyhole.core.curve.climb import trailing
from spyhole.core.firing import logs_switches
from spyhole.core.kiln import Switch
from spyhole.core.outcome import Facts
from spyhole.core.plan import Ware
from spyhole.core.steam import WARE_BEHIND_AIR, WARE_LAG_MS, steam_past
from spyhole.core.thermal.model import held
from spyhole.core.thermal.physics import NAMES, NODES, SHARED, capacity, watts_at
from spyhole.core.thermal.prior import recalled
from spyhole.core.view import View

FULL = NAMES.index("full")
FASTEST_CLIMBS = {Switch.OFF: 100.0, Switch.LOW: 300.0, Switch.MEDIUM: 360.0, Switch.HIGH: 500.0}
"""Faster than any manual kiln on these switches for ten minutes [degC/h] (common practice, no source). Only for a kiln
whose model does not stand yet."""
LEAPS_MS = 10 * 60_000
"""For as long after a turn the air of a small kiln leaps ahead of all that lasts (common practice, no source)."""
LEAPT_MS = 2 * LEAPS_MS
EXCEEDS_SHARE = 0.08
"""Of full watts, beyond all doubt: more than a kiln's mood."""
EXPLAINED_TIMES = 1.4
TOLD_AFTER_MS = 15 * 60_000
"""For so long after a turn elements and air hide what the rings get."""
HIGHER, HIGHER_LIT, HIGHER_FIRST = 0.25, 0.45, 0.3
"""By how much the logarithm of what all rings get grows after a turn that was written down, and past what earlier
firings taught, and they stand higher than that says; the second where some were off before, of which nothing was known;
the third as the kiln was lit, of those that were: half the ware of last time in walls that hold as much again is 0.29.
A switch one step too high gives half as much again or more. In an hour after 71 turns of known kilns of the proving
ground in good health it grew by 0.16 at most, after three turned up too far by 0.37 to 0.54; as lit, in 78 by
0.09 at most until candling was over, in two lit too high by 0.37 and 0.45 within 75 minutes. Of a kiln nobody knows it
says nothing: one of a sort the model does not fit grows as much by each turn."""
LIT_WITHIN_MS = 15 * 60_000
"""For so long from the start of a firing a turn that is written down is how it was lit (chosen)."""
LEAST_CLIMB = 60.0
"""A climb slower than this hurries nothing [degC/h]."""


def climb_limit(view: View) -> float:
    """The fastest climb [degC/h] a ring may show now: the plan's, or more than any kiln does on these switches."""
    firing = view.firing
    if firing.now_stage.climb_limit is not None:
        return firing.now_stage.climb_limit
    return FASTEST_CLIMBS[max(firing.switches, key=firing.kiln.switch.of)]


def runaway(view: View) -> Judgement:
    """A ring climbs faster than its stage allows, or gets more than the believed switches give."""
    firing = view.firing
    if firing.off or not firing.heating:
        return Judgement("runaway", None, False)
    climbing = [(t.climb, i) for i, t in enumerate(view.tracks) if view.fit[i] and t.climb is not None]
    if not climbing:
        return Judgement("runaway", None, None)
    for climb, probe in sorted(climbing, reverse=True):
        if view.switched(probe) is Switch.OFF and _another_lacks(view):
            return Judgement("runaway", None, None)  # two probes changed over, not a switch too high
        limit, lag_ms = _limit(view, probe)
        if _lasts(view, probe, climb, max(limit, LEAST_CLIMB), lag_ms):
            facts: Facts = (("hottest", view.ring_name(probe)), ("climb", climb), ("limit", limit))
            return Judgement("runaway", None, True, facts)
    times = _turned_higher(view)
    if times is None:
        return Judgement("runaway", None, False)
    climb, probe = max(climbing)
    facts = (("hottest", view.ring_name(probe)), ("climb", climb), ("limit", climb / times))
    return Judgement("runaway", None, climb > LEAST_CLIMB, facts)


def _lasts(view: View, probe: int, climb: float, limit: float, lag_ms: int | None) -> bool:
    """Whether it climbs faster than this, and so does what trails it by the lag [ms], if that is what has to."""
    if climb <= limit:
        return False
    return lag_ms is None or (trailing(view.tracks[probe].minutes, lag_ms) or 0.0) > limit


def _limit(view: View, probe: int) -> tuple[float, int | None]:
    """What this ring's climb [degC/h] may be: the plan's word, or what the switches can explain.

    And where that is only what kilns do, the lag [ms] of what has to climb so: for minutes after a turn, air does.
    """
    planned = view.firing.now_stage.climb_limit
    if planned is not None:
        return planned, None
    if view.switched(probe) is Switch.HIGH:
        return float("inf"), None  # no switch stands higher: what it does beyond its model, the model does not know
    ring = view.firing.kiln.probe_rings[probe]
    model = view.left[ring] if ring < len(view.left) else None
    if model is None or view.misled:
        return max(climb_limit(view), EXPLAINED_TIMES * _most(view)), LEAPS_MS
    if model.share is None:
        # What the last firing taught is believed; where there was none, so is what kilns do.
        return max(climb_limit(view), EXPLAINED_TIMES * model.climb), LEAPS_MS
    if model.exceeds > EXCEEDS_SHARE:
        limit = EXPLAINED_TIMES * max(model.climb, 0.0)
        if view.now_ms - view.firing.changed_ms < LEAPT_MS:
            # What a probe feels of air and elements the model does not know: only what no kiln does is too fast yet.
            return max(limit, FASTEST_CLIMBS[view.switched(probe)]), LEAPS_MS
        return limit, None
    return float("inf"), None


def _turned_higher(view: View) -> float | None:
    """How many times what they got before, or ever, rings get since a turn that was written down, or since they were
    lit; None where that is no more than a kiln may be wrong by.

    The model takes a switch that stands too high for a kiln that is stronger than it was: no kiln is, from one hour to
    the next.
    """
    firing, memory, model = view.firing, view.firing.memory, view.firing.model
    on_high = all(switch is Switch.HIGH for switch in firing.switches)
    unclear = view.misled or on_high or any(firing.lacked)
    if memory is None or model is None or unclear or not firing.learned.model:
        return None
    if model.settled.at_ms - firing.changed_ms < TOLD_AFTER_MS:
        return None
    as_lit = not firing.stage and firing.changed_ms - firing.started_ms < LIT_WITHIN_MS
    on = [ring for ring, switch in enumerate(firing.switches) if switch is not Switch.OFF]
    # Which rings stay off as a kiln is lit nobody writes down.
    if not all(firing.sure[ring] for ring in (on if as_lit else range(len(firing.sure)))):
        return None
    nodes = NODES * model.settled.rings
    taught = recalled(firing.kiln, model.settled, firing.learned.model).mean[nodes:]
    seen = [ring for probe, ring in enumerate(firing.kiln.probe_rings) if view.fit[probe]]

    def gets(logs: tuple[float, ...]) -> float:
        return logs[FULL] + fmean(logs[SHARED + ring] for ring in (on if as_lit else seen))

    now = gets(model.settled.mean[nodes:])
    grown, least = now - gets(taught), HIGHER_FIRST
    if not as_lit:
        before = next((past for past in reversed(memory.pasts) if past.at_ms <= firing.changed_ms), None)
        if before is None:
            return None
        grown = min(grown, now - gets(before.logs))
        least = HIGHER if all(held(memory.told, before.at_ms).shares) else HIGHER_LIT
    return exp(grown) if grown > least else None


def _most(view: View) -> float:
    """What the believed switches give ware that loses nothing [degC/h]: a kiln that has fallen far climbs like that.

    Where nobody writes turns down, one that was made meanwhile is not known: then what all of them on high give.
    """
    model = view.firing.model
    if model is None:
        return 0.0
    heat, outside = model.settled.heat, model.told[-1][1]
    shares = outside.shares if logs_switches(view.firing) else (1.0,) * len(outside.shares)
    coolest = min(model.celsius[NODES * ring] for ring in view.firing.kiln.probe_rings)
    strongest = max(s * share for s, share in zip(heat.strength, shares, strict=True))
    return heat.full * strongest * watts_at(coolest) / capacity(coolest, outside)


def _another_lacks(view: View) -> bool:
    """Whether a ring that is on gets less than its switch gives."""
    on = [i for i, fit in enumerate(view.fit) if fit and view.switched(i) is not Switch.OFF]
    return any(one.lacks > 0.0 for i in on if (one := view.left_of(i)) is not None)


def damp_hurry(view: View) -> Judgement:
    """A ring where steam is not past climbs through the damp band faster than damp ware bears.

    A probe between elements and ware runs ahead of the ware: the limit is widened by that, and the climb is that of
    ware which trails the air, or the first minutes after every turn would look like hurry.
    """
    firing, damp = view.firing, view.firing.plan.damp
    if firing.off or firing.plan.ware in (Ware.GLAZE, Ware.LUSTRE, Ware.EMPTY):
        return Judgement("damp-hurry", None, False)
    limit = damp.celsius_per_hour * WARE_BEHIND_AIR
    for i, (track, fit) in enumerate(zip(view.tracks, view.fit, strict=True)):
        if not fit or track.celsius is None or track.climb is None or steam_past(firing, i):
            continue
        if not damp.from_celsius + 5.0 < track.celsius < damp.to_celsius + 60.0:
            continue
        if _lasts(view, i, track.climb, limit, WARE_LAG_MS):
            facts: Facts = (
                ("hottest", view.ring_name(i)),
                ("celsius", track.celsius),
                ("climb", track.climb),
                ("limit", damp.celsius_per_hour),
            )
            return Judgement("damp-hurry", None, True, facts)
    return Judgement("damp-hurry", None, False)
