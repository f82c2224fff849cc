"""A ring's climb falls as it gets hotter: climb = a - b T, fitted within a stage, and run forward.

The lumped kiln C dT/dt = P - (T - T_room)/R written as a line in T (Incropera et al., lumped capacitance);
radiation makes b grow with heat, which is why b is only pulled to its prior and never fixed. Good for hours on
high; the kiln model proper belongs to its own room.
"""

from dataclasses import dataclass

from spyhole.core.curve.climb import Minute

FALL_AT_1000_KELVIN = 0.28
"""Prior of b [1/h] at 1000 K: what full heat loses of its climb a degree (common practice, no source)."""
FALL_SPREAD = 0.1
KELVIN = 273.15
CLIMB_NOISE = 8.0
SPAN_MINUTES = 10
SETTLE_MS = 20 * 60_000
"""After a turn the elements and the ware are still settling; the line starts later."""


@dataclass(frozen=True, slots=True)
class Line:
    """climb [degC/h] = climb_at - fall * (T - at_celsius); fall [1/h] with its spread; points it rests on."""

    at_celsius: float
    climb_at: float
    fall: float
    fall_spread: float
    points: int

    def climb(self, celsius: float) -> float:
        """Expected climb [degC/h] at this temperature."""
        return self.climb_at - self.fall * (celsius - self.at_celsius)


def typical_fall(celsius: float) -> float:
    """Prior of b [1/h] here: losses by radiation go with T^4, so b goes with T^3 (Stefan and Boltzmann)."""
    return FALL_AT_1000_KELVIN * ((celsius + KELVIN) / 1000.0) ** 3


def fit(minutes: tuple[Minute, ...]) -> Line | None:
    """The line through the climbs of these minutes (one stage, settled); None for less than twenty minutes."""
    pairs = []
    for i in range(0, len(minutes) - SPAN_MINUTES, 5):
        (t0, c0), (t1, c1) = minutes[i], minutes[i + SPAN_MINUTES]
        if t1 > t0:
            pairs.append(((c0 + c1) / 2, (c1 - c0) / (t1 - t0) * 3_600_000))
    if len(pairs) < 3:
        return None
    n = len(pairs)
    mean_t = sum(t for t, _ in pairs) / n
    mean_c = sum(c for _, c in pairs) / n
    spread = sum((t - mean_t) ** 2 for t, _ in pairs)
    slope = sum((t - mean_t) * (c - mean_c) for t, c in pairs)
    # Ridge towards the prior: precision of the data and of the prior add.
    data, prior = spread / CLIMB_NOISE**2, 1 / FALL_SPREAD**2
    fall = (-slope / CLIMB_NOISE**2 + typical_fall(mean_t) * prior) / (data + prior)
    return Line(mean_t, mean_c, max(fall, 0.0), (data + prior) ** -0.5, n)
