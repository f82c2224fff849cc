"""What a ring does against what this kiln should do with these switches."""

from dataclasses import dataclass

from spyhole.core.thermal.belief import Belief
from spyhole.core.thermal.physics import NODES, capacity, rates

CLIMB_DEVIATION = 8.0
"""How well a climb over ten minutes is known, drafts and the model's own faults included [degC/h] (chosen)."""


@dataclass(frozen=True, slots=True)
class Residual:
    """One ring. celsius, deviation: expected by the model. climb: expected with the believed switch [degC/h].

    share: power it seems to get beyond the believed switch, as a share of its full watts (-0.6: it lacks 0.6);
    None where no climb is seen. share_deviation: of share.
    """

    celsius: float
    deviation: float
    climb: float
    share: float | None
    share_deviation: float


def residuals(
    belief: Belief, shares: tuple[float, ...], climbs: tuple[float | None, ...], room_celsius: float
) -> tuple[Residual, ...]:
    """One a ring, bottom first; climbs [degC/h] as seen over some ten minutes."""
    heat, celsius, nodes = belief.heat, belief.celsius, NODES * belief.rings
    expected = rates(heat, celsius, shares, room_celsius)
    out = []
    for ring in range(belief.rings):
        climb = expected[NODES * ring]
        full = heat.full * heat.strength[ring] / capacity(celsius[NODES * ring])
        unsure = max(shares[ring], 0.1) * belief.deviation(nodes)
        seen = climbs[ring]
        out.append(
            Residual(
                celsius=celsius[NODES * ring],
                deviation=belief.deviation(NODES * ring),
                climb=climb,
                share=None if seen is None else (seen - climb) / full,
                share_deviation=float(((CLIMB_DEVIATION / full) ** 2 + unsure**2) ** 0.5),
            )
        )
    return tuple(out)
