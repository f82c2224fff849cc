"""Whether a probe reads otherwise than it did, by the cones that stood beside it firing after firing."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from spyhole.core.learned import Belief

AGREE_CELSIUS = 2.0
"""How far two firings' cones disagree about one probe that has not changed: another lot, another place on the shelf
(common practice, no source)."""
LATEST = 3
LEAST = 2
SURE = 2.5
"""Deviations beyond which the cones of late and those of before do not speak of the same probe (chosen)."""


@dataclass(frozen=True, slots=True)
class Drift:
    """firings: so many in which cones spoke of this probe since it was new.

    before, of_late: what they said of its offset [degC]; None where too few did. shown: so many of late show at least
    half of what lies between the two.
    """

    firings: int
    before: Belief | None
    of_late: Belief | None
    shown: int = 0

    @property
    def change(self) -> Belief | None:
        """By how much the offset has grown [degC]: above 0 the probe reads lower than it did."""
        if self.before is None or self.of_late is None:
            return None
        return Belief(self.of_late.value - self.before.value, hypot(self.of_late.deviation, self.before.deviation))

    @property
    def drifts(self) -> bool:
        """Whether that is beyond chance, and not one odd firing that makes it."""
        change = self.change
        return change is not None and abs(change.value) > SURE * change.deviation and self.shown >= LEAST


def follow(said: Sequence[Belief]) -> Drift:
    """said: what the cones of each firing said of one probe since it was new [degC], oldest first."""
    if len(said) < 2 * LEAST:
        return Drift(len(said), None, mean(said[-LATEST:]) if said else None)
    latest = min(LATEST, len(said) - LEAST)
    before, of_late = mean(said[:-latest]), mean(said[-latest:])
    half = 0.5 * (of_late.value - before.value)
    shown = sum((one.value - before.value) * half >= half * half for one in said[-latest:])
    return Drift(len(said), before, of_late, shown)


def mean(said: Sequence[Belief]) -> Belief:
    """Weighted by how sure each is, and no two firings are nearer than their lots and places are."""
    weights = [1.0 / hypot(one.deviation, AGREE_CELSIUS) ** 2 for one in said]
    whole = sum(weights)
    return Belief(sum(w * one.value for w, one in zip(weights, said, strict=True)) / whole, 1.0 / sqrt(whole))
