"""What one firing says of its kiln, a row each: how strong its elements were, what cones said of the probes, its trip.

A ring's strength against the mean ring's is known well, because load and mains are the same for all; the strength of
the whole kiln is known as well as anybody knows the load.
"""

from dataclasses import dataclass
from enum import StrEnum

from spyhole.core.learned import Belief
from spyhole.core.thermal import belief as kiln
from spyhole.core.thermal.belief import square
from spyhole.core.thermal.physics import NODES, SHARED

LEAST_GAINED = 0.05
"""What teaches less than that is no sighting to compare with others (chosen)."""


@dataclass(frozen=True, slots=True)
class Measured:
    """The elements in one firing. firing: its id. All strengths are logarithms: -0.1 is a tenth weaker.

    apart: each ring against the mean of those that have a probe, from the bottom up; None without one. whole: their
    mean, as ln of degC an hour of cold ware on full watts. shares: as of `core.element_share.shares`.
    """

    firing: int
    apart: tuple[Belief | None, ...]
    whole: Belief
    shares: tuple[tuple[float | None, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Witnessed:
    """What the cones of one firing said of each probe, taken down when the next is lit. firing: its id.

    offsets: one a probe, in the order of `Kiln.probe_rings`: degC to add to what it reads, by these cones alone and no
    belief of before; None where no cone said anything.
    """

    firing: int
    offsets: tuple[Belief | None, ...]


class Lesson(StrEnum):
    """What became of a trip. askew: its cone was not seated, or the rod not centred; doubted: too far from the rest."""

    TAUGHT = "taught"
    ASKEW = "askew"
    DOUBTED = "doubted"


@dataclass(frozen=True, slots=True)
class Tripped:
    """The trip that ended one firing, taken down once the kiln is cold. firing: its id.

    late_celsius: how far the cone in the shut-off went down past the standing one of its name, by the probes as they
    were believed; expected: what was believed of that before. gap_millimetres: of the trigger, None where nobody
    measured. age: firings its tube had seen before.
    """

    firing: int
    late_celsius: float
    expected: Belief
    gap_millimetres: float | None
    age: int
    lesson: Lesson


Fitted = Measured | Witnessed | Tripped
"""What a firing leaves behind of its kiln."""


def alone(prior: Belief, after: Belief) -> Belief | None:
    """What was seen, out of a belief before and after seeing it: normal beliefs multiply. None where nothing was.

    >>> alone(Belief(0.0, 4.0), Belief(2.0, 4.0 / 2**0.5))
    Belief(value=4.0, deviation=4.0)
    """
    gained = after.deviation**-2 - prior.deviation**-2
    if gained < LEAST_GAINED * prior.deviation**-2:
        return None
    value = (after.value * after.deviation**-2 - prior.value * prior.deviation**-2) / gained
    return Belief(round(value, 3), round(gained**-0.5, 3))


def measure(firing: int, probe_rings: tuple[int, ...], settled: kiln.Belief) -> Measured:
    """Out of what was settled of the kiln model when heating ended. probe_rings: as of `core.kiln.Kiln`."""
    first = NODES * settled.rings
    spread, seen = square(settled.spread), [first + SHARED + ring for ring in probe_rings]
    share = 1.0 / len(seen)
    apart: list[Belief | None] = [None] * settled.rings
    for ring, place in zip(probe_rings, seen, strict=True):
        weights = {each: (1.0 if each == place else 0.0) - share for each in seen}
        apart[ring] = _of(settled, spread, weights)
    return Measured(firing, tuple(apart), _of(settled, spread, {first: 1.0, **dict.fromkeys(seen, share)}))


def _of(settled: kiln.Belief, spread: list[list[float]], weights: dict[int, float]) -> Belief:
    """A weighted sum of parameters, with its deviation."""
    value = sum(weight * settled.mean[place] for place, weight in weights.items())
    variance = sum(a * b * spread[i][j] for i, a in weights.items() for j, b in weights.items())
    return Belief(round(value, 5), round(max(variance, 0.0) ** 0.5, 5))
