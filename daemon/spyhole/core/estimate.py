"""The watch's view of a firing, once a minute."""

from spyhole.core.ahead import cooling, ends, next_turn, timer
from spyhole.core.cones.kinetics import bend_degrees
from spyhole.core.entry import EntryKind
from spyhole.core.kiln import Switch
from spyhole.core.outcome import ConeEstimate, EstimateOutcome, Forecast, Moved, RingEstimate, Why
from spyhole.core.view import View, ceiling_celsius

NEAR_MS = 45 * 60_000
"""So near to its end a forecast is worked out each minute; before, when the model has moved."""
MOVED_MS = 6 * 60_000
MOVED_SHARE = 0.08
"""A forecast that is set by more than both at once has to say why; the share is of the time left (chosen)."""
RECENT_MS = 20 * 60_000
"""What was done to the kiln so lately explains what its forecast does now (chosen)."""
TOLD_MS = 30 * 60_000
WHY = {
    EntryKind.SWITCH: Why.SWITCH,
    EntryKind.POWER: Why.POWER,
    EntryKind.LID: Why.LID,
    EntryKind.PLUGS: Why.PLUGS,
    EntryKind.CONE: Why.CONE,
    EntryKind.SHUTOFF: Why.TRIP,
}


def estimate(view: View, before: EstimateOutcome | None = None) -> EstimateOutcome:
    """Everything worth saying at this minute; null where it cannot be known. before: what was said a minute ago."""
    firing = view.firing
    if before is not None and _stands(view, before):
        down, off, turn, cool = before.cone_down, before.shut_off, before.next_turn, before.cool
    else:
        (down, off), turn, cool = ends(view), next_turn(view), cooling(view)
    return EstimateOutcome(
        utc_ms=view.utc_ms,
        stage="cooling" if firing.off else firing.now_stage.name,
        heating=firing.heating and not (firing.off and not _still_heats(view)),
        rings=_rings(view),
        cones=_cones(view),
        cone_progress=view.work.firing,
        bend_degrees=bend_degrees(view.work.firing),
        next_turn=turn,
        cone_down=down,
        shut_off=off,
        timer=timer(view, down, off),
        cool=cool,
        ceiling_celsius=None if firing.off else ceiling_celsius(firing, view.now_ms),
        progress_between=view.alpha_between(view.pack.firing, view.work.firing),
        moved=_moved(view, before, down),
        trusted=sum(view.fit),
    )


def _stands(view: View, before: EstimateOutcome) -> bool:
    """Whether what was foretold a minute ago is still all that can be said."""
    firing = view.firing
    stage = "cooling" if firing.off else firing.now_stage.name
    if firing.model is None or firing.model.moved_at(view.now_ms) or before.stage != stage:
        return False
    if firing.off:
        return any(forecast is not None for _, forecast in before.cool)
    down = before.cone_down
    return down is not None and before.heating == firing.heating and down.median - view.utc_ms > NEAR_MS


def _moved(view: View, before: EstimateOutcome | None, down: Forecast | None) -> Moved | None:
    """The last move of the forecast that has to be explained, for as long as that is news."""
    if before is None or before.cone_down is None or down is None:
        return None
    by_ms = down.median - before.cone_down.median
    if abs(by_ms) < max(MOVED_MS, MOVED_SHARE * (down.median - view.utc_ms)):
        told = before.moved
        return told if told is not None and view.utc_ms - told.utc_ms < TOLD_MS else None
    return Moved(view.utc_ms, round(by_ms / 60_000), _why(view, before, by_ms))


def _why(view: View, before: EstimateOutcome, by_ms: int) -> Why:
    firing, since_ms = view.firing, view.now_ms - RECENT_MS
    done = [w for w in firing.written if w.entry.kind in WHY and not w.undone and w.at_ms >= since_ms]
    if done:
        return WHY[done[-1].entry.kind]
    if firing.changed_ms >= since_ms:
        return Why.TURN
    if before.trusted != sum(view.fit):
        return Why.PROBE
    return Why.SLOWER if by_ms > 0 else Why.FASTER


def _still_heats(view: View) -> bool:
    return any(fit and (t.climb or 0.0) > 10.0 for t, fit in zip(view.tracks, view.fit, strict=True))


def _rings(view: View) -> tuple[RingEstimate, ...]:
    firing = view.firing
    probe_of = {ring: probe for probe, ring in enumerate(firing.kiln.probe_rings)}
    rings = []
    for index, ring in enumerate(firing.kiln.rings):
        probe = probe_of.get(index)
        seen = probe is not None and view.fit[probe]
        switch = Switch.OFF if firing.off else firing.switches[index]
        rings.append(
            RingEstimate(
                name=ring.name,
                celsius=view.tracks[probe].celsius if probe is not None and seen else None,
                climb=view.tracks[probe].climb if probe is not None and seen else None,
                switch=switch,
                switch_sure=firing.sure[index],
                alpha=view.work_of(probe).firing if probe is not None and seen else None,
            )
        )
    return tuple(rings)


def _cones(view: View) -> tuple[ConeEstimate, ...]:
    pack, work = view.pack, view.work
    cones = []
    for role, one, alpha in (
        ("guide", pack.guide, work.guide),
        ("firing", pack.firing, work.firing),
        ("guard", pack.guard, work.guard),
    ):
        if one is not None:
            cones.append(ConeEstimate(role, one.name, alpha, bend_degrees(alpha)))
    if view.firing.kiln.cone_shutoff:
        cones.append(ConeEstimate("shutoff", pack.shutoff.name, work.shutoff, None))
    return tuple(cones)
