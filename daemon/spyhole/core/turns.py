"""Turns that nobody wrote down, or not as they were: what the last ten minutes say of the switches.

Plan and log are evidence, not truth. Only what the plan holds is ever believed against the log: the stage that comes
next, or this one as planned. Anything else that does not fit is no turn, and stays to be seen by the rules.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, log

from spyhole.core.curve.climb import Minute, value_at
from spyhole.core.firing import Firing, conclude, held_since_ms, is_denied, logs_switches, turn_due_ms
from spyhole.core.kiln import Switch
from spyhole.core.thermal.model import Told
from spyhole.core.thermal.physics import Outside, capacity
from spyhole.core.view import View

EARLIEST_SHARE = 0.5
"""A stage's share of its hours before which the next one is not looked for."""
EARLIEST_CELSIUS = 40.0
READING_CELSIUS = 3.0
MODEL_SHARE = 0.1
"""How well the model knows a rise, as a share of what the believed switches give (chosen)."""
LEAST_DEVIATION = 0.2
SURE = 9.0
"""By how many squared deviations a turn must fit better than none."""
DUE_SURE = 4.0
DUE_EARLY_MS, DUE_LATE_MS = 15 * 60_000, 60 * 60_000
DUE_CELSIUS = 15.0
"""The same from so long before a turn is due until so long after, or so near to the temperature that ends the stage,
where nobody writes turns down: there the plan is the other witness (chosen)."""
EARLY_MS = 10 * 60_000
"""Sooner still than that, a turn has to fit better by the square of how often this goes into what is left: a kiln that
is stronger than thought climbs as if it had been turned up, and who plans hours keeps to them within half of one
(chosen)."""
BACK_MS = 30 * 60_000
"""For so long after power came back the turns that were made without it are looked for (chosen)."""
PASSED_OVER = 6.0
"""By how many squared deviations a turn has to fit better than the next one in the plan, where it passes a stage over:
that one was turned to as well, and nothing was seen of it (chosen)."""
MISFIT = 4.0
"""Mean squared deviations that a turn may still be off."""
MINUTE_MS = 60_000
BRIDGED_MS = 4 * MINUTE_MS
"""Over so much a kiln goes straight on, but for a turn, which bends it by little in that time (chosen)."""
BENDS_MS = 10 * MINUTE_MS
BENT_TIMES = 1.5
"""So long after it was lit a stage shows how fast its rings that are off warm by the others, so long it has to show it,
and so many times as fast warms one that was turned on (chosen)."""
COLD_MS = 60 * MINUTE_MS
COLD_SHARE = 0.2
"""Of what its switch would bring without loss, less than any ring warms by in its first hour (chosen)."""
LIT_MS = 25 * MINUTE_MS
"""By when the curve has shown that a cold ring was lit (chosen)."""


@dataclass(frozen=True, slots=True)
class Turn:
    """A turn that may have been: to these switches, from when (axis ms), which makes it this stage."""

    switches: tuple[Switch, ...]
    from_ms: int
    stage: int


Weighed = tuple[float, Turn, Told]
"""By how many squared deviations a turn fits better than none, the turn, and what the kiln was told then."""


def at_minute(points: tuple[Minute, ...], at_ms: int) -> float | None:
    """The minute of a probe at this time; of one that is missing, what the line between its neighbours says.

    A wire that makes and breaks in step with the model's own pace would else never be heard.
    """
    after: Minute | None = None
    for at, celsius in reversed(points):
        if at == at_ms:
            return celsius
        if at < at_ms:
            if after is None or after[0] - at > BRIDGED_MS:
                return None
            return celsius + (after[1] - celsius) * (at_ms - at) / (after[0] - at)
        after = (at, celsius)
    return None


def seen_at(view: View, at_ms: int, but: int | None = None) -> dict[int, float]:
    """What each trusted probe read at this minute [degC], by ring; without one of the probes, where that is to be
    judged by the others. A model that is held to it ring by ring says what the rest should do."""
    return {
        ring: reading
        for probe, ring in enumerate(view.firing.kiln.probe_rings)
        if view.fit[probe] and probe != but
        if (reading := at_minute(view.tracks[probe].minutes, at_ms)) is not None
    }


def candidates(view: View, from_ms: int, to_ms: int) -> tuple[Turn, ...]:
    """The turns worth trying between the two, likeliest first."""
    firing = view.firing
    if firing.off or not firing.heating:
        return ()
    found = []
    stage = firing.now_stage
    if firing.switches != stage.switches and not is_denied(firing, firing.stage, view.now_ms):
        found.append(Turn(stage.switches, from_ms, firing.stage))
    if not firing.last_stage and (_may_be_over(view) or _unseen_away(view)) and not _warms_as_ever(view, from_ms):
        following = firing.plan.stages[firing.stage + 1].switches
        if following != firing.switches and not is_denied(firing, firing.stage + 1, view.now_ms):
            later = [t for t in (from_ms, from_ms + 5 * MINUTE_MS, from_ms + 8 * MINUTE_MS) if t < to_ms]
            found += [Turn(following, t, firing.stage + 1) for t in later]
        if _one_was_missed(view) and not is_denied(firing, firing.stage + 2, view.now_ms):
            after = firing.plan.stages[firing.stage + 2].switches
            found += [Turn(after, t, firing.stage + 2) for t in (from_ms, from_ms + 5 * MINUTE_MS) if t < to_ms]
    return tuple(found)


def needed(view: View, turn: Turn) -> float:
    """By how many squared deviations this turn must fit better than none."""
    firing, due_ms = view.firing, turn_due_ms(view.firing)
    if all(stage.switches != firing.switches for stage in firing.plan.stages):
        return DUE_SURE  # no stage stands so: what is written down may be wrong, and the plan says otherwise
    if turn.stage != firing.stage + 1:
        return SURE
    early_ms = 0 if due_ms is None else max(due_ms - DUE_EARLY_MS - view.now_ms, 0)
    if not logs_switches(firing) and _is_due(view, due_ms):
        return DUE_SURE
    return SURE + (early_ms / EARLY_MS) ** 2


def likeliest(view: View, found: Sequence[Weighed]) -> Weighed | None:
    """The one to be believed, if any is: what fits best, but the next stage before one that passes it over."""
    next_stage, away = view.firing.stage + 1, _unseen_away(view)

    def fits(one: Weighed) -> float:
        return one[0] - (PASSED_OVER if one[1].stage > next_stage and not away else 0.0)

    return max(found, key=fits, default=None)


def _is_due(view: View, due_ms: int | None) -> bool:
    """Whether the plan's next turn is near: by its clock, or by the temperature that ends the stage."""
    firing, until, celsius = view.firing, view.firing.now_stage.until_celsius, view.celsius[view.reference]
    if due_ms is not None:
        return due_ms - DUE_EARLY_MS <= view.now_ms <= due_ms + DUE_LATE_MS
    hottest = None if celsius is None else max(celsius, firing.peaks[view.reference])
    return until is not None and hottest is not None and hottest > until - DUE_CELSIUS


def _one_was_missed(view: View) -> bool:
    """Whether the next stage may be over too, and nobody wrote it down.

    By a turn that hardly showed, or one that was made while the power was away.
    """
    firing = view.firing
    if firing.stage + 2 >= len(firing.plan.stages) or logs_switches(firing):
        return False
    if _unseen_away(view):
        return True
    here, following = (firing.plan.stages[firing.stage + i].hours for i in (0, 1))
    if here is None or following is None:
        return False
    return view.now_ms - firing.stage_ms >= (here + EARLIEST_SHARE * following) * 3_600_000


def _unseen_away(view: View) -> bool:
    """Whether the power was away until lately, and nobody writes turns down: the clock says little of them then."""
    back_ms = view.firing.back_ms
    return back_ms is not None and view.now_ms - back_ms < BACK_MS and not logs_switches(view.firing)


def _may_be_over(view: View) -> bool:
    firing = view.firing
    stage = firing.now_stage
    if stage.hours is not None:
        return view.now_ms - firing.stage_ms >= EARLIEST_SHARE * stage.hours * 3_600_000
    if stage.soak_minutes:
        held_ms = held_since_ms(firing)
        return held_ms is not None and view.now_ms - held_ms >= EARLIEST_SHARE * stage.soak_minutes * MINUTE_MS
    celsius = view.celsius[view.reference]
    return stage.until_celsius is not None and celsius is not None and celsius > stage.until_celsius - EARLIEST_CELSIUS


def _warms_as_ever(view: View, from_ms: int) -> bool:
    """Whether each ring that would show the next turn, off until then, warms no faster than earlier in its stage.

    How much heat rings pass on before they glow, nobody knows of a kiln; but a turn bends the curve. Only where turns
    are written down: else it may have been made long before it is looked for.
    """
    firing = view.firing
    following, begun_ms = firing.plan.stages[firing.stage + 1].switches, firing.stage_ms + BENDS_MS
    shows = [
        probe
        for probe, fit in enumerate(view.fit)
        if fit and following[firing.kiln.probe_rings[probe]] is not view.switched(probe)
    ]
    if not shows or not logs_switches(firing) or from_ms - begun_ms < BENDS_MS:
        return False
    longer = (view.now_ms - from_ms) / (from_ms - begun_ms)
    for probe in shows:
        first, then, now = (value_at(view.tracks[probe].minutes, at) for at in (begun_ms, from_ms, view.now_ms))
        if view.switched(probe) is not Switch.OFF or first is None or then is None or now is None:
            return False
        if now - then > BENT_TIMES * longer * max(then - first, 0.0):
            return False
    return True


@dataclass(frozen=True, slots=True)
class Rise:
    """One ring's rise over the last minutes [degC]: seen, expected as told, expected with the turn.

    given: what the believed switches alone would give [degC]. own: deviation of the logarithm of this ring's watts
    against the others': what a ring does that was off until now, nobody has seen yet.
    """

    seen: float
    as_told: float
    with_turn: float
    given: float
    own: float = 0.0

    @property
    def deviation(self) -> float:
        """How well such a rise is known [degC]."""
        return hypot(READING_CELSIUS, MODEL_SHARE * self.given)

    @property
    def deviation_with_turn(self) -> float:
        """The same had it been turned [degC]: what the turn adds is known no better than the ring is."""
        return hypot(self.deviation, self.own * (self.with_turn - self.as_told))


def gain(rises: list[Rise], full_deviation: float) -> float:
    """Squared deviations by which the turn fits better than none; at most 0 where it does not fit at all.

    full_deviation: of the logarithm of the kiln's full watts: how much more or less than expected a turn may do.
    """
    wide = max(full_deviation, LEAST_DEVIATION)
    precision, pull, as_told, wider = 1.0 / wide**2, 1.0 / wide**2, 0.0, 0.0
    for r in rises:
        more, left, variance = r.with_turn - r.as_told, r.seen - r.as_told, r.deviation_with_turn**2
        precision += more * more / variance
        pull += more * left / variance
        as_told += (left / r.deviation) ** 2
        # What may do more or less is a weaker claim: the likelihoods are of two widths.
        wider += 2.0 * log(r.deviation_with_turn / r.deviation)
    scale = pull / precision
    off = (scale - 1.0) ** 2 / wide**2
    for r in rises:
        off += ((r.seen - r.as_told - scale * (r.with_turn - r.as_told)) / r.deviation_with_turn) ** 2
    return as_told - off - wider if off <= MISFIT * len(rises) else 0.0


def with_turn(told: Told, turn: Turn, after: Outside) -> Told:
    """What the kiln was told, had this turn been. after: switches and draughts as they would be since."""
    before = tuple(t for i, t in enumerate(told) if i == 0 or t[0] < turn.from_ms)
    if turn.from_ms <= before[0][0]:
        return ((before[0][0], after),)
    return (*before, (turn.from_ms, after))


def turned(firing: Firing, turn: Turn) -> Firing:
    """The firing once the turn is believed."""
    return conclude(firing, turn.switches, turn.from_ms, turn.stage, seen=True)


def stays_cold(view: View) -> bool:
    """Whether a ring that is off, and is lit by the next stage, has for an hour warmed by far less than that brings.

    That hour may have ended some minutes ago: what warms only now was turned only now, and shows in its curve.
    """
    firing, model = view.firing, view.firing.model
    if firing.off or firing.last_stage or model is None:
        return False
    following, of = firing.plan.stages[firing.stage + 1].switches, firing.kiln.switch.of
    heat, outside = model.settled.heat, model.told[-1][1]
    for probe, ring in enumerate(firing.kiln.probe_rings):
        if not view.fit[probe] or view.switched(probe) is not Switch.OFF or following[ring] is Switch.OFF:
            continue
        for ago_ms in (0, LIT_MS):
            celsius = view.tracks[probe].celsius if not ago_ms else _was(view, probe, ago_ms)
            before = _was(view, probe, ago_ms + COLD_MS)
            if celsius is None or before is None:
                continue
            climb = heat.full * heat.strength[ring] * of(following[ring]) / capacity(celsius, outside)
            if celsius - before < COLD_SHARE * climb * COLD_MS / (60 * MINUTE_MS):
                return True
    return False


def _was(view: View, probe: int, ago_ms: int) -> float | None:
    return value_at(view.tracks[probe].minutes, view.now_ms - ago_ms)
