"""What speaks against a plan: what this kiln cannot do is refused, what a keeper should think about is said."""

from dataclasses import dataclass

from spyhole.core.kiln import Kiln, Switch
from spyhole.core.plan import Plan, Plugs, Stage
from spyhole.core.plans_course import MOST_HOURS, Course, Expected
from spyhole.core.refusal import Refusal
from spyhole.core.steam import DRIED_HOURS, WARE_BEHIND_AIR, dried_ms

HOUR_MS = 3_600_000


@dataclass(frozen=True, slots=True)
class Doubt:
    """field: as in the plan's form, stages counted from 1. words: a sentence."""

    field: str
    words: str


def refuse_impossible(kiln: Kiln, plan: Plan, expected: Expected) -> None:
    """Refusal for a plan that this kiln cannot follow, even if it heats better than is believed."""
    asked = sum(stage.hours or 0.0 for stage in plan.stages)
    if asked > MOST_HOURS:
        raise Refusal("stage", f"all stages together take {asked:g} hours", f"a firing takes at most {MOST_HOURS:g}")
    hottest: float | None = None
    for number, stage in enumerate(plan.stages, 1):
        until = stage.until_celsius
        if until is not None and _heats(stage):
            if hottest is not None and until <= hottest:
                raise Refusal(
                    f"stage {number}, until_celsius",
                    f"{until:g} is reached before {stage.name!r} begins, an earlier stage goes to {hottest:g}",
                    "put the stages in the order of the firing, each hotter than the one before",
                )
            hottest = until
    quick = expected.quick
    if quick.unending is not None:
        stage, rests = plan.stages[quick.unending], quick.rings[plan.reference_ring][-1]
        meant = f"cone {plan.cone}" if stage.until_celsius is None else f"{stage.until_celsius:g} degC"
        raise Refusal(
            f"stage {quick.unending + 1}, switches",
            f"{kiln.name} would not reach {meant} in {stage.name!r}: it comes to rest near {rests:.0f} degC",
            "set its switches higher, or end it sooner",
        )


def doubts(kiln: Kiln, plan: Plan, expected: Expected, damp: bool) -> tuple[Doubt, ...]:
    """What to think about before this plan is followed. damp: whether the ware is."""
    of_damp = _of_damp(kiln, plan, expected) if damp else []
    return (*_of_the_end(kiln, plan, expected), *_of_ceilings(plan, expected.likely), *of_damp)


def _of_the_end(kiln: Kiln, plan: Plan, expected: Expected) -> list[Doubt]:
    found = []
    likely = expected.likely
    if likely.unending is not None or expected.slow.unending is not None:
        number = (likely.unending if likely.unending is not None else expected.slow.unending or 0) + 1
        name = plan.stages[number - 1].name
        found.append(
            Doubt(f"stage {number}, switches", f"{name!r} may never end: {kiln.name} may come to rest too cool.")
        )
    if not plan.stages[-1].until_cone:
        found.append(Doubt(f"stage {len(plan.stages)}", "No stage waits for the cone: clock or curve end this firing."))
    early = likely.off_hours is not None and (likely.down_hours is None or likely.off_hours < likely.down_hours - 0.1)
    if kiln.cone_shutoff and early and plan.shutoff_cone != plan.cone:
        words = f"Cone {plan.shutoff_cone} in the shut-off drops before cone {plan.cone} is down."
        found.append(Doubt("shutoff_cone", words))
    return found


def _of_ceilings(plan: Plan, likely: Course) -> list[Doubt]:
    found = []
    for number, stage in enumerate(plan.stages[: len(likely.stages)], 1):
        if stage.ceiling_celsius is None:
            continue
        from_hours = likely.stages[number - 1]
        to_hours = likely.stages[number] if number < len(likely.stages) else likely.hours[-1]
        within = [i for i, hour in enumerate(likely.hours) if from_hours < hour <= to_hours]
        top = max((ring[i] for ring in likely.rings for i in within), default=0.0)
        if top > stage.ceiling_celsius:
            words = f"{stage.name!r} should come to {top:.0f} degC, above its own ceiling: that would be an alarm."
            found.append(Doubt(f"stage {number}, ceiling_celsius", words))
    return found


def _of_damp(kiln: Kiln, plan: Plan, expected: Expected) -> list[Doubt]:
    """Damp ware bursts when it is hurried through the steam. Judged as the watch will judge it."""
    found, limit, likely = [], plan.damp, expected.likely
    fastest, where, stage = 0.0, "", 1
    for ring, curve in zip(kiln.rings, likely.rings, strict=True):
        dried = 0.0
        for i in range(len(curve) - 1):
            hours = likely.hours[i + 1] - likely.hours[i]
            dried += dried_ms(curve[i], round(hours * HOUR_MS))
            if dried >= DRIED_HOURS * HOUR_MS:
                break
            if limit.from_celsius <= curve[i] <= limit.to_celsius:
                climb = (curve[i + 1] - curve[i]) / hours
                if climb > fastest:
                    began = [n for n, at in enumerate(likely.stages, 1) if at <= likely.hours[i]]
                    fastest, where, stage = climb, ring.name, began[-1]
    if fastest > WARE_BEHIND_AIR * limit.celsius_per_hour:
        found.append(
            Doubt(
                f"stage {stage}, switches",
                f"The {where} ring should climb {fastest:.0f} degC an hour while steam leaves, and damp ware bears "
                f"about {limit.celsius_per_hour:g}: it may burst. Candle it longer first.",
            )
        )
    if plan.stages[0].plugs is Plugs.IN:
        found.append(Doubt("stage 1, plugs", "The plugs are in while steam should leave damp ware."))
    return found


def _heats(stage: Stage) -> bool:
    return any(switch is not Switch.OFF for switch in stage.switches)
