"""When each alarm's condition holds. Delays, latches and episodes are not here: see `life` and `book`.

Fast rules are judged at every bin, slow ones once a minute. None means: cannot be judged now.
"""

from statistics import median

from spyhole.core.alarms.book import Judgement
from spyhole.core.cones.kinetics import bend_degrees
from spyhole.core.cones.shutoff import DOUBT_CELSIUS
from spyhole.core.curve.climb import since
from spyhole.core.curve.trust import Reason
from spyhole.core.firing import Stopped
from spyhole.core.kiln import Switch
from spyhole.core.outcome import Facts
from spyhole.core.reading import Fault
from spyhole.core.thermal.line import SETTLE_MS, fit
from spyhole.core.view import View, ceiling_celsius

WARE_BEHIND_AIR = 2.4
"""A probe between elements and ware may run this much faster than the ware itself (common practice, no source)."""
GUARD_PAST_DEGREES = 30.0
SHORT_NEWS_MS = 2 * 3_600_000
NEVER_BELIEVED_MS = 300_000

FASTEST_CLIMBS = {Switch.OFF: 100.0, Switch.LOW: 300.0, Switch.MEDIUM: 360.0, Switch.HIGH: 500.0}
"""Faster than any manual kiln on these switches for ten minutes [degC/h] (common practice, no source)."""

TAG_OF_FAULT = {
    Fault.OPEN: "probe-open",
    Fault.SHORT: "probe-shorted",
    Fault.RANGE: "probe-doubtful",
    Fault.UNSURE: "probe-doubtful",
    Fault.BUS: "chip-silent",
    Fault.CONFIG: "chip-forgot",
}
PROBE_TAGS = tuple(dict.fromkeys((*TAG_OF_FAULT.values(), *(f"probe-{r.value}" for r in Reason))))


def fast(view: View) -> tuple[Judgement, ...]:
    """Every bin: what must be known within a minute."""
    return (*_overfire(view), _heat_lost(view), _fell_short(view), _blind(view), *_probes(view))


def slow(view: View) -> tuple[Judgement, ...]:
    """Every minute: what is told from a climb."""
    return (_runaway(view), _still_on(view), *_behind(view))


def _overfire(view: View) -> tuple[Judgement, ...]:
    firing = view.firing
    lit = firing.heating and not firing.off
    seen = [(t.celsius or 0.0, i) for i, t in enumerate(view.tracks) if view.fit[i]]
    if not seen:
        return tuple(
            Judgement(tag, None, None if lit else False)
            for tag in ("ceiling-passed", "kiln-limit", "shutoff-overdue", "guard-cone")
        )
    hottest, probe = max(seen)
    ceiling = ceiling_celsius(firing, view.now_ms)
    facts: Facts = (("hottest", view.ring_name(probe)), ("celsius", hottest))
    return (
        Judgement(
            "ceiling-passed", None, lit and ceiling is not None and hottest > ceiling, (*facts, ("limit", ceiling))
        ),
        Judgement(
            "kiln-limit", None, hottest > firing.kiln.maximum_celsius, (*facts, ("limit", firing.kiln.maximum_celsius))
        ),
        _overdue(view, lit, facts),
        _guard(view, lit, facts),
    )


def _overdue(view: View, lit: bool, facts: Facts) -> Judgement:
    shutoff = view.pack.shutoff
    surely = view.work.shutoff / view.doubt_factor(shutoff, DOUBT_CELSIUS)
    holds = lit and view.firing.kiln.cone_shutoff and surely >= 1.0
    return Judgement("shutoff-overdue", None, holds, (*facts, ("cone", shutoff.name)))


def _guard(view: View, lit: bool, facts: Facts) -> Judgement:
    guard, at_down = view.pack.guard, view.firing.guard_bend_at_down
    if guard is None or at_down is None:
        return Judgement("guard-cone", None, False)
    surely = bend_degrees(view.work.guard / view.doubt_factor(guard))
    holds = lit and surely >= min(at_down + GUARD_PAST_DEGREES, 89.0)
    return Judgement("guard-cone", None, holds, (*facts, ("cone", guard.name), ("bend", surely)))


def _heat_lost(view: View) -> Judgement:
    firing = view.firing
    facts: Facts = (("since_utc_ms", firing.off_utc_ms), ("peak", max(firing.peaks, default=None)))
    return Judgement("heat-lost", None, firing.stopped is Stopped.LOST and not firing.off, facts)


def _fell_short(view: View) -> Judgement:
    firing = view.firing
    fresh = firing.off_ms is not None and view.now_ms - firing.off_ms < SHORT_NEWS_MS
    facts: Facts = (
        ("since_utc_ms", firing.off_utc_ms),
        ("peak", max(firing.peaks, default=None)),
        ("cone", firing.plan.cone),
        ("alpha", view.work.firing),
    )
    return Judgement("fell-short", None, firing.stopped is Stopped.SHORT and fresh, facts)


def _blind(view: View) -> Judgement:
    lit = not view.firing.off or any(p > 100.0 for p in view.firing.peaks)
    return Judgement("blind", None, lit and not any(view.fit))


def _probes(view: View) -> tuple[Judgement, ...]:
    found = []
    for i, (track, doubt) in enumerate(zip(view.tracks, view.doubts, strict=True)):
        ring = view.ring_name(i)
        tags = set()
        if track.fault is not None:
            tags.add(TAG_OF_FAULT[track.fault])
        elif doubt is not None:
            tags.add(f"probe-{doubt.reason.value}")
        elif track.aside_at_ms is not None and view.now_ms - (track.at_ms or 0) > NEVER_BELIEVED_MS:
            # Nothing it says agrees with anything it said.
            tags.add("probe-noisy")
        facts: Facts = (("celsius", track.celsius), ("from", doubt.from_celsius if doubt else None))
        found += [Judgement(tag, ring, tag in tags, facts if tag in tags else ()) for tag in PROBE_TAGS]
    return tuple(found)


def climb_limit(view: View, probe: int) -> float:
    """The fastest climb [degC/h] this ring may show now: the plan's, damp ware's, or more than any kiln does.

    Elements and air run ahead of cold ware just after lighting; the damp limit counts where water boils.
    """
    firing, celsius = view.firing, view.tracks[probe].celsius or 0.0
    if firing.now_stage.climb_limit is not None:
        return firing.now_stage.climb_limit
    if firing.candling and celsius > firing.plan.damp.from_celsius + 10.0:
        return firing.plan.damp.celsius_per_hour * WARE_BEHIND_AIR
    highest = max(firing.switches, key=firing.kiln.switch.of)
    return FASTEST_CLIMBS[highest]


def _runaway(view: View) -> Judgement:
    if view.firing.off:
        return Judgement("runaway", None, False)
    over = [
        (climb - climb_limit(view, i), climb, i)
        for i, fit_ in enumerate(view.fit)
        if fit_ and (climb := view.tracks[i].climb) is not None
    ]
    if not over:
        return Judgement("runaway", None, None)
    excess, climb, probe = max(over)
    facts: Facts = (("hottest", view.ring_name(probe)), ("climb", climb), ("limit", climb_limit(view, probe)))
    return Judgement("runaway", None, excess > 0.0, facts)


def _still_on(view: View) -> Judgement:
    firing = view.firing
    settled = firing.off and firing.off_ms is not None and view.now_ms - firing.off_ms > 12 * 60_000
    if not settled:
        return Judgement("still-on", None, False)
    for i, fit_ in enumerate(view.fit):
        points = since(view.last(i, 15), (firing.off_ms or 0) + 12 * 60_000)
        climb = view.tracks[i].climb
        if fit_ and len(points) >= 5 and climb is not None and points[-1][1] > 60.0:
            rise = points[-1][1] - min(c for _, c in points)
            if rise >= 8.0 and climb > 25.0:
                facts: Facts = (("hottest", view.ring_name(i)), ("celsius", points[-1][1]), ("climb", climb))
                return Judgement("still-on", None, True, facts)
    return Judgement("still-on", None, False)


def _behind(view: View) -> tuple[Judgement, ...]:
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
