"""How far a new thermocouple may be wrong.

Source: IEC 60584-1:2013, tolerance classes of thermocouples: types K and N as tabulated by several sensor makers; the
other types from memory. The classes hold for new wire in their range; above it the standard promises nothing, and the
proportional part is carried on because no better figure exists. Used wire drifts further (a few degC, type K).
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class _Tolerance:
    """The greater of a floor [degC] and a share of the temperature above a start [degC], promised up to a limit [degC]."""

    floor: float
    share: float
    up_to: float
    counted_from: float = 0.0


_BASE_1 = 0.004
_BASE_2 = 0.0075
_TOLERANCES: dict[tuple[str, int], _Tolerance] = {
    ("K", 1): _Tolerance(1.5, _BASE_1, 1000.0),
    ("K", 2): _Tolerance(2.5, _BASE_2, 1200.0),
    ("N", 1): _Tolerance(1.5, _BASE_1, 1000.0),
    ("N", 2): _Tolerance(2.5, _BASE_2, 1200.0),
    ("J", 1): _Tolerance(1.5, _BASE_1, 750.0),
    ("J", 2): _Tolerance(2.5, _BASE_2, 750.0),
    ("E", 1): _Tolerance(1.5, _BASE_1, 800.0),
    ("E", 2): _Tolerance(2.5, _BASE_2, 900.0),
    ("T", 1): _Tolerance(0.5, _BASE_1, 350.0),
    ("T", 2): _Tolerance(1.0, _BASE_2, 350.0),
    ("R", 1): _Tolerance(1.0, 0.003, 1600.0, 1100.0),
    ("R", 2): _Tolerance(1.5, 0.0025, 1600.0),
    ("S", 1): _Tolerance(1.0, 0.003, 1600.0, 1100.0),
    ("S", 2): _Tolerance(1.5, 0.0025, 1600.0),
    ("B", 2): _Tolerance(0.0, 0.0025, 1700.0),
    ("B", 3): _Tolerance(4.0, 0.005, 1700.0),
}

CLASSES: dict[str, tuple[int, ...]] = {
    letter: tuple(number for other, number in _TOLERANCES if other == letter) for letter in "KNJETRSB"
}
"""Thermocouple type -> the tolerance classes it comes in (above 0 degC)."""


def tolerance_celsius(tolerance_class: int, celsius: float, type: str = "K") -> float:
    """Half-width [degC] of what new wire of this class may be wrong at this temperature [degC].

    >>> tolerance_celsius(2, 100.0), tolerance_celsius(2, 1200.0), tolerance_celsius(1, 1000.0)
    (2.5, 9.0, 4.0)
    >>> tolerance_celsius(1, 1200.0, "S"), tolerance_celsius(2, 1200.0, "S")
    (1.3, 3.0)
    """
    tolerance = _TOLERANCES[type, tolerance_class]
    if type in "RS" and tolerance_class == 1:
        return tolerance.floor + tolerance.share * max(0.0, celsius - tolerance.counted_from)
    return max(tolerance.floor, tolerance.share * abs(celsius))


def within_class(tolerance_class: int, celsius: float, type: str = "K") -> bool:
    """Whether the standard promises this class at this temperature [degC] at all.

    >>> within_class(1, 1000.0), within_class(1, 1063.0), within_class(2, 1222.0)
    (True, False, False)
    """
    return celsius <= _TOLERANCES[type, tolerance_class].up_to
