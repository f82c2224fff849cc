"""Where water boils up a hill, for trying a probe in it."""

import math

SEA_PASCAL, SEA_KELVIN, KELVIN_PER_METRE = 101_325.0, 288.15, 0.0065
EXPONENT = 5.25588
"""ISO 2533, the standard atmosphere below 11 km."""

LOWEST_METRES, HIGHEST_METRES = -430.0, 5_500.0
"""Where people live."""


def boiling_celsius(altitude_metres: float) -> float:
    """Boiling point of water in standard air. Weather moves it by half a degree either way.

    Antoine's equation with the constants that handbooks give for water from 1 to 100 degC,
    log10(mmHg) = 8.07131 - 1730.63 / (t + 233.426), from memory; tests compare it with steam tables.
    """
    share = 1 - KELVIN_PER_METRE * altitude_metres / SEA_KELVIN
    millimetres_of_mercury = SEA_PASCAL * share**EXPONENT / 133.322
    return 1730.63 / (8.07131 - math.log10(millimetres_of_mercury)) - 233.426
