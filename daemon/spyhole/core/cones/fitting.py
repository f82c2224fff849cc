"""How the parameters of `core.cones.kinetics` were found from the chart, so that a test can find them again.

Each cone has an activation energy E and a frequency factor A, fitted to its end points by least squares in degC. The
chart is rounded and scattered by about 2 degC, which moves a lone E by a fifth; so ln E is pulled to the mean of the
neighbouring cones (Gaussian kernel of 0.6 cone) and A is fitted again. Cones with two rates only (022, 021, 020) take
the geometric mean E of the next four. Nothing runs this in a firing.
"""

from dataclasses import dataclass
from math import exp, fsum, log

from spyhole.core.cones.integral import GAS_CONSTANT, KELVIN, kelvin_of_log_integral
from spyhole.core.plan import Body

KERNEL_CONES = 0.6
OWN_WEIGHT = {Body.ORDINARY: 0.8, Body.IRON_FREE: 0.5}
"""How much of a cone's own ln E stays; the rest is its neighbours'. Chosen by holding one rate out."""

EndPoints = dict[int, float]
"""Rate [degC/h] -> end point [degC] of one cone."""


@dataclass(frozen=True, slots=True)
class Fit:
    """E/R [K] and ln A [A in 1/s] of one cone."""

    activation_kelvin: float
    log_frequency: float

    @property
    def activation_joules_per_mole(self) -> float:
        """E [J/mol]."""
        return self.activation_kelvin * GAS_CONSTANT

    def end_point_celsius(self, celsius_per_hour: float) -> float:
        """Where the cone is down at this climb [degC]."""
        wanted = log(celsius_per_hour / 3600.0) - self.log_frequency
        return kelvin_of_log_integral(self.activation_kelvin, wanted, 1300.0) - KELVIN


def fit_frequency(activation_kelvin: float, end_points: EndPoints) -> Fit:
    """The A that fits these end points best [least squares, degC] at a given E/R [K]."""
    log_frequency = 0.0
    for _ in range(60):
        fit = Fit(activation_kelvin, log_frequency)
        residuals, widths = [], []
        for rate, celsius in end_points.items():
            end = fit.end_point_celsius(rate)
            residuals.append(end - celsius)
            widths.append((end + KELVIN) ** 2 / activation_kelvin)
        step = fsum(r * w for r, w in zip(residuals, widths, strict=True)) / fsum(w * w for w in widths)
        log_frequency += max(-3.0, min(3.0, step))
        if abs(step) < 1e-10:
            break
    return Fit(activation_kelvin, log_frequency)


def fit_alone(end_points: EndPoints) -> Fit:
    """E and A of one cone by its own end points, two rates or more: golden section on ln E from 100 to 5000 kJ/mol."""
    golden = 0.6180339887498949
    low, high = log(1e5 / GAS_CONSTANT), log(5e6 / GAS_CONSTANT)
    left, right = high - golden * (high - low), low + golden * (high - low)
    at_left, at_right = _misfit(left, end_points), _misfit(right, end_points)
    while high - low > 1e-7:
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - golden * (high - low)
            at_left = _misfit(left, end_points)
        else:
            low, left, at_left = left, right, at_right
            right = low + golden * (high - low)
            at_right = _misfit(right, end_points)
    return fit_frequency(exp((low + high) / 2), end_points)


def _misfit(log_activation: float, end_points: EndPoints) -> float:
    fit = fit_frequency(exp(log_activation), end_points)
    return fsum((fit.end_point_celsius(rate) - celsius) ** 2 for rate, celsius in end_points.items())


def fit_series(series: dict[str, EndPoints], body: Body, *, enough_rates: int = 3) -> dict[str, Fit]:
    """Every cone of one body with its E pulled to its neighbours.

    series: cone -> end points, from the softest to the hardest. enough_rates: cones with fewer have no E of their own
    and take the geometric mean of the first four that have (2 when a rate is held out of the others).
    """
    names = [name for name, end_points in series.items() if len(end_points) >= enough_rates]
    alone = [log(fit_alone(series[name]).activation_kelvin) for name in names]
    own = OWN_WEIGHT[body]
    pulled = {}
    for place, name in enumerate(names):
        others = [i for i in range(len(names)) if i != place]
        weights = [exp(-0.5 * ((i - place) / KERNEL_CONES) ** 2) for i in others]
        neighbours = fsum(w * alone[i] for w, i in zip(weights, others, strict=True)) / fsum(weights)
        pulled[name] = exp(own * alone[place] + (1.0 - own) * neighbours)
    soft = exp(fsum(alone[:4]) / 4.0)
    return {name: fit_frequency(pulled.get(name, soft), end_points) for name, end_points in series.items()}
