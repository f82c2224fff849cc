"""The watch's view of a firing, once a minute."""

from spyhole.core.ahead import cone_down, cooling, next_turn, shut_off, timer
from spyhole.core.cones.kinetics import bend_degrees
from spyhole.core.kiln import Switch
from spyhole.core.outcome import ConeEstimate, EstimateOutcome, RingEstimate
from spyhole.core.view import View, ceiling_celsius


def estimate(view: View) -> EstimateOutcome:
    """Everything worth saying at this minute; null where it cannot be known."""
    firing = view.firing
    down, off = cone_down(view), shut_off(view)
    return EstimateOutcome(
        utc_ms=view.utc_ms,
        stage="cooling" if firing.off else firing.now_stage.name,
        heating=firing.heating and not (firing.off and not _still_heats(view)),
        rings=_rings(view),
        cones=_cones(view),
        cone_progress=view.work.firing,
        bend_degrees=bend_degrees(view.work.firing),
        next_turn=next_turn(view),
        cone_down=down,
        shut_off=off,
        timer=timer(view, down, off),
        cool=cooling(view),
        ceiling_celsius=None if firing.off else ceiling_celsius(firing, view.now_ms),
    )


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
