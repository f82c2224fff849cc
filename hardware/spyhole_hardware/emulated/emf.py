"""What a thermocouple gives at a temperature, and which temperature gives it."""

from bisect import bisect_right
from typing import Final

from spyhole_hardware.emulated.its90 import SPANS, Span

_CELL_CELSIUS: Final = 10.0
_INVERSE_FROM_CELSIUS: Final = {"B": 50.0}  # type B falls before it rises: below about 21 degC it has no inverse
_COLDEST_CELSIUS: Final = -220.0  # near -270 degC some types hardly change; no amplifier reads there
_CLOSE_ENOUGH_CELSIUS: Final = 1e-7


class Thermocouple:
    """One letter type, the other junction at 0 degC. Beyond its range it goes on along the last slope."""

    def __init__(self, letter: str) -> None:
        """letter: one of B E J K N R S T; KeyError for another."""
        self._spans = SPANS[letter]
        self._from_celsius = self._spans[0].from_celsius
        self._to_celsius = self._spans[-1].to_celsius
        low = max(self._from_celsius, _INVERSE_FROM_CELSIUS.get(letter, _COLDEST_CELSIUS))
        cells = int((self._to_celsius - low) // _CELL_CELSIUS)
        self._grid = [low + _CELL_CELSIUS * i for i in range(cells)] + [self._to_celsius]
        self._grid_millivolts = [self.millivolts(celsius) for celsius in self._grid]

    def millivolts(self, celsius: float) -> float:
        """EMF [mV] at this temperature [degC]."""
        if celsius < self._from_celsius:
            return _along(self._spans[0], self._from_celsius, 1.0, celsius)
        for span in self._spans:
            if celsius <= span.to_celsius:
                return span.millivolts(celsius)
        return _along(self._spans[-1], self._to_celsius, -1.0, celsius)

    def celsius(self, millivolts: float) -> float:
        """Temperature [degC] that gives this EMF [mV], to 1e-6 degC.

        A chord iteration on the reference function itself inside one cell of a grid: closer than the published inverse
        polynomials, which are good to 0.02 to 0.06 degC.
        """
        emf = self._grid_millivolts
        cell = min(max(bisect_right(emf, millivolts) - 1, 0), len(emf) - 2)
        slope = (self._grid[cell + 1] - self._grid[cell]) / (emf[cell + 1] - emf[cell])
        celsius = self._grid[cell] + slope * (millivolts - emf[cell])
        if not emf[0] <= millivolts <= emf[-1]:
            return celsius
        for _ in range(20):
            step = slope * (millivolts - self.millivolts(celsius))
            celsius += step
            if abs(step) < _CLOSE_ENOUGH_CELSIUS:
                break
        return celsius


def _along(span: Span, end_celsius: float, inwards: float, celsius: float) -> float:
    end = span.millivolts(end_celsius)
    return end + (span.millivolts(end_celsius + inwards) - end) / inwards * (celsius - end_celsius)


THERMOCOUPLES: Final = {letter: Thermocouple(letter) for letter in SPANS}
