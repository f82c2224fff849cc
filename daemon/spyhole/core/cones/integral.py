"""The temperature integral of an Arrhenius rate along a steady climb, and its inverse.

Source: Kissinger, Analytical Chemistry 29 (1957) 1702, for the rate law under a steady climb; Abramowitz and Stegun,
Handbook of Mathematical Functions, 5.1.22 (even part; from memory, checked against SciPy) for the exponential integral.
"""

from math import log

GAS_CONSTANT = 8.314462618
"""R [J/(mol K)], CODATA 2018."""

KELVIN = 273.15
"""0 degC [K]."""

_TERMS = 16


def scaled_e2(x: float) -> float:
    """exp(x) E2(x), E2 the exponential integral of order two, for x [-] of 5 and more (cones: 20 to 180).

    >>> round(scaled_e2(50.0), 9)
    0.019244503
    """
    fraction = x + 2.0 + 2.0 * _TERMS
    for k in range(_TERMS, 0, -1):
        fraction = x + 2.0 * k - k * (k + 1.0) / fraction
    return 1.0 / fraction


def log_integral(activation_kelvin: float, kelvin: float) -> float:
    """ln of the integral [K] of exp(-E/(R T')) dT' from 0 to T, which is T E2(x), x = E/(R T).

    activation_kelvin: E/R [K]. kelvin: T [K].

    >>> round(log_integral(1e5, 1300.0), 6)
    -74.121118
    """
    x = activation_kelvin / kelvin
    return log(kelvin * scaled_e2(x)) - x


def kelvin_of_log_integral(activation_kelvin: float, wanted: float, near_kelvin: float) -> float:
    """The temperature T [K] at which `log_integral` is this, by Newton's method from a temperature near it [K].

    >>> round(kelvin_of_log_integral(1e5, log_integral(1e5, 1300.0), 1250.0), 6)
    1300.0
    """
    kelvin = near_kelvin
    for _ in range(50):
        x = activation_kelvin / kelvin
        width = kelvin * scaled_e2(x)  # about R T^2/E, the cone's width
        step = (wanted - (log(width) - x)) * width
        kelvin += max(-100.0, min(100.0, step))
        if abs(step) < 1e-9 * kelvin:
            break
    return kelvin
