"""The kiln model run along the plan: when a cone goes down, when a ring is hot."""

from math import exp, hypot, sqrt
from statistics import NormalDist

from spyhole.core.cones.kinetics import Cone, heat_work
from spyhole.core.either_way import either_way
from spyhole.core.firing import Firing, held_since_ms, logs_switches
from spyhole.core.learned import late_minutes
from spyhole.core.outcome import Forecast
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.forward import Ahead, ahead
from spyhole.core.thermal.physics import NAMES, NODES, SHARED, Heat, Outside, heat_of
from spyhole.core.thermal.prior import outside_of
from spyhole.core.view import View

HOUR_MS = 3_600_000
EIGHTY_PERCENT = 1.28
LATE_HOURS = 0.07
"""How late a person turns a switch, as far as nobody has shown it (common practice, no source)."""
LATE_WEIGHT = 2
UNLIKE_LATE_HOURS = 1.0
"""Who is further from the plan than so much a turn did not forget one: ware was damp or dry, or the day was another
(chosen). It says nothing of the turns to come."""
KEEPER_HOURS = 0.1 / EIGHTY_PERCENT
"""Deviation of a person's turn from its time (six minutes eight times in ten: common practice, no source)."""
UNWRITTEN_HOURS = 0.15
"""The same where nobody writes turns down, so that the stage itself is a guess (chosen)."""
MODEL_SHARE = 0.07
MODEL_KNOWN_SHARE = 0.055
"""What no four-node kiln gets right, as a share of the time left; of a kiln that was fired before. Chosen with what is
unsure of its losses so that about eight forecasts in ten hold the cone."""
LOSSES_UNSEEN = 0.2
LOSSES_KNOWN = 0.05
"""How unsure it is what a kiln loses hotter than it has been: by so much, for each share of the way to the cone that is
still ahead, the losses may be more or less than they look from here; where earlier firings have been there, by less.
What that does to the time left the sensitivity says: little in a strong kiln, much in one that hardly gets there.
Of kilns never fired before, 0.77 and 0.79 of 73 forecasts of the proving ground held the cone three and two hours
ahead with 0.15, 0.4 and 0.6 of 20 of the other hand: between them (chosen)."""
GAIN_UNKNOWN = 1.5
"""By how many times itself the time left changes with the losses, before the sensitivity is known (chosen)."""
CLIMB_SHARE = 0.05
"""The same where a temperature is waited for (chosen)."""
UNKNOWN_SHARE = 0.2
LAST_SHARE = 0.17
"""How far two firings' last stages differ, load, mains and weather differing (common practice, no source)."""
OVERSURE = 0.1
"""Parameters are told apart worse than their spread says, but what matters for the curve is told better: one that is
too high makes up for another that is too low."""
BIAS_SHARE = 0.5
"""What probe, place and lot of cones shift in all of a firing's forecasts alike, against the doubt there is of them: a
class of wire is a limit, and few come near it (chosen with `MODEL_SHARE` and `OVERSURE`)."""
TRIP_SHARE = 0.8
"""The same for the cone in the shut-off, of which less is known (on 34 firings of the proving ground)."""
BEYOND_HOURS = 3.0
"""How long what the rings get beyond the model goes on: it fades to a third in so many hours. Of the error two hours
and one before the cone a tenth went with it, on 47 firings of the proving ground and on 28 of another hand's (10.2 to
9.2 min and 4.6 to 3.9; 16.5 to 14.0 and 4.5 to 3.5)."""
MEANT = 20.0
"""Odds that a cone is down when the plan takes heat away after it, before the curve says anything: who plans so means
it to be (common practice, no source)."""
LEAST_CLIMB = 15.0
NUDGE = 0.05
LOSSES = NAMES.index("wall"), NAMES.index("leak")
FLOOR_HOURS = 2.0 / 60
FAR_STEP_HOURS = 1 / 6
NEAR_STEP_HOURS = 1 / 20
NEAR_CELSIUS = 60.0


def lateness_hours(firing: Firing) -> float:
    """How late this keeper's next turn will be, by the turns so far."""
    if firing.stage == 0 or not logs_switches(firing):
        return LATE_HOURS
    planned = sum(s.hours or 0.0 for s in firing.plan.stages[: firing.stage])
    if any(s.hours is None for s in firing.plan.stages[: firing.stage]):
        return LATE_HOURS
    late = (firing.stage_ms - firing.started_ms) / HOUR_MS - planned
    if abs(late) > UNLIKE_LATE_HOURS * firing.stage:
        return LATE_HOURS
    return (late + LATE_WEIGHT * LATE_HOURS) / (firing.stage + LATE_WEIGHT)


def along_the_plan(view: View, near_celsius: float, *, but: int | None = None) -> Ahead:
    """The switches as they stand, then as the plan turns them, a little late; short steps once a cone is at work.

    but: the stage that is not left, however hot it gets.
    """
    firing = view.firing
    assert firing.model is not None
    stages, ring = firing.plan.stages, firing.kiln.probe_rings[view.reference]
    index, since = firing.stage, -(view.now_ms - firing.stage_ms) / HOUR_MS
    late = lateness_hours(firing)
    told = firing.model.told[-1][1]
    first = stages[index].hours
    due, held_ms = None, held_since_ms(firing)
    arrived = None if held_ms is None else -(view.now_ms - held_ms) / HOUR_MS
    if first is not None and index < len(stages) - 1:
        due = since + first + late
        if due < 0.05:
            due = max(0.05, since + first + 0.1)

    def ahead_of(hours: float, celsius: list[float]) -> tuple[Outside, float]:
        nonlocal index, since, told, due, arrived
        while index < len(stages) - 1:
            stage = stages[index]
            if due is not None:
                if hours < due - 1e-6:
                    break
                since = due
            elif stage.until_celsius is not None and index != but and celsius[ring] >= stage.until_celsius:
                arrived = hours if arrived is None else arrived
                if hours < arrived + stage.soak_minutes / 60.0 - 1e-6:
                    break
                since = hours
            else:
                break
            index, arrived = index + 1, None
            stage = stages[index]
            told = outside_of(firing.kiln, firing.plan, stage, stage.switches, firing.room_celsius)
            due = None if stage.hours is None or index == len(stages) - 1 else since + stage.hours + late
        step = NEAR_STEP_HOURS if celsius[ring] > near_celsius else FAR_STEP_HOURS
        return _with_beyond(view, told, hours), step if due is None else min(step, max(due - hours, 1e-3))

    return ahead_of


def _with_beyond(view: View, outside: Outside, hours: float) -> Outside:
    """The same with what each ring that is on gets of late beyond what the model gives it, fading."""
    model = view.firing.model
    if model is None or not model.beyond:
        return outside
    fades = exp(-hours / BEYOND_HOURS)
    pairs = zip(outside.shares, model.beyond, strict=True)
    shares = tuple([max(0.0, a + fades * b) if a > 0.0 else a for a, b in pairs])
    return Outside(shares, outside.vents, outside.room_celsius, outside.steam, outside.clay)


def start_celsius(view: View) -> list[float]:
    """Node temperatures now: a ring that is seen is where its probe says."""
    model = view.firing.model
    assert model is not None
    hours = (view.now_ms - model.at_ms) / HOUR_MS
    celsius = moved(model.heat, list(model.celsius), model.told[-1][1], hours)
    for probe, ring in enumerate(view.firing.kiln.probe_rings):
        reading = view.tracks[probe].celsius
        if view.fit[probe] and reading is not None:
            celsius[NODES * ring] = reading
    return celsius


Wanted = tuple[Cone, float, float]
"""A cone, its heat work so far, and one deviation of what the probe reads against what makes it fall [degC]."""
Fall = tuple[float, float, float]
"""Hours until a cone is down at the reference ring of this kiln, the climb there [degC/h], and what its probe reads."""


def _falls(
    view: View, wanted: tuple[tuple[Cone, float], ...], heat: Heat, *, but: int | None = None
) -> list[Fall | None]:
    """One run of the kiln for all of these cones, each with its work so far; None where it never falls.

    but: see `along_the_plan`.
    """
    ring = view.firing.kiln.probe_rings[view.reference]
    offset = view.taught(view.reference).offset.value
    start = start_celsius(view)
    gained, before, gone = [alpha for _, alpha in wanted], start[NODES * ring] + offset, 0.0
    found: list[Fall | None] = [None] * len(wanted)

    def finish(hours: float, celsius: list[float]) -> float | None:
        nonlocal before, gone
        now, took = celsius[ring] + offset, hours - gone
        for i, (one, _) in enumerate(wanted):
            if found[i] is not None:
                continue
            more = heat_work(one, before, now, took * 3600.0)
            if gained[i] + more >= 1.0:
                part = (1.0 - gained[i]) / more
                climb = (now - before) / took
                found[i] = gone + took * part, max(climb, LEAST_CLIMB), before + (now - before) * part - offset
            gained[i] += more
        before, gone = now, hours
        return hours if None not in found else None

    near = min(one.end_60_celsius for one, _ in wanted) - NEAR_CELSIUS
    ahead(heat, start, along_the_plan(view, near, but=but), finish)
    return found


def cones_fall(view: View, wanted: tuple[Wanted, ...]) -> tuple[Forecast | None, ...]:
    """When each of these cones is down at the reference ring; None for one that never will be."""
    model = view.firing.model
    if model is None or not wanted:
        return (None,) * len(wanted)
    of = tuple((one, alpha) for one, alpha, _ in wanted)
    by_plan = _foretold(view, wanted, _falls(view, of, model.heat))
    last = _last_up(view.firing)
    if last is None:
        return by_plan
    # A few degrees decide whether a cone is down when the plan takes heat away, or only long after.
    stays = _falls(view, of, model.heat, but=last)
    staying = _foretold(view, wanted, stays)
    found = []
    for (_, _, doubt_celsius), fall, one, other in zip(wanted, stays, staying, by_plan, strict=True):
        if fall is None or one is None:
            found.append(other)
            continue
        _, _, there_celsius = fall
        above = (view.firing.plan.stages[last].until_celsius or 0.0) - there_celsius
        share = NormalDist().cdf(above / doubt_celsius)
        share = share / (share + (1.0 - share) / MEANT)
        if other is None:
            found.append(one if share >= 0.5 else None)
        else:
            found.append(either_way(one, other, share))
    return tuple(found)


def _last_up(firing: Firing) -> int | None:
    """The stage that ends at a temperature, where every stage after it gives less heat; None once it is over."""
    stages, given = firing.plan.stages, [firing.given(stage.switches) for stage in firing.plan.stages]
    for i in range(firing.stage, len(stages) - 1):
        if stages[i].until_celsius is not None and all(later < given[i] for later in given[i + 1 :]):
            return i
    return None


def _foretold(view: View, wanted: tuple[Wanted, ...], falls: list[Fall | None]) -> tuple[Forecast | None, ...]:
    last = _as_last_time(view)
    found: list[Forecast | None] = []
    for (_, _, doubt_celsius), fall in zip(wanted, falls, strict=True):
        if fall is None:
            found.append(None)
            continue
        hours, climb, _ = fall
        deviation = hypot(_spread_hours(view, hours), _model_share(view) * hours)
        if last is not None:
            # Two opinions of the same time, each weighed by how sure it is.
            # Within the last hours the curve itself knows better.
            weight = deviation**2 / (deviation**2 + last[1] ** 2) * min(max(hours - 0.75, 0.0) / 1.25, 1.0)
            hours += weight * (last[0] - hours)
            deviation *= sqrt(1.0 - weight)
        hours = max(hours + late_minutes(view.firing.learned.slips, hours) / 60.0, 0.0)
        found.append(_between(view, hours, hypot(doubt_celsius / climb, deviation)))
    return tuple(found)


def _model_share(view: View) -> float:
    """What the model itself leaves open of a time ahead, as a share of it [one deviation]."""
    firing, model = view.firing, view.firing.model
    end = view.pack.firing.end_60_celsius
    known = bool(firing.learned.model)
    own, unseen = (MODEL_KNOWN_SHARE, LOSSES_KNOWN) if known else (MODEL_SHARE, LOSSES_UNSEEN)
    ahead_share = max(1.0 - view.peak_of(view.reference) / end, 0.0)
    slopes = () if model is None else model.sensitivity
    gain = sum(abs(slopes[i]) for i in LOSSES) if slopes else GAIN_UNKNOWN
    return hypot(own, unseen * gain * ahead_share)


def _as_last_time(view: View) -> tuple[float, float] | None:
    """Hours left by the plan's turns and the last firing's last stage, and their deviation; None where unknown."""
    firing = view.firing
    stages, took = firing.plan.stages, firing.plan.stages[-1].expected_hours
    between = [s.hours for s in stages[firing.stage : -1]]
    known = [h for h in between if h is not None]
    if took is None or len(known) < len(between) or not all(s.expected_end_celsius for s in stages):
        return None
    gone = (view.now_ms - firing.stage_ms) / HOUR_MS
    left = max(known[0] - gone, 0.0) + sum(known[1:]) + took if known else took - gone
    return (left, LAST_SHARE * took) if left > LAST_SHARE * took else None


def sensitivity(view: View) -> tuple[float, ...]:
    """By how much of itself the time to the firing cone changes for each parameter's logarithm; () where there is none.

    The kiln's own parameters, then all strengths together.
    """
    model, alpha = view.firing.model, view.work.firing
    if model is None or view.firing.off or alpha >= 1.0:
        return ()
    one, settled = view.pack.firing, model.settled
    base = _falls(view, ((one, alpha),), settled.heat)[0]
    if base is None:
        return ()
    logs, found = list(settled.mean[NODES * settled.rings :]), []
    for k in range(SHARED):
        logs[k] += NUDGE
        there = _falls(view, ((one, alpha),), heat_of(logs))[0]
        logs[k] -= NUDGE
        found.append(0.0 if there is None else round((there[0] - base[0]) / NUDGE / base[0], 4))
    return tuple(found)


def _spread_hours(view: View, hours: float) -> float:
    """What the parameters leave open of a time ahead [h, one deviation]."""
    model = view.firing.model
    if model is None or not model.sensitivity:
        return UNKNOWN_SHARE * hours
    settled, slopes = model.settled, model.sensitivity
    n = NODES * settled.rings
    ring = n + SHARED + view.firing.kiln.probe_rings[view.reference]
    # A ring's strength does to it what full watts do to all.
    total = slopes[0] ** 2 * settled.spread[ring][ring]
    for i, a in enumerate(slopes):
        total += 2.0 * a * slopes[0] * settled.spread[ring][n + i]
        for j, b in enumerate(slopes):
            total += a * b * settled.spread[n + max(i, j)][n + min(i, j)]
    return hours * sqrt(max(total, 0.0)) * OVERSURE


def climbs_to(view: View, target_celsius: float) -> Forecast | None:
    """When the reference ring is this hot with the switches as they stand; None when it never will be."""
    firing, model = view.firing, view.firing.model
    if model is None:
        return None
    ring = firing.kiln.probe_rings[view.reference]
    before, gone = start_celsius(view)[NODES * ring], 0.0

    def finish(hours: float, celsius: list[float]) -> float | None:
        nonlocal before, gone
        now = celsius[ring]
        if now >= target_celsius:
            return gone + (hours - gone) * ((target_celsius - before) / (now - before) if now > before else 1.0)
        before, gone = now, hours
        return None

    def as_they_stand(hours: float, _celsius: list[float]) -> tuple[Outside, float]:
        return _with_beyond(view, model.told[-1][1], hours), 0.1

    hours = ahead(model.heat, start_celsius(view), as_they_stand, finish)
    if hours is None:
        return None
    return _between(view, max(hours, 0.0), hypot(KEEPER_HOURS, CLIMB_SHARE * hours))


def _between(view: View, hours: float, more_hours: float) -> Forecast:
    firing = view.firing
    left = len(firing.plan.stages) - 1 - firing.stage
    each = KEEPER_HOURS if logs_switches(firing) else UNWRITTEN_HOURS
    deviation = sqrt(more_hours**2 + left * each**2 + FLOOR_HOURS**2)
    wide = EIGHTY_PERCENT * deviation
    # A time ahead cannot be early without end: the early side closes towards now.
    early = hours * hours / (hours + wide)

    def at(time: float) -> int:
        return view.utc_ms + round(time * HOUR_MS)

    return Forecast(at(early), at(hours), at(hours + wide))
