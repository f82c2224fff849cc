"""How the parameters of `core.cones.kinetics` were found from the chart, so that a test can find them again.

Each cone has an activation energy E and a frequency factor A, fitted to its end points by least squares in degC. The
chart is rounded and scattered by about 2 degC, which moves a lone E by a fifth; so ln E is pulled to the mean of the
neighbouring cones, and A is fitted again. The softest three, with two rates only, take the geometric mean E of the
next four. Nothing runs this in a firing.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, fsum, log

from spyhole.core.cones.integral import GAS_CONSTANT, KELVIN, kelvin_of_log_integral, log_integral
from spyhole.core.plan import Body

KERNEL_CONES = 0.6
"""Width of the Gaussian that weighs the neighbours, in places along the series."""

OWN_WEIGHT = {Body.ORDINARY: 0.8, Body.IRON_FREE: 0.5}
OWN_WEIGHT_OF_TWO_RATES = {Body.ORDINARY: 0.4, Body.IRON_FREE: 0.0}
"""How much of a cone's own ln E stays, at three rates and at two; the rest is its neighbours'.

Chosen by how well a rate held out is predicted: that test has seen these four numbers, and no others.
"""

_WITHOUT_ENERGY = ("022", "021", "020")
"""The chart has no 15 degC/h for these, nor for any neighbour softer still."""

EndPoints = dict[int, int]
"""Rate [degC/h] -> end point [degC] of one cone."""


@dataclass(frozen=True, slots=True)
class Fit:
    """E/R [K] and ln A [A in 1/s] of one cone."""

    activation_kelvin: float
    log_frequency: float

    @property
    def kilojoules_per_mole(self) -> float:
        """E [kJ/mol]."""
        return self.activation_kelvin * GAS_CONSTANT / 1e3

    def end_point_celsius(self, celsius_per_hour: float, near_celsius: float = 1000.0) -> float:
        """Where the cone is down at this climb [degC]; near_celsius: where to begin looking."""
        wanted = log(celsius_per_hour / 3600.0) - self.log_frequency
        return kelvin_of_log_integral(self.activation_kelvin, wanted, near_celsius + KELVIN) - KELVIN


def fit_frequency(activation_kelvin: float, end_points: EndPoints) -> Fit:
    """The A that fits these end points best at a given E/R [K], by Gauss and Newton's method."""
    rate, celsius = next(iter(end_points.items()))
    fit = Fit(activation_kelvin, log(rate / 3600.0) - log_integral(activation_kelvin, celsius + KELVIN))
    for _ in range(30):
        ends = [fit.end_point_celsius(rate, celsius) for rate, celsius in end_points.items()]
        residuals = [end - celsius for end, celsius in zip(ends, end_points.values(), strict=True)]
        widths = [(end + KELVIN) ** 2 / activation_kelvin for end in ends]
        step = fsum(r * w for r, w in zip(residuals, widths, strict=True)) / fsum(w * w for w in widths)
        fit = Fit(activation_kelvin, fit.log_frequency + step)
        if abs(step) < 1e-7:
            break
    return fit


@lru_cache(maxsize=256)
def _log_activation(end_points: tuple[tuple[int, int], ...]) -> float:
    """ln E of one cone by its own end points, two rates or more: golden section from 100 to 5000 kJ/mol."""
    points = dict(end_points)
    golden = 0.6180339887498949
    low, high = log(1e5 / GAS_CONSTANT), log(5e6 / GAS_CONSTANT)
    left, right = high - golden * (high - low), low + golden * (high - low)
    at_left, at_right = _misfit(left, points), _misfit(right, points)
    while high - low > 1e-5:
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - golden * (high - low)
            at_left = _misfit(left, points)
        else:
            low, left, at_left = left, right, at_right
            right = low + golden * (high - low)
            at_right = _misfit(right, points)
    return (low + high) / 2.0


def _misfit(log_activation: float, end_points: EndPoints) -> float:
    fit = fit_frequency(exp(log_activation), end_points)
    return fsum((fit.end_point_celsius(rate, celsius) - celsius) ** 2 for rate, celsius in end_points.items())


def fit_cone(name: str, series: dict[str, EndPoints], body: Body) -> Fit:
    """One cone with its E pulled to its neighbours. series: cone -> end points, from the softest to the hardest."""
    order = [other for other, end_points in series.items() if other == name or len(end_points) >= 3]
    alone = [_log_activation(tuple(series[other].items())) for other in order]
    place = order.index(name)
    if name in _WITHOUT_ENERGY:
        return fit_frequency(exp(fsum(alone[1:5]) / 4.0), series[name])
    weights = [0.0 if i == place else exp(-0.5 * ((i - place) / KERNEL_CONES) ** 2) for i in range(len(order))]
    neighbours = fsum(w * a for w, a in zip(weights, alone, strict=True)) / fsum(weights)
    own = (OWN_WEIGHT if len(series[name]) >= 3 else OWN_WEIGHT_OF_TWO_RATES)[body]
    return fit_frequency(exp(own * alone[place] + (1.0 - own) * neighbours), series[name])
