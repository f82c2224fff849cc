"""What a firing would have been, had it been fired otherwise: the kiln model run twice along its plan.

Both runs are the model's, so that what it gets wrong of this kiln falls out of the difference for the most part.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

from spyhole.core.cones.kinetics import cone, guard_of
from spyhole.core.kiln import Kiln
from spyhole.core.learned import Learned
from spyhole.core.plan import Plan
from spyhole.core.plans_course import Course, course
from spyhole.core.refusal import Refusal
from spyhole.core.thermal.physics import Heat

WARE_SHARE = 0.5
"""Ware is about half of what a ring heats; shelves, air and hot face are the rest (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Otherwise:
    """later_hours: how much longer a stage with hours is kept, stage its index. load: of what was loaded, 1 the same.

    cones: how many whole cones hotter, for the pack and for the shut-off.
    """

    later_hours: float = 0.0
    stage: int = 0
    load: float = 1.0
    cones: int = 0


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the model. kwh: by switches and ratings, to the end of heating; None where it never ends."""

    plan: Plan
    course: Course
    peak_celsius: float
    kwh: float | None


def run(heat: Heat, kiln: Kiln, plan: Plan, learned: Learned, otherwise: Otherwise, room_celsius: float) -> Run:
    """The plan fired so. Refusal where the plan has no such stage, or the chart no such cone."""
    changed = _changed(plan, otherwise)
    share = 1.0 + WARE_SHARE * (otherwise.load - 1.0)
    # All is told against the capacity of what a ring heats: less of it answers quicker to the same watts and losses.
    lighter = replace(heat, full=heat.full / share, exchange=heat.exchange / share, draught=heat.draught / share)
    made = course(lighter, kiln, changed, learned, room_celsius)
    return Run(changed, made, max(made.rings[plan.reference_ring]), kwh_of(kiln, changed, made))


def kwh_of(kiln: Kiln, plan: Plan, made: Course) -> float | None:
    """Watts of the switches, stage by stage, to the end of heating."""
    if made.off_hours is None:
        return None
    ends = [*made.stages, made.off_hours]
    total = 0.0
    for stage, (begin, end) in zip(plan.stages, pairwise(ends), strict=False):
        watts = sum(kiln.switch.of(s) * ring.watts for s, ring in zip(stage.switches, kiln.rings, strict=True))
        total += watts * max(0.0, min(end, made.off_hours) - begin) / 1000.0
    return total


def _changed(plan: Plan, otherwise: Otherwise) -> Plan:
    if otherwise.later_hours:
        if not 0 <= otherwise.stage < len(plan.stages) or plan.stages[otherwise.stage].hours is None:
            timed = ", ".join(s.name for s in plan.stages if s.hours is not None) or "none"
            raise Refusal("stage", "only a stage with hours can be kept longer", f"of this plan: {timed}")
        stage = plan.stages[otherwise.stage]
        longer = replace(stage, hours=max(0.0, (stage.hours or 0.0) + otherwise.later_hours))
        stages = (*plan.stages[: otherwise.stage], longer, *plan.stages[otherwise.stage + 1 :])
        plan = replace(plan, stages=stages)
    for _ in range(otherwise.cones):
        plan = replace(plan, cone=_hotter(plan.cone, plan), shutoff_cone=_hotter(plan.shutoff_cone, plan))
    return plan


def _hotter(name: str, plan: Plan) -> str:
    following = guard_of(cone(name, plan.body))
    if following is None:
        raise Refusal("cones", f"the chart has no cone hotter than {name}", "ask for fewer")
    return following.name
