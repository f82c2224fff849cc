"""What a plan should do in this kiln before it is lit: each ring's curve, the cone, the end.

The kiln model of `core.thermal` run along the stages from a cold kiln. Three kilns are run: the likeliest, one that
heats better and one that heats worse; what lies between is the band.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp

from spyhole.core.cones.kinetics import heat_work
from spyhole.core.curve.heat import pack_of
from spyhole.core.kiln import Kiln
from spyhole.core.learned import Learned
from spyhole.core.plan import Plan, Stage
from spyhole.core.thermal.physics import NODES, Heat, advance
from spyhole.core.thermal.prior import outside_of, prior, recalled, taught

STEP_HOURS = 1 / 12
LONG_STEP_HOURS = 1 / 4
LONG_STAGE_HOURS = 4.0
NEAR_STEP_HOURS = 1 / 30
NEAR_CELSIUS = 60.0
MOST_HOURS_UNTIL = 24.0
"""A stage that waits for heat this long waits for ever."""
MOST_HOURS = 240.0
"""No firing takes ten days; a plan that does is not run to its end."""
AT_REST_CELSIUS_PER_HOUR = 3.0
SETTLING_HOURS = 1.0
KNOWN_SHARE = 0.06
UNKNOWN_SHARE = 0.2
"""How far a kiln's watts, load and mains are from what is believed, eight times in ten: after a good firing, and
before any (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Course:
    """hours: from lighting. rings: one a ring, degC, as many as hours. stages: when each begins [h].

    down_hours: the firing cone at the reference ring; off_hours: the end of heating. None: never.
    unending: index of the stage that never ends.
    """

    hours: tuple[float, ...]
    rings: tuple[tuple[float, ...], ...]
    stages: tuple[float, ...]
    down_hours: float | None
    off_hours: float | None
    unending: int | None = None


@dataclass(frozen=True, slots=True)
class Expected:
    """known: whether a good firing of this kiln stands behind it."""

    likely: Course
    quick: Course
    slow: Course
    known: bool


@lru_cache(maxsize=8)
def heat_believed(kiln: Kiln, teacher: Plan | None, learned: Learned) -> Heat:
    """What this kiln is made of, by the last good firing as a plan tells it and by what was learned since."""
    room = (20.0,) * len(kiln.rings)
    if teacher is None:
        belief = prior(kiln, room, 0)
    else:
        end = pack_of(teacher.cone, teacher.body, teacher.shutoff_cone).firing.end_60_celsius
        belief = taught(kiln, teacher, end, room, 0)
    return recalled(kiln, belief, learned.model).heat if learned.model else belief.heat


def teacher_of(plans: tuple[Plan, ...]) -> Plan | None:
    """The first of these that tells of a good firing, each stage with where it ended."""
    return next((p for p in plans if all(s.expected_end_celsius for s in p.stages)), None)


def expect(
    kiln: Kiln, plan: Plan, teacher: Plan | None = None, learned: Learned | None = None, room_celsius: float = 20.0
) -> Expected:
    """The three courses of a plan in a kiln."""
    learned = learned or Learned()
    heat = heat_believed(kiln, teacher, learned)
    known = teacher is not None or bool(learned.model)
    doubt = KNOWN_SHARE if known else UNKNOWN_SHARE

    def run(share: float) -> Course:
        other = replace(heat, full=heat.full * exp(share), wall=heat.wall * exp(-share), leak=heat.leak * exp(-share))
        return course(other, kiln, plan, learned, room_celsius)

    return Expected(run(0.0), run(doubt), run(-doubt), known)


def course(heat: Heat, kiln: Kiln, plan: Plan, learned: Learned, room_celsius: float) -> Course:
    """One kiln along the plan, turned on time."""
    pack = pack_of(plan.cone, plan.body, plan.shutoff_cone, learned.shutoff_late)
    ending = pack.shutoff if kiln.cone_shutoff else pack.firing
    near = min(pack.firing.end_60_celsius, ending.end_60_celsius) - NEAR_CELSIUS
    ring = NODES * plan.reference_ring
    offset = _offset(kiln, plan, learned)
    celsius = [room_celsius] * (NODES * len(kiln.rings))
    hours, seen = [0.0], [tuple(celsius[::NODES])]
    stages: list[float] = []
    firing = off = 0.0
    down: float | None = None
    for index, stage in enumerate(plan.stages):
        began, arrived = hours[-1], None
        stages.append(began)
        outside = outside_of(kiln, plan, stage, stage.switches, room_celsius)
        while True:
            gone = hours[-1] - began
            before = celsius[ring]
            step = _step(stage, gone, before > near)
            celsius = advance(heat, celsius, outside, step)
            more = heat_work(pack.firing, before + offset, celsius[ring] + offset, step * 3600.0)
            if down is None and firing + more >= 1.0:
                down = hours[-1] + step * (1.0 - firing) / more
            firing += more
            more_off = heat_work(ending, before + offset, celsius[ring] + offset, step * 3600.0)
            off += more_off
            hours.append(hours[-1] + step)
            seen.append(tuple(celsius[::NODES]))
            gone += step
            if off >= 1.0:  # it trips in whatever stage
                end = hours[-1] - step * (off - 1.0) / more_off
                return _made(hours, seen, stages, down, end)
            if hours[-1] > MOST_HOURS:
                return _made(hours, seen, stages, down, None, index)
            if stage.hours is not None:
                if gone >= stage.hours - 1e-9:
                    break
                continue
            if stage.until_celsius is not None and celsius[ring] >= stage.until_celsius:
                arrived = hours[-1] if arrived is None else arrived
                if hours[-1] - arrived >= stage.soak_minutes / 60.0:
                    break
                continue
            at_rest = gone > SETTLING_HOURS and (celsius[ring] - before) / step < AT_REST_CELSIUS_PER_HOUR
            if at_rest or gone >= MOST_HOURS_UNTIL:
                return _made(hours, seen, stages, down, None, index)
    return _made(hours, seen, stages, down, hours[-1])


def _made(
    hours: list[float],
    seen: list[tuple[float, ...]],
    stages: list[float],
    down: float | None,
    off: float | None,
    unending: int | None = None,
) -> Course:
    return Course(tuple(hours), tuple(zip(*seen, strict=True)), tuple(stages), down, off, unending)


def _step(stage: Stage, gone: float, near: bool) -> float:
    if near:
        step = NEAR_STEP_HOURS
    elif stage.hours is not None and stage.hours > LONG_STAGE_HOURS:
        step = LONG_STEP_HOURS
    else:
        step = STEP_HOURS
    return step if stage.hours is None else min(step, max(stage.hours - gone, 1e-3))


def _offset(kiln: Kiln, plan: Plan, learned: Learned) -> float:
    """What has to be added to the reference ring [degC], as cones of earlier firings taught."""
    known = learned.offset(kiln.probe_nearest(plan.reference_ring))
    return 0.0 if known is None else known.value


@dataclass(frozen=True, slots=True)
class Lighting:
    """When to light so as to be there when it goes down [utc_ms]: the likeliest, and down between low and high."""

    light_utc_ms: int
    down_low_utc_ms: int
    down_high_utc_ms: int


def light_by(expected: Expected, there_utc_ms: int) -> Lighting | None:
    """there_utc_ms: when the keeper wants to see it go down. None where it never ends.

    The whole band lies after that time: nobody has to be there earlier than they said.
    """
    quick, slow = expected.quick.off_hours, expected.slow.off_hours
    likely = expected.likely.off_hours
    if quick is None or likely is None:
        return None
    lit = there_utc_ms - round(quick * 3_600_000)
    return Lighting(lit, there_utc_ms, lit + round((slow or likely) * 3_600_000))


def timer_minutes(expected: Expected, plan: Plan) -> int | None:
    """What the backup timer should be wound to at lighting: to the late end, and the plan's margin; in tens."""
    end = expected.slow.off_hours or expected.likely.off_hours
    return None if end is None else round((end * 60.0 + plan.timer_margin_minutes) / 10.0) * 10
