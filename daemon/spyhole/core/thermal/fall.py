"""The hottest ring since the heat went off, as the cooling law reads it."""

from dataclasses import dataclass
from math import ceil

from spyhole.core.thermal.cooling_law import TARGET_CELSIUS, Bend

EACH_MS = 5 * 60_000
HOUR_MS = 3_600_000
LATE = 0.8
"""From which part of the fall on answers are taken together (chosen)."""
FEWEST = 6
"""Points of the curve that have to be there: half an hour."""


@dataclass(frozen=True, slots=True)
class Fall:
    """since_ms: the whole minute at which the heat ended [axis]. peak_celsius: the hottest ring just before.

    probes: which were trusted then. celsius: the hottest ring each `EACH_MS` since. lost: nothing is to be read from
    it: lid or plugs were touched, a probe was lost, minutes are missing.
    """

    since_ms: int
    peak_celsius: float
    probes: tuple[bool, ...]
    celsius: tuple[float, ...] = ()
    lost: bool = False

    @property
    def hours(self) -> float:
        """How long it has been followed."""
        return max(0, len(self.celsius) - 1) * EACH_MS / HOUR_MS

    def bends(self, room_celsius: float) -> tuple[Bend, ...]:
        """What the law is asked, as it was of late and is now, for one answer alone trembles with its readings.

        () before there is a curve, and where nothing is to be read from it.
        """
        if self.lost:
            return ()
        last = len(self.celsius) - 1
        return tuple(self._bend(place, room_celsius) for place in range(max(FEWEST, ceil(LATE * last)), last + 1))

    def _bend(self, place: int, room_celsius: float) -> Bend:
        third, two_thirds = (self._at(part * place) - room_celsius for part in (1 / 3, 2 / 3))
        peak, now = self.peak_celsius - room_celsius, self.celsius[place] - room_celsius
        return Bend(place * EACH_MS / HOUR_MS, peak, third, two_thirds, now, TARGET_CELSIUS - room_celsius)

    def _at(self, place: float) -> float:
        low = min(int(place), len(self.celsius) - 2)
        part = place - low
        return self.celsius[low] * (1.0 - part) + self.celsius[low + 1] * part
