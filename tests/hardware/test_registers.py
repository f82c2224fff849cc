"""Our facts of the chip against the driver's own constants, and every code there and back."""

import adafruit_max31856 as driver
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole_hardware import registers as reg


@pytest.mark.parametrize(
    ("ours", "drivers"),
    [
        (reg.CR0, "CR0_REG"),
        (reg.CR1, "CR1_REG"),
        (reg.MASK, "MASK_REG"),
        (reg.CJHF, "CJHF_REG"),
        (reg.CJLF, "CJLF_REG"),
        (reg.LTHFTH, "LTHFTH_REG"),
        (reg.LTLFTH, "LTLFTH_REG"),
        (reg.CJTO, "CJTO_REG"),
        (reg.CJTH, "CJTH_REG"),
        (reg.LTCBH, "LTCBH_REG"),
        (reg.SR, "SR_REG"),
        (reg.AUTOCONVERT, "CR0_AUTOCONVERT"),
        (reg.ONE_SHOT, "CR0_1SHOT"),
        (reg.OPEN_DETECTION_UNDER_5K, "CR0_OCFAULT0"),
        (reg.COLD_JUNCTION_DISABLED, "CR0_CJ"),
        (reg.FAULTS_LATCH, "CR0_FAULT"),
        (reg.FAULT_CLEAR, "CR0_FAULTCLR"),
        (reg.FIFTY_HERTZ, "CR0_50HZ"),
        (reg.COLD_RANGE, "FAULT_CJRANGE"),
        (reg.HOT_RANGE, "FAULT_TCRANGE"),
        (reg.COLD_HIGH, "FAULT_CJHIGH"),
        (reg.COLD_LOW, "FAULT_CJLOW"),
        (reg.HOT_HIGH, "FAULT_TCHIGH"),
        (reg.HOT_LOW, "FAULT_TCLOW"),
        (reg.OVER_UNDER_VOLTAGE, "FAULT_OVUV"),
        (reg.OPEN_CIRCUIT, "FAULT_OPEN"),
    ],
)
def test_addresses_and_bits_are_the_drivers(ours, drivers):
    assert ours == getattr(driver, f"_MAX31856_{drivers}")


def test_codes_of_types_and_averaging_are_the_drivers():
    assert {letter: getattr(driver.ThermocoupleType, letter) for letter in "BEJKNRST"} == reg.TYPE_CODES
    assert driver._AVGSEL_CONSTS == reg.AVERAGING_CODES


@given(st.integers(-(2**18), 2**18 - 1), st.integers(0, 0b11111))
def test_every_hot_junction_code_there_and_back(step, meaningless):
    celsius = step / 128
    code = reg.hot_code(celsius)
    assert reg.hot_celsius(code) == celsius
    assert reg.hot_celsius(bytes([code[0], code[1], code[2] | meaningless])) == celsius


@given(st.integers(-(2**13), 2**13 - 1), st.integers(0, 0b11))
def test_every_cold_junction_code_there_and_back(step, meaningless):
    celsius = step / 64
    code = reg.cold_code(celsius)
    assert reg.cold_celsius(code) == celsius
    assert reg.cold_celsius(bytes([code[0], code[1] | meaningless])) == celsius
