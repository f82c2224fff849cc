"""What a firing teaches for the next one. The firing under way keeps what was known when it was lit."""

from dataclasses import replace
from enum import StrEnum
from math import hypot

from spyhole.core.care import Care
from spyhole.core.cones.correction import corrected
from spyhole.core.cones.doubt import offset_prior
from spyhole.core.entry import EntryKind
from spyhole.core.firing import Firing, Stopped
from spyhole.core.kiln import Kiln
from spyhole.core.learned import LEADS, MOST_SLIPS, Belief, Learned, Slip, late_minutes
from spyhole.core.measured import Witnessed, alone
from spyhole.core.outcome import Forecast
from spyhole.core.thermal.prior import lessons, moves, recalled
from spyhole.core.view import View

UNSEEN_CELSIUS = 1.0
"""How much less is known of a probe after a firing in which no cone stood beside it (common practice, no source)."""
HOUR_MS = 3_600_000
AS_MUCH = 0.85
"""A forecast that is nearer than that when it is first near enough is none of that lead (chosen)."""
NEVER = -1
"""In the place of a forecast that jumped past this lead."""


class Odd(StrEnum):
    """Why a firing teaches nothing of the kiln, unless a person says that it does."""

    NOT_DONE = "not-done"
    HEAT_LOST = "heat-lost"
    PROBE = "probe"
    UNLIKE = "unlike"
    UNSEEN = "unseen"
    ASTRAY = "astray"


UNLIKE_DEVIATIONS = 4.0
"""So far from all before, it was another kiln: an empty one, a lid left open, a plug forgotten (chosen)."""


def odd(view: View) -> Odd | None:
    """What was odd about a firing that is over, so that its kiln model is left out; None for a good one."""
    firing = view.firing
    if firing.model is None or not any(view.fit):
        return Odd.UNSEEN
    if firing.cone_down_ms is None or firing.stopped is not Stopped.DONE:
        return Odd.NOT_DONE
    if firing.lost_ms is not None or firing.back_ms is not None:
        return Odd.HEAT_LOST
    if firing.astray:
        return Odd.ASTRAY
    if any(doubt is not None for doubt in view.doubts):
        return Odd.PROBE
    known = dict(firing.learned.model)
    for name, found in firing.heated:
        before = known.get(name)
        wide = 0.0 if before is None else hypot(before.deviation, found.deviation, moves(name))
        if before is not None and abs(found.value - before.value) > UNLIKE_DEVIATIONS * wide:
            return Odd.UNLIKE
    return None


def overruled(firing: Firing) -> bool | None:
    """Whether a person said that this firing teaches (True) or does not (False); None where nobody said anything."""
    said = [w.entry.value for w in firing.written if w.entry.kind is EntryKind.LESSON and not w.undone]
    return said[-1] == "keep" if said else None


def after_firing(view: View, learned: Learned) -> Learned:
    """What a firing teaches of how the kiln takes heat, and of how well its cone was foretold.

    view: of a firing that is over. A person may overrule what is odd, as long as there is anything to learn from.
    """
    firing = view.firing
    if firing.model is None or not firing.ended or not firing.heated:
        return learned
    said = overruled(firing)
    if not (odd(view) is None if said is None else said):
        return learned
    slips = (*learned.slips, _slip(firing))[-MOST_SLIPS:]
    cooling = lessons(firing.kiln, firing.model.settled)
    return replace(learned, model=firing.heated, cooling=cooling, slips=slips)


def parted(firing: Firing) -> Firing:
    """The firing once heating has ended: what that showed is kept, and cooling begins with what others showed of it."""
    model = firing.model
    if model is None or not firing.off or firing.heated or firing.off_ms is None or model.settled.at_ms < firing.off_ms:
        return firing
    heated = lessons(firing.kiln, model.settled)
    if firing.learned.cooling:
        model = replace(model, settled=recalled(firing.kiln, model.settled, firing.learned.cooling))
    return replace(firing, heated=heated, model=model)


def foretelling(firing: Firing, down: Forecast | None, now_ms: int, utc_ms: int) -> Firing:
    """The firing with what its forecast said so many of `LEADS` hours before, once it is so near."""
    if down is None or len(firing.foretold) == len(LEADS):
        return firing
    left_ms = down.median - utc_ms
    lead = LEADS[len(firing.foretold)]
    if left_ms > lead * HOUR_MS:
        return firing
    said_in_time = left_ms > AS_MUCH * lead * HOUR_MS
    return replace(firing, foretold=(*firing.foretold, now_ms + left_ms if said_in_time else NEVER))


def _slip(firing: Firing) -> Slip:
    missed: list[float | None] = []
    late: list[float | None] = []
    for place, lead in enumerate(LEADS):
        at_ms = firing.foretold[place] if place < len(firing.foretold) else NEVER
        if at_ms == NEVER or firing.cone_down_ms is None:
            missed.append(None)
            late.append(None)
            continue
        minutes = round((firing.cone_down_ms - at_ms) / 60_000, 1)
        missed.append(minutes)
        late.append(round(minutes + late_minutes(firing.learned.slips, lead), 1))
    return Slip(tuple(missed), tuple(late), taught=bool(firing.learned.model))


def after_cones(view: View, learned: Learned) -> Learned:
    """What the cones of a firing, seen in it and on its shelves afterwards, say of each probe: kept for the next.

    A probe that no cone stood beside keeps what was known, a little less surely. Doubted entries teach nothing.
    """
    offsets: list[Belief | None] = []
    for probe in range(len(view.firing.kiln.probe_rings)):
        taught, known = view.taught(probe), learned.offset(probe)
        if any(each.sequence not in taught.doubted for each in view.seen_beside(probe)):
            offsets.append(taught.offset)
        else:
            offsets.append(None if known is None else Belief(known.value, hypot(known.deviation, UNSEEN_CELSIUS)))
    return learned if all(each is None for each in offsets) else replace(learned, offsets=tuple(offsets))


def witnessed(view: View) -> Witnessed | None:
    """What the cones of this firing said of its probes, without what was believed before; None where nobody looked.

    A probe that was renewed since is not the one they spoke of.
    """
    firing = view.firing
    gone = renewed(firing, Care.PROBE)
    said: list[Belief | None] = []
    for probe, ring in enumerate(firing.kiln.probe_rings):
        prior, seen = offset_prior(view.sensor(probe), firing.peaks[probe]), view.seen_beside(probe)
        taught = corrected(prior, seen)
        spoke = ring not in gone and any(s.sequence not in taught.doubted for s in seen)
        said.append(alone(prior, taught.offset) if spoke else None)
    return Witnessed(firing.id, tuple(said)) if any(said) else None


def renewed(firing: Firing, what: Care) -> frozenset[int]:
    """Indices of the rings where this was renewed since the firing was lit, as somebody wrote down."""
    names = [ring.name for ring in firing.kiln.rings]
    rings: set[int] = set()
    for written in firing.written:
        entry = written.entry
        if entry.kind is EntryKind.MAINTENANCE and entry.value == what and not written.undone:
            rings |= {names.index(entry.subject)} if entry.subject in names else set(range(len(names)))
    return frozenset(rings)


def after_care(firing: Firing, learned: Learned) -> Learned:
    """What is left of it after what was renewed since this firing was lit: nothing of that probe, those elements."""
    probes = renewed(firing, Care.PROBE)
    if probes:
        offsets = tuple(
            None if ring in probes else learned.offset(probe) for probe, ring in enumerate(firing.kiln.probe_rings)
        )
        learned = replace(learned, offsets=offsets if any(offsets) else ())
    gone = {f"strength {firing.kiln.rings[ring].name}" for ring in renewed(firing, Care.ELEMENTS)}
    if not gone:
        return learned
    return replace(
        learned,
        model=tuple(each for each in learned.model if each[0] not in gone),
        cooling=tuple(each for each in learned.cooling if each[0] not in gone),
    )


def with_probes_of(before: Kiln, after: Kiln, learned: Learned) -> Learned:
    """What is left of it when the kiln is described anew: nothing, of a probe that is another now."""
    if not learned.offsets or before == after:
        return learned
    same = [
        before.probe_rings == after.probe_rings and before.rings[ring].probe == after.rings[ring].probe
        for ring in after.probe_rings
    ]
    offsets = tuple(each if keep else None for each, keep in zip(learned.offsets, same, strict=False))
    return replace(learned, offsets=offsets)
