"""What a ring's switch gives, against Ohm's and Joule's laws: P = U^2/R, resistances in series and side by side.

A common ring has two equal elements and a switch that puts them in series, uses one, or both side by side.
"""

import pytest

from spyhole.core.kiln import Switch, SwitchShares
from spyhole_hardware.emulated.thermal import share_of_watts


def watts(volts: float, ohms: float) -> float:
    return volts * volts / ohms


def test_series_single_parallel_give_a_quarter_a_half_and_all() -> None:
    volts, element_ohms = 230.0, 36.5
    both_side_by_side = watts(volts, 1.0 / (1.0 / element_ohms + 1.0 / element_ohms))
    shares = SwitchShares()
    assert shares.of(Switch.OFF) == 0.0
    assert shares.of(Switch.LOW) == pytest.approx(watts(volts, element_ohms + element_ohms) / both_side_by_side)
    assert shares.of(Switch.MEDIUM) == pytest.approx(watts(volts, element_ohms) / both_side_by_side)
    assert shares.of(Switch.HIGH) == 1.0


@pytest.mark.parametrize(("volts", "rated", "expected"), [(218.5, 230.0, 0.9025), (208.0, 240.0, 0.751)])
def test_watts_go_with_the_square_of_the_volts(volts: float, rated: float, expected: float) -> None:
    """A sag of 5 % leaves 0.9025 of the watts; 240 V elements on 208 V give 0.751."""
    element_ohms = 18.25
    assert share_of_watts(volts, rated) == pytest.approx(watts(volts, element_ohms) / watts(rated, element_ohms))
    assert share_of_watts(volts, rated) == pytest.approx(expected, abs=5e-4)
