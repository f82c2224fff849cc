"""EMF there and back; the values themselves are held against published tables in tests/published."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole_hardware import registers as reg
from spyhole_hardware.emulated.emf import THERMOCOUPLES
from spyhole_hardware.emulated.its90 import SPANS

TYPES = sorted(SPANS)


@given(st.sampled_from(TYPES), st.floats(0, 1))
def test_there_and_back(letter, share):
    low, high = reg.RANGE_CELSIUS[letter]
    celsius = low + share * (high - low)
    curve = THERMOCOUPLES[letter]
    assert curve.celsius(curve.millivolts(celsius)) == pytest.approx(celsius, abs=1e-6)


@pytest.mark.parametrize("letter", TYPES)
def test_spans_meet(letter):
    """The reference functions join to well under what a table prints (0.001 mV)."""
    for below, above in zip(SPANS[letter], SPANS[letter][1:], strict=False):
        assert below.to_celsius == above.from_celsius
        joint = below.to_celsius
        assert below.millivolts(joint) == pytest.approx(above.millivolts(joint), abs=2e-5)


@pytest.mark.parametrize("letter", TYPES)
def test_beyond_its_range_a_curve_goes_on_rising(letter):
    curve = THERMOCOUPLES[letter]
    low, high = SPANS[letter][0].from_celsius, SPANS[letter][-1].to_celsius
    assert curve.millivolts(high + 100) > curve.millivolts(high + 1) > curve.millivolts(high)
    assert curve.celsius(curve.millivolts(high) + 1) > high
    if letter != "B":  # which falls before it rises
        assert curve.millivolts(low - 10) < curve.millivolts(low)
    assert curve.celsius(-200.0) < -220


def test_a_letter_that_is_none():
    assert "X" not in THERMOCOUPLES
