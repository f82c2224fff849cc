"""Too hot: past the ceiling, past the kiln's own limit, past the cones."""

from statistics import median

from spyhole.core.alarms.book import Judgement
from spyhole.core.cones.kinetics import bend_degrees
from spyhole.core.firing import unturned
from spyhole.core.heating import TURNED_DOWN_MS, clear_fall
from spyhole.core.outcome import Facts
from spyhole.core.view import View, ceiling_celsius

GUARD_PAST_DEGREES = 30.0
LATE_DEVIATIONS = 2.3
"""How late a shut-off may be: 99 of 100 trips are sooner, by all that may be off and all that its own trips taught."""
OTHERS_CELSIUS = 25.0
"""Unequal rings can be right: others may run this much hotter than the one whose cone decides (common practice)."""


def overfire(view: View) -> tuple[Judgement, ...]:
    """Every way of being too hot; nothing can be judged while nothing is seen."""
    firing = view.firing
    lit = firing.heating and not firing.off
    seen = [(t.celsius or 0.0, i) for i, t in enumerate(view.tracks) if view.fit[i]]
    if not seen:
        return tuple(
            Judgement(tag, None, None if lit else False)
            for tag in ("ceiling-passed", "kiln-limit", "shutoff-overdue", "guard-cone")
        )
    hottest, probe = max(seen)
    facts: Facts = (("hottest", view.ring_name(probe)), ("celsius", hottest))
    return (
        _ceiling(view, lit, seen),
        Judgement(
            "kiln-limit", None, hottest > firing.kiln.maximum_celsius, (*facts, ("limit", firing.kiln.maximum_celsius))
        ),
        _overdue(view, lit, facts),
        _guard(view, lit, facts),
    )


def _ceiling(view: View, lit: bool, seen: list[tuple[float, int]]) -> Judgement:
    """By the ring that is furthest past what it should not pass; where the cone's ring is seen to be below, others may
    be hotter than the cone's own end."""
    firing = view.firing
    ceiling = ceiling_celsius(firing, view.now_ms)
    if ceiling is None:
        return Judgement("ceiling-passed", None, False)
    stage = unturned(firing).now_stage
    by_cone = stage.until_cone and stage.ceiling_celsius is None and view.fit[view.reference]
    highest = firing.kiln.maximum_celsius

    def limit(probe: int) -> float:
        more = OTHERS_CELSIUS if by_cone and probe != view.reference else 0.0
        return max(ceiling, min(ceiling + more, highest))

    celsius, probe = max(seen, key=lambda one: one[0] - limit(one[1]))
    facts: Facts = (("hottest", view.ring_name(probe)), ("celsius", celsius), ("limit", limit(probe)))
    return Judgement("ceiling-passed", None, lit and celsius > limit(probe), facts)


def _overdue(view: View, lit: bool, facts: Facts) -> Judgement:
    """By the reference ring, where the shut-off sits; and by the others where most of them are well past it.

    A probe there that reads low, unnoticed, must not keep a jam quiet.
    """
    shutoff = view.pack.shutoff
    late = LATE_DEVIATIONS * view.shutoff_deviation()
    surely = view.work.shutoff / view.surely(shutoff, late)
    well_past = view.surely(shutoff, late + OTHERS_CELSIUS)
    others = [view.work_of(i).shutoff / well_past for i, fit in enumerate(view.fit) if fit and i != view.reference]
    most = len(others) >= 2 and median(others) >= 1.0
    holds = lit and view.firing.kiln.cone_shutoff and (surely >= 1.0 or most)
    return Judgement(
        "shutoff-overdue", None, None if holds and _falls(view) else holds, (*facts, ("cone", shutoff.name))
    )


def _guard(view: View, lit: bool, facts: Facts) -> Judgement:
    guard, at_down = view.pack.guard, view.firing.guard_bend_at_down
    if guard is None or at_down is None:
        return Judgement("guard-cone", None, False)
    surely = bend_degrees(view.work.guard / view.doubt_factor(guard))
    holds = lit and surely >= min(at_down + GUARD_PAST_DEGREES, 89.0)
    return Judgement(
        "guard-cone", None, None if holds and _falls(view) else holds, (*facts, ("cone", guard.name), ("bend", surely))
    )


def _falls(view: View) -> bool:
    """Whether every ring has just begun to fall, as none does that is heated: what says that the kiln was not shut off
    waits until it is known whether it was."""
    known = False
    for i, fit in enumerate(view.fit):
        celsius, points = view.tracks[i].celsius, view.last(i, 2 * TURNED_DOWN_MS // 60_000)
        if not fit or celsius is None or not points:
            continue
        known = True
        peak_ms, peak = max(points, key=lambda point: point[1])
        # By then it is known whether the heat has ended.
        if peak - celsius < clear_fall(peak, view.firing) or view.now_ms - peak_ms > TURNED_DOWN_MS:
            return False
    return known
