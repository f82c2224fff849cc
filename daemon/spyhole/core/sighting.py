"""A cone that somebody saw, held against what the watch thought of it at that moment."""

from dataclasses import replace
from itertools import pairwise

from spyhole.core.cones.correction import Sighting, degrees_seen
from spyhole.core.cones.kinetics import Cone, alpha_of_climb, cone, cone_names, heat_work
from spyhole.core.cones.soak import Climb
from spyhole.core.curve.climb import since
from spyhole.core.firing import Firing, Written
from spyhole.core.plan import Body
from spyhole.core.view import View

FIRING_LOOK_MINUTES = 10.0
LOOK_MINUTES = 30.0
"""How long a keeper goes without a look at the firing cone, and at any other (common practice, no source)."""
SAME_CLIMB = 60.0
"""degC/h at which one cone's heat work is read as another's: near in the chart, any climb serves."""


def saw(view: View, written: Written) -> Firing:
    """The firing with one more sighting; unchanged where no probe sees that ring or nothing has been read yet."""
    firing = view.firing
    probe = _probe_beside(view, written.entry.subject)
    if probe is None or firing.work[probe].celsius is None:
        return firing
    name, bend = degrees_seen(written.entry.value)
    body = firing.plan.body if name in cone_names(firing.plan.body) else Body.ORDINARY
    one = cone(name, body)
    climb = max((t.climb or 0.0 for t, fit in zip(view.tracks, view.fit, strict=True) if fit), default=None)
    climb = view.tracks[probe].climb if view.fit[probe] else climb
    looking = not firing.off and firing.heating and climb is not None and climb > 0.0
    minutes = FIRING_LOOK_MINUTES if one == view.pack.firing else LOOK_MINUTES
    sighting = Sighting(
        sequence=written.sequence,
        probe=probe,
        cone=name,
        body=body,
        bend_degrees=bend,
        alpha=_alpha(view, probe, one, written.at_ms),
        peak_celsius=view.peak_of(probe),
        look_celsius=(climb or 0.0) * minutes / 60.0 if looking else None,
    )
    return replace(firing, sightings=(*firing.sightings, sighting))


def _probe_beside(view: View, ring: str) -> int | None:
    """The probe of this ring; of the reference ring, the one that decides about it."""
    index = view.firing.kiln.ring_index(ring)
    if index in view.firing.kiln.probe_rings:
        return view.firing.kiln.probe_rings.index(index)
    return view.reference if index == view.firing.plan.reference_ring else None


def _alpha(view: View, probe: int, one: Cone, at_ms: int) -> float:
    """Heat work of this cone [-] beside this probe by that time, by the readings as they are."""
    work, pack = view.firing.work[probe], view.pack
    for known, alpha in ((pack.guide, work.guide), (pack.firing, work.firing), (pack.guard, work.guard)):
        if known == one:
            return max(0.0, alpha - _gained_since(view, probe, one, at_ms))
    firing = max(0.0, work.firing - _gained_since(view, probe, pack.firing, at_ms))
    if firing < 1e-9:
        return 0.0
    return alpha_of_climb(one, Climb(SAME_CLIMB).celsius(pack.firing, firing), SAME_CLIMB)


def _gained_since(view: View, probe: int, one: Cone, at_ms: int) -> float:
    """What an entry written down late must not be credited with."""
    minutes = since(view.tracks[probe].minutes, at_ms)
    return sum(heat_work(one, a[1], b[1], (b[0] - a[0]) / 1000.0) for a, b in pairwise(minutes))
