"""The kiln model of one firing, as the fold keeps it."""

from dataclasses import dataclass

from spyhole.core.thermal.belief import Belief
from spyhole.core.thermal.physics import Heat, Outside, heat_of

WHOLE_AFTER_MS = 90_000

Told = tuple[tuple[int, Outside], ...]
"""What the kiln was told, each from when (axis ms), oldest first; the first one holds from long before."""


@dataclass(frozen=True, slots=True)
class Model:
    """settled: what rests on switches that the curve has borne out, ten minutes old or more.

    at_ms, celsius: node temperatures as lived through since. told: what the kiln was told since.
    sensitivity: of the time to the cone to each parameter (`core.foresight.sensitivity`), as of felt_ms.
    quick: as settled, but its parameters may wander more; kept while a cone is near enough to be foretold with it.
    lately: logarithms of the parameters to foretell with, the last minutes taken in too near the cone and in early
    cooling; () for the settled ones. They rest on switches that may yet turn out otherwise: nothing else uses them.
    beyond: what each ring gets of late that those parameters cannot account for, as a share of its full watts; () while
    nothing is foretold of heating.
    """

    settled: Belief
    at_ms: int
    celsius: tuple[float, ...]
    told: Told
    sensitivity: tuple[float, ...] = ()
    felt_ms: int = 0
    lately: tuple[float, ...] = ()
    quick: Belief | None = None
    beyond: tuple[float, ...] = ()

    @property
    def heat(self) -> Heat:
        """What to foretell with."""
        return heat_of(self.lately) if self.lately else self.settled.heat

    def moved_at(self, now_ms: int) -> bool:
        """Whether it was brought up to the last whole minute just now."""
        return self.at_ms >= whole_minute_ms(now_ms)


def held(told: Told, until_ms: int) -> Outside:
    """What held just before then."""
    return next((outside for t, outside in reversed(told) if t < until_ms), told[0][1])


def whole_minute_ms(now_ms: int) -> int:
    """The middle of the last minute that is whole at any sampling: bins close late where readings are many."""
    return now_ms // 60_000 * 60_000 - WHOLE_AFTER_MS
