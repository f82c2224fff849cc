"""What the trip that ended a firing teaches of the shut-off, and what the next firing expects of it.

How the cone was set is part of it: the trigger's gap and the tube's age are learned with the bias
(`core.cones.tripping`); a cone that was not seated, or a rod off its middle, teaches nothing of the kiln and is shown.
"""

from dataclasses import replace
from math import hypot

from spyhole.core.care import Care
from spyhole.core.cones.correction import corrected
from spyhole.core.cones.doubt import offset_prior
from spyhole.core.cones.shutoff import DOUBT_CELSIUS, late_prior, lateness_celsius
from spyhole.core.cones.tripping import begun, expected, learned_from, older, with_bias, with_new_probe, with_new_tube
from spyhole.core.entry import EntryKind
from spyhole.core.firing import Firing, Stopped
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.learned import Belief, Learned, ShutoffHabit
from spyhole.core.learning import renewed
from spyhole.core.measured import Lesson, Tripped
from spyhole.core.plan import Plan
from spyhole.core.preparation import Preparation
from spyhole.core.view import View

BY_HAND_MS = 15 * 60_000
"""Switches turned off, or a backup timer at its end, this near to the end of heating were it, and no shut-off was."""
FIRED_CELSIUS = 600.0
"""A tube that got no hotter is no firing older (chosen)."""
USUAL_CELSIUS = 1000.0
"""Where a probe's tolerance is asked for, when no firing says where (chosen)."""


def after_trip(view: View, learned: Learned) -> tuple[Learned, Tripped | None]:
    """What is known of the shut-off after one more trip, and that trip for the journal; None where there was none.

    view: once the kiln is cold.
    """
    firing, probe = view.firing, view.reference
    if firing.alpha_at_end is None or not _tripped(firing):
        return learned, None
    cone = firing.plan.shutoff_cone
    late = lateness_celsius(cone, firing.learned.shutoff_late, firing.alpha_at_end, firing.peaks[probe])
    if late is None:
        return learned, None
    offset = _offset_at_end(view, probe)
    anew = unseen(cone, offset)
    habit = _habit(learned, anew, offset)
    made = firing.prepared or Preparation()
    gap = made.gap_millimetres
    before = expected(habit, gap)
    lesson, after = Lesson.ASKEW, habit
    if made.seated is not False and made.rod_centred is not False:
        after, doubted = learned_from(habit, late - offset.value, gap, anew)
        lesson = Lesson.DOUBTED if doubted else Lesson.TAUGHT
    told = Tripped(
        firing=firing.id,
        late_celsius=round(late, 1),
        expected=Belief(round(before.value + offset.value, 1), round(before.deviation, 1)),
        gap_millimetres=gap,
        age=habit.age,
        lesson=lesson,
    )
    learned = replace(learned, firings=after.trips, shutoff=after)
    return expecting(learned, firing.kiln, firing.plan, gap), told


def expecting(learned: Learned, kiln: Kiln, plan: Plan, gap_millimetres: float | None = None) -> Learned:
    """With what a firing by this plan, its trigger set to this gap, expects of the shut-off."""
    habit = learned.shutoff
    if habit is None:
        return learned
    if not habit.trips:
        return replace(learned, shutoff_late=None)
    late, offset = expected(habit, gap_millimetres), learned.offset(kiln.probe_nearest(plan.reference_ring))
    moved = 0.0 if offset is None else offset.value
    return replace(learned, shutoff_late=Belief(round(late.value + moved, 4), round(late.deviation, 4)))


def a_firing_older(firing: Firing, learned: Learned) -> Learned:
    """The tube after this firing, and after what was renewed since: another tube, another probe that decides.

    learned: before `learning.after_care` forgets the offset of a probe that was renewed.
    """
    habit = learned.shutoff
    if habit is None:
        return learned
    if max(firing.peaks, default=0.0) >= FIRED_CELSIUS:
        habit = older(habit)
    probe = firing.kiln.probe_nearest(firing.plan.reference_ring)
    sensor, known = firing.kiln.sensor(probe), learned.offset(probe)
    if firing.kiln.probe_rings[probe] in renewed(firing, Care.PROBE):
        fresh = offset_prior(sensor, USUAL_CELSIUS)
        habit, known = with_new_probe(habit, known or fresh, fresh), None
    if renewed(firing, Care.TUBE):
        offset = offset_prior(sensor, USUAL_CELSIUS, known)
        habit = with_new_tube(habit, unseen(firing.plan.shutoff_cone, offset))
    return replace(learned, firings=habit.trips, shutoff=habit)


def by_other_probe(learned: Learned, before: Kiln, after: Kiln, plan: Plan) -> Learned:
    """The kiln is described anew: where another probe decides now, trips were seen by the one before.

    learned: before the offsets of other probes are forgotten.
    """
    old, new = before.probe_nearest(plan.reference_ring), after.probe_nearest(plan.reference_ring)
    same = before.probe_rings[old] == after.probe_rings[new] and before.sensor(old) == after.sensor(new)
    if learned.shutoff is None or same:
        return learned
    known = learned.offset(old) or offset_prior(before.sensor(old), USUAL_CELSIUS)
    habit = with_new_probe(learned.shutoff, known, offset_prior(after.sensor(new), USUAL_CELSIUS))
    return replace(learned, shutoff=habit)


def unseen(cone: str, offset: Belief) -> Belief:
    """The bias of a shut-off that nobody has seen trip, by the probe as it reads. offset: what that has to have added.

    Refusal for a cone that there is not.
    """
    return Belief(late_prior(cone).value - offset.value, hypot(DOUBT_CELSIUS, offset.deviation))


def _habit(learned: Learned, anew: Belief, offset: Belief) -> ShutoffHabit:
    """What is known; of a record before there were habits, its one number."""
    if learned.shutoff is not None:
        return learned.shutoff if learned.shutoff.trips else with_bias(learned.shutoff, anew)
    late = learned.shutoff_late
    return begun(anew) if late is None else begun(Belief(late.value - offset.value, late.deviation), learned.firings)


def _offset_at_end(view: View, probe: int) -> Belief:
    """What had to be added to this probe, by the cones seen until heating ended: so far heat work was corrected."""
    firing = view.firing
    later = {w.sequence for w in firing.written if firing.off_ms is not None and w.at_ms > firing.off_ms}
    seen = tuple(one for one in view.seen_beside(probe) if one.sequence not in later)
    return corrected(view.offset_before(probe), seen).offset


def _tripped(firing: Firing) -> bool:
    """Whether the shut-off ended it: a person says so, or it ended with the cone down, and neither anybody's hand on a
    switch nor the backup timer did it."""
    if not firing.kiln.cone_shutoff or firing.off_ms is None:
        return False
    if firing.tripped:
        return firing.stopped is Stopped.DONE
    by_hand = any(
        w.entry.kind is EntryKind.SWITCH
        and w.entry.value == Switch.OFF
        and not w.undone
        and abs(w.at_ms - firing.off_ms) < BY_HAND_MS
        for w in firing.written
    )
    by_timer = firing.timer_ends_ms is not None and abs(firing.timer_ends_ms - firing.off_ms) < BY_HAND_MS
    return firing.stopped is Stopped.DONE and not by_hand and not by_timer
