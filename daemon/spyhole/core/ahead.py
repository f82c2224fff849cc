"""When things will happen: the next turn, the cone down, the shut-off, the lid."""

from math import hypot

from spyhole.core.cones.doubt import cone_deviation_celsius
from spyhole.core.cones.shutoff import trip_deviation_celsius
from spyhole.core.cooldown import cools
from spyhole.core.firing import turn_due_ms
from spyhole.core.foresight import BIAS_SHARE, TRIP_SHARE, climbs_to, cones_fall
from spyhole.core.leaning import leaning
from spyhole.core.outcome import Forecast, TimerEstimate
from spyhole.core.view import View

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
HIGH_STAGE_HOURS = 3.5
"""How long an earthenware bisque takes on high when no former firing says (common practice, no source)."""
KEEPER_MS = 6 * MINUTE_MS
"""How far from its time a person turns a switch, eight times in ten (common practice, no source)."""
COOL_TO = (200, 100, 50)


def next_turn(view: View) -> Forecast | None:
    """When the plan's next turn comes; None on the last stage, or when it cannot be told."""
    firing = view.firing
    due_ms = turn_due_ms(firing)
    if due_ms is not None:
        due = view.utc_ms + due_ms - view.now_ms
        return Forecast(max(due - KEEPER_MS, view.utc_ms), max(due, view.utc_ms), max(due, view.utc_ms) + KEEPER_MS)
    target, held_ms = firing.now_stage.until_celsius, round(firing.now_stage.soak_minutes * MINUTE_MS)
    hot = None if target is None or firing.off else climbs_to(view, target)
    return hot and Forecast(hot.low + held_ms, hot.median + held_ms, hot.high + held_ms)


def ends(view: View) -> tuple[Forecast | None, Forecast | None]:
    """When the firing cone will be down at the reference ring, and when the cone in the shut-off will drop.

    None where it is over, will never be, or there is no shut-off. Both come out of one run of the kiln.
    """
    firing, pack, work = view.firing, view.pack, view.work
    if firing.off or not firing.heating:
        return None, None
    offset = view.taught(view.reference).offset
    wanted = {0: (pack.firing, work.firing, BIAS_SHARE * hypot(offset.deviation, cone_deviation_celsius(pack.firing)))}
    if firing.kiln.cone_shutoff:
        trip_celsius = trip_deviation_celsius(firing.learned.shutoff_late, offset)
        wanted[1] = (pack.shutoff, work.shutoff, TRIP_SHARE * trip_celsius)
    wanted = {place: one for place, one in wanted.items() if one[1] < 1.0}
    found = dict(zip(wanted, cones_fall(view, tuple(wanted.values())), strict=True))
    said = firing.down_said, firing.off_said
    down, off = (
        None if i not in wanted else leaning(said[i], found[i] or _by_plan(view), view.now_ms, view.utc_ms)
        for i in (0, 1)
    )
    return down, off


def timer(view: View, down: Forecast | None, off: Forecast | None) -> TimerEstimate | None:
    """The backup timer against the cone: what is left to the late end, plus the plan's margin."""
    firing = view.firing
    ends_ms = firing.timer_ends_ms
    ends = None if ends_ms is None or ends_ms < view.now_ms else view.utc_ms + ends_ms - view.now_ms
    latest = max((f.high for f in (down, off) if f is not None), default=None)
    if firing.off or (ends is None and latest is None):
        return None
    advised = None
    if latest is not None:
        advised = round((latest - view.utc_ms) / MINUTE_MS + firing.plan.timer_margin_minutes)
    return TimerEstimate(ends, advised)


def cooling(view: View) -> tuple[tuple[int, Forecast | None], ...]:
    """When the hottest trusted ring reaches 200, 100 and 50 degC."""
    if not view.firing.off or not any(view.fit):
        return tuple((target, None) for target in COOL_TO)
    return cools(view, COOL_TO)


def _by_plan(view: View) -> Forecast | None:
    """What is left of the plan's hours, and the last stage as it took last time."""
    firing = view.firing
    stages = firing.plan.stages
    hours = [s.hours or s.expected_hours for s in stages[firing.stage : -1]]
    known = [h for h in hours if h is not None]
    if len(known) < len(hours):
        return None
    gone = (view.now_ms - firing.stage_ms) / HOUR_MS
    took = stages[-1].expected_hours or stages[-1].hours
    early, middle, late = (0.88, 1.0, 1.15) if took else (0.7, 1.0, 1.4)
    last = took or HIGH_STAGE_HOURS
    # Before the last stage its length is added to what is left of the others; on it, what has gone is taken off.
    rest = max(known[0] - gone, 0.0) + sum(known[1:]) if known else -gone
    slip = 0.1 * len(known)

    def at(share: float, slipped: float = 0.0) -> int:
        return view.utc_ms + max(round((rest + last * share + slipped) * HOUR_MS), MINUTE_MS)

    return Forecast(at(early), at(middle), at(late, slip))
