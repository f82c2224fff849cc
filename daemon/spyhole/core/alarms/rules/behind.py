"""Climbing less than this kiln should: all of it, or one ring."""

from statistics import median

from spyhole.core.alarms.book import Judgement
from spyhole.core.curve.climb import since
from spyhole.core.kiln import Switch
from spyhole.core.outcome import Facts
from spyhole.core.thermal.line import SETTLE_MS, fit
from spyhole.core.view import View


def behind(view: View) -> tuple[Judgement, ...]:
    """Stall of the kiln, or one ring behind: this climb against the line of the same stage before."""
    firing = view.firing
    names = [view.ring_name(i) for i in range(len(view.tracks))]
    none = (Judgement("stall", None, False), *(Judgement("ring-behind", name, False) for name in names))
    settled_ms = firing.changed_ms + SETTLE_MS
    if firing.off or not firing.heating or firing.candling or view.now_ms - settled_ms < 15 * 60_000:
        return none
    judged = {i: _slow_ring(view, i, settled_ms) for i, fit_ in enumerate(view.fit) if fit_}
    known = {i: facts for i, facts in judged.items() if facts is not None}
    if not known:
        return (Judgement("stall", None, None),)
    slow_rings = {i: facts for i, facts in known.items() if facts}
    whole = len(slow_rings) == len(known)
    apart = _fallen_apart(view)
    return (
        Judgement("stall", None, whole, next(iter(slow_rings.values())) if whole else ()),
        *(Judgement("ring-behind", names[i], *_ring_behind(view, i, slow_rings, apart, whole)) for i in known),
    )


def _ring_behind(
    view: View, probe: int, slow_rings: dict[int, Facts], apart: dict[int, bool], whole: bool
) -> tuple[bool | None, Facts]:
    """Holds while the ring is slow alone or has fallen away; clears only once it has come back."""
    if whole:
        return None, ()
    behind = -view.firing.apart[probe]
    if probe in slow_rings:
        return True, (*slow_rings[probe], ("behind", behind))
    holds = apart.get(probe) if len(set(view.firing.switches)) == 1 else False
    facts: Facts = (("climb", view.recent_climb(probe, 15)), ("behind", behind)) if holds else ()
    return holds, facts


def _slow_ring(view: View, probe: int, settled_ms: int) -> Facts | None:
    """() when this ring climbs as it should; facts when it does not; None when it cannot be told."""
    if view.switched(probe) is Switch.OFF:
        return ()
    track = view.tracks[probe]
    recent = view.recent_climb(probe, 15)
    if recent is None or track.celsius is None:
        return None
    celsius = track.celsius
    short_of_cone = view.work.firing * view.doubt_factor(view.pack.firing) < 1.0
    facts: Facts = (("hottest", view.ring_name(probe)), ("celsius", celsius), ("climb", recent))
    if view.firing.last_stage and short_of_cone and recent < 6.0:
        return (*facts, ("expected", None))
    before = tuple(p for p in since(track.minutes, settled_ms) if p[0] < view.now_ms - 20 * 60_000)
    line = fit(before)
    if line is None:
        return ()
    expected = line.climb(celsius)
    if recent < 0.5 * expected and expected - recent > 30.0:
        return (*facts, ("expected", expected))
    return ()


def _fallen_apart(view: View) -> dict[int, bool]:
    """Rings that have fallen away from the others though all switches stand alike; those in between are left out."""
    firing = view.firing
    if len(set(firing.switches)) != 1:
        return {}
    found: dict[int, bool] = {}
    for i, fit_ in enumerate(view.fit):
        others = [j for j, other in enumerate(view.fit) if other and j != i]
        own = view.recent_climb(i, 15)
        climbs = [c for j in others if (c := view.recent_climb(j, 15)) is not None]
        if not fit_ or own is None or not climbs:
            continue
        lost = firing.best_apart[i] - firing.apart[i]
        far = lost > 40.0 and firing.apart[i] < -45.0
        falling = lost > 25.0 and firing.apart[i] < -12.0 and median(climbs) > 30.0 and own < 0.7 * median(climbs)
        if far or falling:
            found[i] = True
        elif lost < 15.0:
            found[i] = False
    return found
