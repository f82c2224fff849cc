"""The kiln model of one firing, as the fold keeps it."""

from dataclasses import dataclass

from spyhole.core.thermal.belief import Belief
from spyhole.core.thermal.physics import Outside

Told = tuple[tuple[int, Outside], ...]
"""What the kiln was told, each from when (axis ms), oldest first; the first one holds from long before."""


@dataclass(frozen=True, slots=True)
class Model:
    """settled: what rests on switches that the curve has borne out, ten minutes old or more.

    at_ms, celsius: node temperatures as lived through since. told: what the kiln was told since.
    sensitivity: of the time to the cone to each parameter (`core.foresight.sensitivity`), as of felt_ms.
    """

    settled: Belief
    at_ms: int
    celsius: tuple[float, ...]
    told: Told
    sensitivity: tuple[float, ...] = ()
    felt_ms: int = 0
