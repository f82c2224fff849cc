"""What a climb and a soak do together: the peak or the soak that brings a cone down, and what a soak is worth.

A cone climbs at a steady rate to a peak and may be held there. Soaks are good to a factor of two until a witness cone
of this kiln says more (see `core.cones.kinetics`).
"""

from dataclasses import dataclass
from math import exp, inf, log

from spyhole.core.cones.integral import KELVIN, kelvin_of_log_integral
from spyhole.core.cones.kinetics import Cone, alpha_of_climb, soak_alpha_per_minute

SOAK_FACTOR = 2.0
"""How many times longer or shorter a soak may have to be."""


@dataclass(frozen=True, slots=True)
class Climb:
    """A steady climb. from_celsius: where it begins; None: far enough below that no work is missed."""

    celsius_per_hour: float
    from_celsius: float | None = None

    def alpha(self, one: Cone, celsius: float) -> float:
        """Heat work on arrival at this temperature [degC]; 0 where the climb has not begun."""
        whole = alpha_of_climb(one, celsius, self.celsius_per_hour)
        if self.from_celsius is None:
            return whole
        return max(0.0, whole - alpha_of_climb(one, self.from_celsius, self.celsius_per_hour))

    def celsius(self, one: Cone, alpha: float) -> float:
        """The temperature [degC] at which this climb has done so much heat work (alpha > 0)."""
        if self.from_celsius is not None:
            alpha += alpha_of_climb(one, self.from_celsius, self.celsius_per_hour)
        wanted = log(alpha * self.celsius_per_hour / 3600.0) - one.log_frequency
        return kelvin_of_log_integral(one.activation_kelvin, wanted, one.end_60_celsius + KELVIN) - KELVIN


def peak_celsius(one: Cone, climb: Climb, soak_minutes: float = 0.0) -> float:
    """The peak [degC] that brings the cone just down, with so long a soak at it; never below where the climb begins.

    >>> from spyhole.core.cones.kinetics import cone
    >>> [round(peak_celsius(cone("6"), Climb(60.0), minutes)) for minutes in (0.0, 15.0, 60.0)]
    [1220, 1208, 1189]
    """
    high = climb.celsius(one, 1.0)
    if soak_minutes <= 0.0:
        return high
    low = high
    while alpha_after(one, climb, low, soak_minutes) > 1.0 and low > high - 350.0:
        low -= 25.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (low, middle) if alpha_after(one, climb, middle, soak_minutes) >= 1.0 else (middle, high)
    return high if climb.from_celsius is None else max(high, climb.from_celsius)


def soak_minutes(one: Cone, climb: Climb, celsius: float) -> float:
    """How long to hold at this temperature [degC] until the cone is down; 0 where it is down already.

    inf where the cone does no work at all.

    >>> from spyhole.core.cones.kinetics import cone
    >>> [round(soak_minutes(cone("6"), Climb(60.0), celsius)) for celsius in (1190.0, 1210.0, 1230.0)]
    [58, 13, 0]
    """
    missing = 1.0 - climb.alpha(one, celsius)
    if missing <= 0.0:
        return 0.0
    gained = one.rate_per_second(celsius) * 60.0
    return missing / gained if gained > 0.0 else inf


def alpha_after(one: Cone, climb: Climb, celsius: float, minutes: float) -> float:
    """Heat work after climbing to this temperature [degC] and holding it so long."""
    return climb.alpha(one, celsius) + soak_alpha_per_minute(one, celsius) * minutes


def soak_worth_celsius(one: Cone, climb: Climb, celsius: float, minutes: float) -> float:
    """How many degC further up the same climb would have done what this soak does.

    >>> from spyhole.core.cones.kinetics import cone
    >>> round(soak_worth_celsius(cone("6"), Climb(60.0), 1200.0, 20.0), 1)
    14.8
    """
    done = alpha_after(one, climb, celsius, minutes)
    return climb.celsius(one, done) - celsius if done > exp(-200.0) else 0.0
