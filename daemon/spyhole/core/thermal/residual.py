"""What a ring does against what this kiln should do with these switches."""

from dataclasses import dataclass

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
