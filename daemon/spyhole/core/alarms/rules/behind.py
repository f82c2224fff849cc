"""Getting less than its switches should give: the whole kiln, or one ring. By this kiln's own model."""

from statistics import median

from spyhole.core.alarms.book import Judgement
from spyhole.core.kiln import Switch
from spyhole.core.lacking import is_judged, lacks, stands_behind
from spyhole.core.last_minutes import by_itself
from spyhole.core.outcome import Facts
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View

WARMS_MS = 40 * 60_000
WARMS_CELSIUS = 6.0
"""Any ring that is on has warmed by more in that time, and a ring beside it soon after (common practice, no source)."""
STANDS_CELSIUS_PER_HOUR = 6.0
TIMES = 2.0
"""How many times as much as the others a ring lacks that is behind by itself (chosen)."""
MOST_OF_THEM = 2
ALONE_SHARE = 0.05
"""Of full watts: where all seem to lack heat, one of more than two that lacks so many times as much lacks it alone."""


def behind(view: View) -> tuple[Judgement, ...]:
    """Stall of the kiln, or one ring behind."""
    firing = view.firing
    rings = range(len(view.tracks))
    if (cold := _never_lit(view)) is not None:
        facts: Facts = (
            ("hottest", view.ring_name(cold)),
            ("celsius", view.tracks[cold].celsius),
            ("climb", view.recent_climb(cold, 30)),
        )
        return (Judgement("stall", None, True, facts),)
    if firing.off or not firing.heating or firing.candling:
        return (Judgement("stall", None, False), *(Judgement("ring-behind", view.ring_name(i), False) for i in rings))
    left = {i: one for i in rings if (one := view.left_of(i)) is not None and view.switched(i) is not Switch.OFF}
    if not left or not is_judged(view):
        return (Judgement("stall", None, None), *(Judgement("ring-behind", view.ring_name(i), None) for i in rings))
    lacking = {i for i, one in left.items() if lacks(one) or _lacked(view, i)}
    memory = firing.memory
    if memory is not None and memory.slips in left and len(left) == 1:
        return (Judgement("stall", None, None), *(Judgement("ring-behind", view.ring_name(i), None) for i in rings))
    whole = len(lacking) == len(left) or _stands(view, left)
    alone = _alone(view) if whole else None
    if alone is not None:
        return (_stall(view, left, False), *(_ring(view, i, left, {alone}, i == alone) for i in left))
    return (_stall(view, left, whole), *(_ring(view, i, left, lacking, None if whole else False) for i in left))


def _never_lit(view: View) -> int | None:
    """The warmest probe of a ring that is on, if the kiln has not warmed since it was lit; None where it has."""
    firing = view.firing
    seen = [(t.celsius, i) for i, t in enumerate(view.tracks) if view.fit[i] and t.celsius is not None]
    on = [(celsius, i) for celsius, i in seen if view.switched(i) is not Switch.OFF]
    if firing.off or not on or view.now_ms - firing.started_ms < WARMS_MS:
        return None
    warmed = max(celsius for celsius, _ in seen) > firing.room_celsius + WARMS_CELSIUS
    return None if warmed or max(firing.peaks) > firing.room_celsius + WARMS_CELSIUS else max(on)[1]


def _alone(view: View) -> int | None:
    """The one that lacks heat where all of them seem to: the others give theirs to a ring that has gone cold."""
    lacking = by_itself(view)
    if len(lacking) <= MOST_OF_THEM:
        return None
    own = min(lacking, key=lacking.__getitem__)
    others = median(share for i, share in lacking.items() if i != own)
    return own if lacking[own] < TIMES * min(others, -ALONE_SHARE) else None


def _lacked(view: View, probe: int) -> bool:
    """Whether this ring has lacked heat before, and has not come back since."""
    since = view.firing.lacked
    return probe < len(since) and since[probe] is not None


def _stands(view: View, left: dict[int, Residual]) -> bool:
    """The last stage goes nowhere, and the cone is not down: told though the model has come to expect it."""
    short_of_cone = view.work.firing * view.doubt_factor(view.pack.firing) < 1.0
    climbs = [view.recent_climb(i, 15) for i in left]
    slow = all(c is not None and c < STANDS_CELSIUS_PER_HOUR for c in climbs)
    return view.firing.last_stage and view.firing.now_stage.until_cone and short_of_cone and slow


def _stall(view: View, left: dict[int, Residual], whole: bool) -> Judgement:
    probe = min(left, key=lambda i: left[i].share or 0.0)
    facts: Facts = (
        ("hottest", view.ring_name(probe)),
        ("celsius", view.tracks[probe].celsius),
        ("climb", view.recent_climb(probe, 15)),
        ("expected", left[probe].climb),
    )
    return Judgement("stall", None, whole, facts if whole else ())


def _behind_now(view: View, probe: int, left: dict[int, Residual]) -> float | None:
    """How far it is behind the others now [degC], as somebody sees who looks at the rings; None: cannot tell."""
    own = view.tracks[probe].celsius
    others = [celsius for i in left if i != probe and (celsius := view.tracks[i].celsius) is not None]
    return None if own is None or not others else median(others) - own


def _ring(view: View, probe: int, left: dict[int, Residual], lacking: set[int], alone: bool | None) -> Judgement:
    """One ring, where the others have what they should. alone: surely so; None where all of them lack alike."""
    name = view.ring_name(probe)
    others = [one.share or 0.0 for i, one in left.items() if i != probe]
    memory = view.firing.memory
    if alone is None or not others or (memory is not None and memory.slips == probe):
        return Judgement("ring-behind", name, None)
    own = left[probe].share or 0.0
    not_turned = memory is not None and probe in memory.left and stands_behind(view.firing, probe)
    falls_away = probe in lacking or lacks(left[probe], tuple(others))
    by_far = own < TIMES * min(median(others), 0.0)
    if alone or not_turned or (falls_away and (by_far or _alone(view) == probe)):
        facts: Facts = (
            ("climb", view.tracks[probe].climb),
            ("expected", left[probe].climb),
            ("behind", _behind_now(view, probe, left)),
        )
        return Judgement("ring-behind", name, True, facts)
    # One that has lacked heat and not come back is behind still, though the model has come to expect it.
    known = _lacked(view, probe) or stands_behind(view.firing, probe)
    return Judgement("ring-behind", name, None if known else False)
