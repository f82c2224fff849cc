"""How far a new thermocouple may be wrong.

Source: IEC 60584-1:2013, tolerance classes: types K and N as tabulated by several sensor makers, the other types from
memory. A class holds for new wire in its range. Above it the standard promises nothing, and the proportional part is
carried on because no better figure exists: say so. Used wire drifts further (type K: a few degC).
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class _Tolerance:
    """The greater of `floor` [degC] and `share` [-] of the temperature above `counted_from` [degC]; up to `limit`."""

    floor: float
    share: float
    limit: float
    counted_from: float = 0.0


_TOLERANCES: dict[tuple[str, int], _Tolerance] = {
    ("K", 1): _Tolerance(1.5, 0.004, 1000.0),
    ("K", 2): _Tolerance(2.5, 0.0075, 1200.0),
    ("N", 1): _Tolerance(1.5, 0.004, 1000.0),
    ("N", 2): _Tolerance(2.5, 0.0075, 1200.0),
    ("J", 1): _Tolerance(1.5, 0.004, 750.0),
    ("J", 2): _Tolerance(2.5, 0.0075, 750.0),
    ("E", 1): _Tolerance(1.5, 0.004, 800.0),
    ("E", 2): _Tolerance(2.5, 0.0075, 900.0),
    ("T", 1): _Tolerance(0.5, 0.004, 350.0),
    ("T", 2): _Tolerance(1.0, 0.0075, 350.0),
    # 1 degC up to 1100, then 1 + 0.003 (t - 1100): the same as 0.003 of what lies above 766.67.
    ("R", 1): _Tolerance(1.0, 0.003, 1600.0, 1100.0 - 1.0 / 0.003),
    ("R", 2): _Tolerance(1.5, 0.0025, 1600.0),
    ("S", 1): _Tolerance(1.0, 0.003, 1600.0, 1100.0 - 1.0 / 0.003),
    ("S", 2): _Tolerance(1.5, 0.0025, 1600.0),
    ("B", 2): _Tolerance(1.5, 0.0025, 1700.0),
    ("B", 3): _Tolerance(4.0, 0.005, 1700.0),
}

CLASSES: dict[str, tuple[int, ...]] = {
    letter: tuple(number for other, number in _TOLERANCES if other == letter) for letter in "BEJKNRST"
}
"""Thermocouple type -> the tolerance classes it comes in above 0 degC."""


def tolerance_celsius(tolerance_class: int, celsius: float, type: str = "K") -> float:
    """Half-width [degC] of what new wire of this class may be wrong at this temperature [degC].

    >>> tolerance_celsius(2, 100.0), tolerance_celsius(2, 1200.0), tolerance_celsius(1, 1000.0)
    (2.5, 9.0, 4.0)
    >>> round(tolerance_celsius(1, 1200.0, "S"), 9), tolerance_celsius(2, 1200.0, "S")
    (1.3, 3.0)
    """
    tolerance = _TOLERANCES[type, tolerance_class]
    return max(tolerance.floor, tolerance.share * (abs(celsius) - tolerance.counted_from))


def within_class(tolerance_class: int, celsius: float, type: str = "K") -> bool:
    """Whether the standard promises this class at this temperature [degC] at all.

    >>> within_class(1, 1000.0), within_class(1, 1063.0), within_class(2, 1222.0)
    (True, False, False)
    """
    return celsius <= _TOLERANCES[type, tolerance_class].limit
