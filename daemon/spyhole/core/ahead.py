"""When things will happen: the next turn, the cone down, the shut-off, the lid."""

from collections.abc import Callable
from math import exp

from spyhole.core.cones.kinetics import Cone
from spyhole.core.cones.shutoff import DOUBT_CELSIUS
from spyhole.core.curve.climb import since
from spyhole.core.firing import turn_due_ms
from spyhole.core.foresight import cone_falls
from spyhole.core.outcome import Forecast, TimerEstimate
from spyhole.core.thermal.cooling import cool_to
from spyhole.core.thermal.line import FALL_SPREAD, SETTLE_MS, Line, fit, minutes_until, typical_fall
from spyhole.core.view import View

MINUTE_MS = 60_000
HOUR_MS = 3_600_000
HIGH_STAGE_HOURS = 3.5
"""How long an earthenware bisque takes on high when no former firing says (common practice, no source)."""
KEEPER_MS = 6 * MINUTE_MS
"""How far from its time a person turns a switch, eight times in ten (common practice, no source)."""
COOL_TO = (200, 100, 50)
LINE_GOOD_HOURS = 1.0
"""How far ahead a straight line of climbs is as good as the model (measured on the rehearsal kiln)."""
CLIMB_SETTLED = 0.07
CLIMB_UNSETTLED = 0.3
"""How far the climb may be from what it will settle to, as a share: much just after a turn, little an hour later."""
EIGHTY_PERCENT = 1.28
"""Standard deviations either side that hold 80 % of a normal distribution."""
WIDE_OF_TOLERANCE = 0.64
"""80 % of a tolerance read as two standard deviations."""


def next_turn(view: View) -> Forecast | None:
    """When the plan's next turn comes; None on the last stage, or when it cannot be told."""
    firing = view.firing
    due_ms = turn_due_ms(firing)
    if due_ms is not None:
        due = view.utc_ms + due_ms - view.now_ms
        return Forecast(max(due - KEEPER_MS, view.utc_ms), max(due, view.utc_ms), max(due, view.utc_ms) + KEEPER_MS)
    target = firing.now_stage.until_celsius
    if target is None or firing.off:
        return None
    return _run(view, _line(view), lambda _width: lambda celsius, _seconds: celsius >= target)


def cone_down(view: View) -> Forecast | None:
    """When the firing cone will be down at the reference ring."""
    return _when_down(view, view.pack.firing, view.work.firing, 0.0)


def shut_off(view: View) -> Forecast | None:
    """When the cone in the shut-off will drop; None where there is no shut-off."""
    if not view.firing.kiln.cone_shutoff:
        return None
    return _when_down(view, view.pack.shutoff, view.work.shutoff, DOUBT_CELSIUS)


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
    firing = view.firing
    hot = [(t.celsius or 0.0, t.minutes) for t, fit_ in zip(view.tracks, view.fit, strict=True) if fit_]
    if not firing.off or firing.off_ms is None or not hot:
        return tuple((target, None) for target in COOL_TO)
    points = since(max(hot)[1], firing.off_ms + 10 * MINUTE_MS)
    return tuple((target, cool_to(float(target), points, firing.room_celsius, view.utc_ms)) for target in COOL_TO)


def _when_down(view: View, one: Cone, alpha: float, grace_celsius: float) -> Forecast | None:
    firing = view.firing
    if firing.off or not firing.heating or alpha >= 1.0:
        return None
    by_model = cone_falls(view, one, alpha, grace_celsius)
    line = _line(view) if firing.last_stage else None
    if line is None:
        return by_model if by_model is not None or firing.last_stage else _by_plan(view)
    by_line = _by_line(view, line, one, alpha, grace_celsius)
    return _blend(view, by_line, by_model)


def _blend(view: View, near: Forecast | None, far: Forecast | None) -> Forecast | None:
    """The line of the last half hour knows the next one; the model knows the hours before it."""
    if near is None or far is None:
        return near or far
    hours = (far.median - view.utc_ms) / HOUR_MS
    share = exp(-((hours / LINE_GOOD_HOURS) ** 2))

    def mix(a: int, b: int) -> int:
        return round(share * a + (1.0 - share) * b)

    return Forecast(mix(near.low, far.low), mix(near.median, far.median), mix(near.high, far.high))


def _by_line(view: View, line: Line, one: Cone, alpha: float, grace_celsius: float) -> Forecast | None:
    factor = view.doubt_factor(one, grace_celsius) ** WIDE_OF_TOLERANCE

    def when(width: int) -> Callable[[float, float], bool]:
        left: float = factor**width - alpha
        gained = 0.0

        def done(celsius: float, seconds: float) -> bool:
            nonlocal gained
            gained += one.rate_per_second(celsius) * seconds
            return gained >= left

        return done

    return _run(view, line, when)


def _run(view: View, line: Line | None, when: Callable[[int], Callable[[float, float], bool]]) -> Forecast | None:
    """Run the reference ring's line forward: early, likeliest, late. when(-1, 0, 1) makes each one's test."""
    celsius, probe = view.celsius[view.reference], _speaker(view)
    climb = view.tracks[probe].climb
    if celsius is None or climb is None:
        return None
    fall, spread = (typical_fall(celsius), FALL_SPREAD) if line is None else (line.fall, line.fall_spread)
    if line is not None:
        climb = (climb + line.climb(view.tracks[probe].celsius or celsius)) / 2
    wide = CLIMB_SETTLED + CLIMB_UNSETTLED * exp(-(0 if line is None else line.points) / 4)
    ends = []
    for width in (-1, 0, 1):
        minutes = minutes_until(
            when(width), celsius, climb * (1 - width * wide), max(fall + width * EIGHTY_PERCENT * spread, 0.0)
        )
        if minutes is None and width <= 0:
            return None
        ends.append(720 if minutes is None else minutes)
    return Forecast(*(view.utc_ms + m * MINUTE_MS for m in ends))


def _speaker(view: View) -> int:
    """The probe whose climb is run forward: the reference ring's, or one that can be trusted."""
    probe = view.reference
    return probe if view.fit[probe] else next((i for i, fit_ in enumerate(view.fit) if fit_), probe)


def _line(view: View) -> Line | None:
    """The line of this stage so far; None until it has settled and run for a while."""
    return fit(since(view.tracks[_speaker(view)].minutes, view.firing.changed_ms + SETTLE_MS))


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
