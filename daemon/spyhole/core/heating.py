"""Is it still heating? Told from a switch turned, a peek through the plug, and noise.

A kiln that loses its heat falls on every ring that should heat, and goes on falling; a peek recovers.
"""

import itertools

from spyhole.core.curve.climb import Minute, since
from spyhole.core.firing import Firing, Stopped, close, touched
from spyhole.core.kiln import Switch
from spyhole.core.last_minutes import share_lost, what_is_left
from spyhole.core.quick import changed
from spyhole.core.resting import slips_ms
from spyhole.core.view import View

NEAR_CONE_CELSIUS = 120.0
ON_CELSIUS_PER_HOUR = 40.0
MISTAKEN_MS = 12 * 60_000
"""An end of heating taken back sooner than this was a lid or a plug, not a shut-off."""
EXPLAINED_SHARE = 0.12
"""A fall that leaves less than this of its switch's watts unexplained is what these switches do: a lower stage."""
FALLS_MINUTES = 4
LOST_SHARE = 0.55
"""What nothing heats lacks all that its switch gives, but for what its elements still hold (chosen)."""
FED_SHARE = 0.45
"""Of several rings that fall, one that lacks less than that is fed: a supply takes the heat of all, and a ring that has
lost its own lets its neighbours fall too where they hardly hold the heat (chosen)."""
SURELY_LOST_SHARE = 0.75
UNSURE_MS = 10 * 60_000
"""What nothing heats falls so within eight minutes (losses of the proving ground: 0.9 and more). What falls by less
gets until its bricks give back no more and it stands, or it is lost after all (chosen)."""
TURNED_DOWN_MS = 16 * 60_000
"""Where the plan turns down next, a fall is given the time it takes to see what the switches stand at."""
HELD_FALLS_MS = 40 * 60_000
"""How long after it was turned down a kiln that is held falls by more than its walls explain (chosen)."""
SINKS_MINUTES, SINKS_CELSIUS, SINKS_CELSIUS_PER_HOUR = 45, 3.0, 3.5
"""More than the room's mood does to a ring near it within a night's hour (chosen)."""
LEAST_RISE = 5.0
REMEMBERED_MS = 5 * 60_000
"""A rise [degC] that is heat and no mood of the room; how soon after lighting the first minute is, where it is still
remembered."""
RISES_CELSIUS = 2.5
"""By how much three minutes together stand above three just before, and it is no noise of a probe (chosen)."""
PEAK_MS = 45 * 60_000
"""Before a fall is no longer explained: the heat ended where it was highest."""
NOTICED_MS = 15 * 60_000
"""How much later than the curve an end may be written down, that it is the same one (common practice, no source)."""
EARLY_DEVIATIONS = 2.0
"""By how much the ware may seem short and its firing be good."""

ALIKE_CELSIUS = 20.0
"""How far apart two good firings of the same plan end by the same probe, at most: the cones' lots, the shut-off's own
scatter and another climb, some three deviations of 7 (common practice, no source)."""


def follow(view: View) -> Firing:
    """The firing with its `heating` as this minute shows it."""
    firing = _noticed_late(view)
    seen = [i for i, fit in enumerate(view.fit) if fit]
    on = [i for i in seen if view.switched(i) is not Switch.OFF]
    judges = on or seen
    if not judges:
        return firing
    if firing.heating:
        if not on:
            # No probe sees a ring that is on: the warmest is nearest to one, and the others still take heat from it.
            judges = [max(seen, key=lambda i: view.tracks[i].celsius or 0.0)]
            if not _has_risen(view, judges[0]):
                return changed(firing, falling_ms=None)
        elif not any(_is_warm(view, i) for i in judges):
            return changed(firing, falling_ms=None)
        fall = [i for i in judges if _falls(view, i) or (not on and _sinks(view, i))]
        ended = _ended(view, judges, fall) and not _climbs_elsewhere(view, judges)
        if not ended or _explained(view, fall) or _fed(view, fall):
            return changed(firing, falling_ms=None)
        since_ms = firing.falling_ms or view.now_ms
        firing = changed(firing, falling_ms=since_ms)
        hottest = max(view.tracks[i].celsius or 0.0 for i in judges)
        patient = hottest <= 400.0 or not all(s is not Switch.OFF for s in firing.switches)
        turned = may_be_turned_down(firing) or (_is_held(firing) and view.now_ms - firing.changed_ms < HELD_FALLS_MS)
        wait_ms = TURNED_DOWN_MS if turned else (8 if patient else 2) * 60_000
        wait_ms = max(wait_ms, UNSURE_MS if _fed(view, fall, SURELY_LOST_SHARE) else slips_ms(view, since_ms))
        if view.now_ms - since_ms < wait_ms:
            return firing
        return _stop(view, firing)
    if any(_rises(view, i) for i in judges) or _climbs_elsewhere(view, judges):
        since_ms = firing.rising_ms or view.now_ms
        if view.now_ms - since_ms >= 180_000:
            return _resume(firing, view.now_ms)
        return changed(firing, rising_ms=since_ms)
    return changed(firing, rising_ms=None)


def _noticed_late(view: View) -> Firing:
    """The firing whose end was written down some minutes after it came: it ended where the curve turned.

    A kiln taken for lit while it already falls teaches that it loses far more than it does.
    """
    firing, probe = view.firing, _judge_of_ends(view)
    if not firing.heating or firing.off_ms is None or firing.off_utc_ms is None or not firing.now_stage.until_cone:
        return firing
    points = since(view.tracks[probe].minutes, firing.off_ms - NOTICED_MS)
    until = [point for point in points if point[0] <= firing.off_ms]
    if not until or not all(_falls(view, i) for i, fit in enumerate(view.fit) if fit):
        return firing
    peak_ms, peak = max(until, key=lambda point: point[1])
    if peak_ms == until[0][0] or peak - until[-1][1] < clear_fall(peak, firing):
        return firing
    return changed(firing, off_ms=peak_ms, off_utc_ms=firing.off_utc_ms - (firing.off_ms - peak_ms))


def _ended(view: View, judges: list[int], fall: list[int]) -> bool:
    """Whether rings that should heat have stopped: all; or, once the cone is down, most, where one heats on."""
    if len(fall) == len(judges):
        return True
    most = len(judges) >= 3 and len(fall) == len(judges) - 1
    return most and view.firing.last_stage and verdict(view) is Stopped.DONE


def _explained(view: View, fall: list[int]) -> bool:
    """Whether the believed switches explain the fall: a stage that begins with less than the one before."""
    left = what_is_left(view)
    rings = view.firing.kiln.probe_rings
    known = [one for i in fall if rings[i] < len(left) and (one := left[rings[i]]).share is not None]
    return bool(known) and all((one.share or 0.0) > -EXPLAINED_SHARE * one.given for one in known)


def _fed(view: View, fall: list[int], all_lost: float = LOST_SHARE) -> bool:
    """Whether what falls still gets some of its heat: elements that tire are no lost supply.

    all_lost: of what its switch gives, what one lacks that gets nothing.
    """
    known = share_lost(view, FALLS_MINUTES)
    lost = [known[i] for i in fall if i in known]
    fed = bool(lost) and (max(lost) < all_lost or min(lost) < FED_SHARE)
    return fed and (_is_held(view.firing) or verdict(view) is not Stopped.DONE)


def _is_held(firing: Firing) -> bool:
    """Whether the plan holds the kiln on its way down: it gets less than before for good and falls, and that is no end.

    A soak on the way up is another thing: there is more to come, and heat that is lost then is lost.
    """
    if firing.stage == 0 or firing.now_stage.until_cone or firing.now_stage.until_celsius is not None:
        return False
    before, *following = (firing.given(stage.switches) for stage in firing.plan.stages[firing.stage - 1 :])
    return all(given < before for given in (firing.given(firing.switches), *following))


def may_be_turned_down(firing: Firing) -> bool:
    """Whether the stage that comes next gets less than this one."""
    if firing.last_stage:
        return False
    following = firing.plan.stages[firing.stage + 1]
    return firing.given(following.switches) < firing.given(firing.switches)


def _falls(view: View, probe: int) -> bool:
    points = view.last(probe, 20)
    if len(points) < 5:
        return False
    values = [c for _, c in points]
    drop = max(values) - values[-1]
    return drop >= clear_fall(max(values), view.firing) and _monotonic(points[-4:]) and values[-1] < values[-4] - 0.3


def clear_fall(celsius: float, firing: Firing) -> float:
    """What a ring this hot has to fall, that it is no noise [degC]."""
    return max(2.5, 0.004 * (celsius - firing.room_celsius))


def _sinks(view: View, probe: int) -> bool:
    """Whether it has turned from rising to falling for most of an hour, too slowly to show from minute to minute: what
    is warm only through its neighbours, and they through theirs."""
    points, lately = view.last(probe, SINKS_MINUTES), view.recent_climb(probe, SINKS_MINUTES // 2)
    if len(points) < SINKS_MINUTES - 5 or lately is None:
        return False
    most_ms, most = max(points, key=lambda point: point[1])
    early = most_ms <= points[0][0] + SINKS_MINUTES // 3 * 60_000
    return early and most - points[-1][1] >= SINKS_CELSIUS and lately <= -SINKS_CELSIUS_PER_HOUR


def _is_warm(view: View, probe: int) -> bool:
    """Whether a ring that is on has any heat to lose. One that never had falls by its probe: as the kiln warms, a wire
    that is the wrong way round shows what is colder than the room."""
    return (view.tracks[probe].celsius or 0.0) > view.firing.room_celsius + LEAST_RISE or _has_risen(view, probe)


def _has_risen(view: View, probe: int) -> bool:
    """Whether any heat has come to a ring since the kiln was lit: one lit warm that is off falls there at first.

    True where it was lit longer ago than is remembered.
    """
    lit_ms = view.firing.started_ms
    points = since(view.tracks[probe].minutes, lit_ms)
    if not points or points[0][0] - lit_ms > REMEMBERED_MS:
        return True
    return max(c for _, c in points) - points[0][1] >= LEAST_RISE


def _climbs_elsewhere(view: View, judges: list[int]) -> bool:
    """A ring believed off climbs as only a ring that is on does: something was turned, and nothing is lost."""
    return any(
        fit and i not in judges and (view.tracks[i].climb or 0.0) > ON_CELSIUS_PER_HOUR
        for i, fit in enumerate(view.fit)
    )


def _monotonic(points: tuple[Minute, ...]) -> bool:
    return all(b[1] <= a[1] + 0.4 for a, b in itertools.pairwise(points))


def _rises(view: View, probe: int) -> bool:
    points = view.last(probe, 8)
    if len(points) < 5:
        return False
    values = [sum(c for _, c in points[i - 3 : i]) / 3.0 for i in range(3, len(points) + 1)]
    return values[-1] - min(values) >= max(RISES_CELSIUS, 0.002 * values[-1]) and points[-1][1] > points[-4][1]


def _stop(view: View, firing: Firing) -> Firing:
    """Heating has ended; heat work tells success from falling short."""
    fell_ms = firing.falling_ms or view.now_ms
    stopped_ms = _peak_ms(view, fell_ms)
    firing = changed(firing, heating=False, falling_ms=None, rising_ms=None)
    if firing.off:
        return changed(firing, stopped=verdict(view)) if firing.stopped is Stopped.NOT else firing
    stopped = verdict(view)
    utc_ms = view.utc_ms - (view.now_ms - stopped_ms)
    firing = changed(firing, stopped=stopped, off_ms=stopped_ms, off_utc_ms=utc_ms)
    return close(firing, stopped_ms, utc_ms) if stopped is Stopped.DONE else firing


def verdict(view: View) -> Stopped:
    """What an end of heating now would be."""
    firing, pack = view.firing, view.pack
    celsius = view.celsius[view.reference]
    if celsius is None:
        return Stopped.UNSEEN
    early = EARLY_DEVIATIONS * view.ware_deviation()
    if view.work.firing * view.surely(pack.firing, early) >= 1.0 and not _short_of_last_time(view):
        return Stopped.DONE
    near = celsius > pack.firing.end_60_celsius - NEAR_CONE_CELSIUS
    return Stopped.SHORT if firing.last_stage and near else Stopped.LOST


def _short_of_last_time(view: View) -> bool:
    """Whether the same probe, with the cone not down by its number, stood clearly higher as the last good firing ended.

    Whatever is wrong with the probe was wrong then too. Of one in doubt now, or where a ring has lacked heat, that says
    nothing.
    """
    firing = view.firing
    if not view.fit[view.reference] or any(since is not None for since in firing.lacked):
        return False
    ends = firing.plan.stages[-1].expected_end_celsius or ()
    ring = firing.kiln.probe_rings[view.reference]
    last = ends[ring] if firing.plan.stages[-1].until_cone and ring < len(ends) else None
    return last is not None and view.work.firing < 1.0 and firing.peaks[view.reference] < last - ALIKE_CELSIUS


def _resume(firing: Firing, now_ms: int) -> Firing:
    """It heats again. After an end that a person wrote down, or long after one, that is for the still-on rule."""
    firing = changed(firing, heating=True, rising_ms=None, falling_ms=None)
    by_person = firing.tripped or all(s is Switch.OFF for s in firing.switches)
    long_off = firing.off and now_ms - (firing.off_ms or now_ms) > MISTAKEN_MS
    if by_person or long_off:
        return firing
    lost = firing.stopped in (Stopped.LOST, Stopped.SHORT)
    if lost:
        firing = _timer_stood(firing, now_ms)
    return changed(
        firing,
        off=False,
        off_ms=None,
        off_utc_ms=None,
        stopped=Stopped.NOT,
        alpha_at_end=None,
        lost_ms=firing.off_ms if lost else firing.lost_ms,
        back_ms=now_ms if lost else firing.back_ms,
    )


def _peak_ms(view: View, before_ms: int) -> int:
    points = view.tracks[_judge_of_ends(view)].minutes
    recent = [p for p in points if p[0] > before_ms - PEAK_MS]
    return max(recent, key=lambda p: p[1])[0] if recent else before_ms


def _judge_of_ends(view: View) -> int:
    """The probe whose curve says when heating ended."""
    return view.reference if view.fit[view.reference] else next((i for i, fit in enumerate(view.fit) if fit), 0)


def _timer_stood(firing: Firing, now_ms: int) -> Firing:
    """Heat that comes back by itself was the supply's, neither timer's nor shut-off's: a timer that runs on the mains
    stood still meanwhile, and ends later."""
    lost_ms, ends_ms = firing.off_ms, firing.timer_ends_ms
    if lost_ms is None or ends_ms is None or not firing.kiln.timer_stops_in_power_cut or touched(firing, lost_ms):
        return firing
    return changed(firing, timer_ends_ms=ends_ms + now_ms - lost_ms)
