"""What a ring does against what this kiln should do with these switches."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median

SURE = 3.0
CLIMB_DEVIATION = 12.0
"""How well a climb over ten minutes is known, drafts and the model's own faults included [degC/h]."""
SHARE_DEVIATION = 0.05
"""What the model gets wrong of the watts themselves. Both leave 95 in 100 healthy residuals within about two
deviations, measured on kilns of the proving ground."""
TURN_SHARE = 0.1
GUESSED_SHARE = 0.2
OFF_SHARE = 0.5
SETTLES_MS = 12 * 60_000
"""Just after a turn, and more so after the end of heating, elements and hot face give back what they hold. Where nobody
wrote the turn down, it was some minutes sooner or later than the curve says."""
DRYING_SHARE = 0.12
"""The same while steam or the clay's own water leaves the ware: nobody knows how much of it there is (chosen)."""
CLAY_SLOWS = 0.65
"""By what part of its climb the clay's water may hold a ring back beyond all that is believed of it (chosen): it asks
for heat only of ware that climbs, so that a kiln which stands still on its switches lacks watts."""
WATTS_OWN_PART = 0.5
"""How much of what the model gets wrong of the watts is a ring's own (chosen): with all of it, no ring of seven healthy
kilns of the proving ground ever lacked as much as one deviation beside the others."""
OWN_PART = 0.35
"""How much of that, and of what a turn leaves unsure, is a ring's own: its load and its minute differ from the others'
by less than they all do from what is believed (chosen)."""


@dataclass(frozen=True, slots=True)
class Residual:
    """One ring. celsius, deviation: expected by the model. climb: expected with the believed switch [degC/h].

    given: what the believed switch gives, as a share of its full watts. share: power it seems to get beyond that
    (-0.6: it lacks 0.6); None where no climb is seen. share_deviation: of share, apart: what of it the other rings do
    not share, None for all of it.
    """

    celsius: float
    deviation: float
    climb: float
    given: float
    share: float | None
    share_deviation: float
    apart: float | None = None

    @property
    def lacks(self) -> float:
        """Power that is surely missing, as a share of full watts: what is left beyond three deviations' doubt."""
        return 0.0 if self.share is None else max(0.0, -self.share - SURE * self.share_deviation)

    @property
    def exceeds(self) -> float:
        """Power that is surely too much."""
        return 0.0 if self.share is None else max(0.0, self.share - SURE * self.share_deviation)

    def lacks_beside(self, others: Sequence[float]) -> float:
        """Power that is surely missing beside what the other rings get beyond theirs (shares of full watts).

        What nobody knows of steam, clay's water and the minute of a turn is nearly the same for all of them.
        """
        if self.share is None or not others:
            return 0.0
        return max(0.0, min(median(others), 0.0) - self.share - self._doubt_beside(others))

    def exceeds_beside(self, others: Sequence[float]) -> float:
        """Power that is surely too much beside what the other rings get beyond theirs (shares of full watts)."""
        if self.share is None or not others:
            return 0.0
        return max(0.0, self.share - max(median(others), 0.0) - self._doubt_beside(others))

    def _doubt_beside(self, others: Sequence[float]) -> float:
        """By how much it may part from so many others and nothing be sure."""
        apart = self.share_deviation if self.apart is None else self.apart
        return SURE * (apart * sqrt(1.0 + 1.0 / len(others)))
