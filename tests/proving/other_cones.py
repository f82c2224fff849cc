"""Heat work of cones by another hand than the engine's: from the published end points, each cone by itself.

Law: d(alpha)/dt = A exp(-E/(R T)), down at alpha = 1. At a steady rate r the cone is down at T where, nearly,
ln(r / T^2) = ln(A R / E) - E / (R T) (Kissinger, Analytical Chemistry 29 (1957) 1702): a straight line in 1/T. Its
slope by least squares gives E, with no look at other cones; A is then set by stepping through climbs at the
rates of the chart, so that end points lie off by nothing on average.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, log

from other_kiln import GAS_CONSTANT, KELVIN

from spyhole.core.cones.chart import END_POINTS, Form
from spyhole.core.plan import Body

PUBLISHED = END_POINTS[Form.SELF_SUPPORTING, Body.ORDINARY]
"""Cone -> rate [degC/h] -> end point [degC]."""
ORDER = tuple(name for name in PUBLISHED if "." not in name)
"""Whole cones from the softest to the hardest; half cones are nobody's guide or guard."""


@dataclass(frozen=True, slots=True)
class Kinetics:
    """activation: E [J/mol]; log_frequency: ln A [A in 1/s]."""

    activation: float
    log_frequency: float

    def rate(self, celsius: float) -> float:
        """d(alpha)/dt [1/s]."""
        return exp(min(self.log_frequency - self.activation / GAS_CONSTANT / (celsius + KELVIN), 5.0))

    def end_point(self, celsius_per_hour: float, step_celsius: float = 0.25) -> float:
        """Where a cone that climbs steadily is down [degC], stepped through from 300 degC."""
        celsius, work = 300.0, 0.0
        while work < 1.0:
            work += self.rate(celsius + step_celsius / 2) * step_celsius / celsius_per_hour * 3600
            celsius += step_celsius
        return celsius


@lru_cache(maxsize=64)
def kinetics(cone: str) -> Kinetics:
    """Fitted to the published end points of this cone."""
    points = PUBLISHED[cone]
    pace = [log(rate / 3600 / (celsius + KELVIN) ** 2) for rate, celsius in points.items()]
    inverse = [1 / (celsius + KELVIN) for celsius in points.values()]
    middle, centre = sum(pace) / len(pace), sum(inverse) / len(inverse)
    slope = sum((p - middle) * (i - centre) for p, i in zip(pace, inverse, strict=True))
    slope /= sum((p - middle) ** 2 for p in pace)
    found = Kinetics(-GAS_CONSTANT / slope, middle - centre / slope + log(-1 / slope))
    for _ in range(2):
        off = sum(found.end_point(rate) - celsius for rate, celsius in points.items()) / len(points)
        kelvin = 1 / centre
        found = Kinetics(found.activation, found.log_frequency + off * found.activation / GAS_CONSTANT / kelvin**2)
    return found
