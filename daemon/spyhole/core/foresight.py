"""The kiln model run along the plan: when a cone goes down."""

from math import log, sqrt

from spyhole.core.cones.kinetics import Cone, heat_work
from spyhole.core.firing import logs_switches
from spyhole.core.outcome import Forecast
from spyhole.core.thermal.forward import Shares, ahead
from spyhole.core.thermal.physics import NODES
from spyhole.core.view import View

HOUR_MS = 3_600_000
EIGHTY_PERCENT = 1.28
KEEPER_HOURS = 0.1 / EIGHTY_PERCENT
"""Deviation of a person's turn from its time (six minutes eight times in ten: common practice, no source)."""
UNWRITTEN_HOURS = 0.25
"""The same where nobody writes turns down, so that the stage itself is a guess (chosen)."""
MODEL_SHARE = 0.2
"""What no two-node wall gets right, as a share of the time left (chosen)."""
FLOOR_HOURS = 1.5 / 60


def plan_shares(view: View) -> Shares:
    """The switches as they stand, then as the plan turns them."""
    firing = view.firing
    of = firing.kiln.switch.of
    stages, ring = firing.plan.stages, view.firing.kiln.probe_rings[view.reference]
    index, since = firing.stage, -(view.now_ms - firing.stage_ms) / HOUR_MS

    def shares(hours: float, celsius: list[float]) -> tuple[float, ...]:
        nonlocal index, since
        while index < len(stages) - 1:
            stage = stages[index]
            if stage.hours is not None and hours - since >= stage.hours - 1e-6:
                since = max(since + stage.hours, 0.0)
            elif stage.until_celsius is not None and celsius[ring] >= stage.until_celsius:
                since = hours
            else:
                break
            index += 1
        switches = firing.switches if index == firing.stage else stages[index].switches
        return tuple(of(s) for s in switches)

    return shares


def cone_falls(view: View, one: Cone, alpha: float, grace_celsius: float) -> Forecast | None:
    """When this cone is down at the reference ring, its work so far being alpha; None when it never will be."""
    firing, belief = view.firing, view.firing.model
    if belief is None:
        return None
    ring = firing.kiln.probe_rings[view.reference]
    # The run starts from what the probe says: the belief trails a curve that bends.
    celsius_now = view.celsius[view.reference]
    trails = 0.0 if celsius_now is None else celsius_now - belief.mean[NODES * ring]
    offset = view.taught(view.reference).offset.value + trails

    gained, before, gone = alpha, belief.mean[NODES * ring] + offset, 0.0

    def finish(hours: float, celsius: list[float]) -> float | None:
        nonlocal gained, before, gone
        now = celsius[ring] + offset
        more = heat_work(one, before, now, (hours - gone) * 3600.0)
        if gained + more >= 1.0:
            return gone + (hours - gone) * (1.0 - gained) / more
        gained, before, gone = gained + more, now, hours
        return None

    hours = ahead(belief, plan_shares(view), finish, firing.room_celsius, 1 / 20 if alpha > 0.1 else 1 / 6)
    if hours is None:
        return None
    end_celsius = one.end_60_celsius
    doubt = log(view.doubt_factor(one, grace_celsius)) / 2.0 / (one.rate_per_second(end_celsius) * 3600.0)
    return _between(view, hours, doubt * (1.0 - 0.5 * max(alpha, 0.0)))


def _between(view: View, hours: float, more_hours: float) -> Forecast:
    firing = view.firing
    left = len(firing.plan.stages) - 1 - firing.stage
    each = KEEPER_HOURS if logs_switches(firing) else UNWRITTEN_HOURS
    deviation = sqrt(more_hours**2 + left * each**2 + (MODEL_SHARE * hours) ** 2 + FLOOR_HOURS**2)
    wide = EIGHTY_PERCENT * deviation
    # A time ahead cannot be early without end: the early side closes towards now.
    early = hours * hours / (hours + wide)

    def at(time: float) -> int:
        return view.utc_ms + round(time * HOUR_MS)

    return Forecast(at(early), at(hours), at(hours + wide))
