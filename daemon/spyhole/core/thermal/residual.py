"""What a ring does against what this kiln should do with these switches."""

from dataclasses import dataclass

CLIMB_DEVIATION = 12.0
"""How well a climb over ten minutes is known, drafts and the model's own faults included [degC/h]."""
SHARE_DEVIATION = 0.05
"""What the model gets wrong of the watts themselves. Both leave 95 in 100 healthy residuals within about two
deviations, measured on kilns of the proving ground."""
TURN_SHARE = 0.1
OFF_SHARE = 0.5
SETTLES_MS = 12 * 60_000
"""Just after a turn, and more so after the end of heating, elements and hot face give back what they hold."""


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
