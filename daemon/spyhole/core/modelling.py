"""The firing's kiln model, kept up once a minute with what the trusted probes say."""

from dataclasses import replace

from spyhole.core.firing import Firing
from spyhole.core.thermal.belief import predict, see
from spyhole.core.thermal.prior import taught
from spyhole.core.thermal.residual import Residual, residuals
from spyhole.core.view import View

READING_CELSIUS = 2.0
READING_SHARE = 0.003
"""How far a minute of a probe strays from its ring's node: noise and drafts, which
last for minutes, so that each reading counts for less than its own noise would have it (chosen)."""


def shares_now(firing: Firing) -> tuple[float, ...]:
    """Share of full watts each ring is believed to get."""
    if firing.off or not firing.heating:
        return (0.0,) * len(firing.kiln.rings)
    return tuple(firing.kiln.switch.of(s) for s in firing.switches)


def follow(view: View) -> Firing:
    """The firing with its model brought to this minute."""
    firing, belief = view.firing, view.firing.model
    rings = firing.kiln.probe_rings
    if belief is None:
        known = [c for c in view.celsius if c is not None]
        if not known:
            return firing
        celsius = [sum(known) / len(known)] * len(firing.kiln.rings)
        for probe, ring in enumerate(rings):
            celsius[ring] = view.celsius[probe] or celsius[ring]
        belief = taught(firing.kiln, firing.plan, firing.pack.firing.end_60_celsius, tuple(celsius), view.now_ms)
    belief = predict(belief, view.now_ms, shares_now(firing), firing.room_celsius)
    for probe, ring in enumerate(rings):
        reading = view.tracks[probe].celsius
        if view.fit[probe] and reading is not None:
            belief = see(belief, ring, reading, READING_CELSIUS + READING_SHARE * abs(reading))
    return replace(firing, model=belief)


def what_is_left(view: View) -> tuple[Residual, ...]:
    """Each ring against the model, bottom first; nothing before the model stands."""
    firing = view.firing
    if firing.model is None:
        return ()
    climbs: list[float | None] = [None] * len(firing.kiln.rings)
    for probe, ring in enumerate(firing.kiln.probe_rings):
        if view.fit[probe]:
            climbs[ring] = view.recent_climb(probe, 10)
    return residuals(firing.model, shares_now(firing), tuple(climbs), firing.room_celsius)
