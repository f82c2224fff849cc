"""The chip's codes against the tables of its data sheet.

Source: Maxim Integrated, MAX31856, data sheet 19-7534: tables of the linearised thermocouple temperature and of the
cold junction, the register memory map, the electrical characteristics (conversion times). Values from memory.
"""

import pytest
from adafruit_max31856 import MAX31856

from spyhole_hardware import registers as reg
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.junction import BenchJunction
from spyhole_hardware.probes import open_emulated

HOT = [
    (1600.0, "0110 0100 0000 0000 0000 0000"),
    (1000.0, "0011 1110 1000 0000 0000 0000"),
    (100.9375, "0000 0110 0100 1111 0000 0000"),
    (25.0, "0000 0001 1001 0000 0000 0000"),
    (0.0625, "0000 0000 0000 0001 0000 0000"),
    (0.0, "0000 0000 0000 0000 0000 0000"),
    (-0.0625, "1111 1111 1111 1111 0000 0000"),
    (-0.25, "1111 1111 1111 1100 0000 0000"),
    (-1.0, "1111 1111 1111 0000 0000 0000"),
    (-250.0, "1111 0000 0110 0000 0000 0000"),
]

COLD = [
    (127.984375, "0111 1111 1111 1100"),
    (127.0, "0111 1111 0000 0000"),
    (125.0, "0111 1101 0000 0000"),
    (64.0, "0100 0000 0000 0000"),
    (25.0, "0001 1001 0000 0000"),
    (0.5, "0000 0000 1000 0000"),
    (0.015625, "0000 0000 0000 0100"),
    (0.0, "0000 0000 0000 0000"),
    (-0.5, "1111 1111 1000 0000"),
    (-25.0, "1110 0111 0000 0000"),
    (-55.0, "1100 1001 0000 0000"),
]


def code(bits: str) -> bytes:
    digits = bits.replace(" ", "")
    return int(digits, 2).to_bytes(len(digits) // 8)


@pytest.mark.parametrize(("celsius", "bits"), HOT)
def test_linearised_temperature(celsius, bits):
    assert reg.hot_code(celsius) == code(bits)
    assert reg.hot_celsius(code(bits)) == celsius


@pytest.mark.parametrize(("celsius", "bits"), COLD)
def test_cold_junction(celsius, bits):
    assert reg.cold_code(celsius) == code(bits)
    assert reg.cold_celsius(code(bits)) == celsius


@pytest.mark.parametrize(
    ("celsius", "bits", "type_"),
    [(c, bits, "S" if c > 1372 else "K") for c, bits in HOT if c >= -200],
)
def test_a_junction_at_this_temperature_gives_this_code_and_reads_so(celsius, bits, type_):
    """From the EMF of the junction to the registers, and through the driver to our reading."""
    junction = BenchJunction(celsius, 25.0, type=type_)
    probes, bus = open_emulated([Channel("only", 5, type_)], [junction], mains_hertz=60, averaging=1)
    assert probes.read().probes[0].celsius == celsius
    assert bus.chips[0].registers[reg.LTCBH : reg.SR] == code(bits)
    assert MAX31856(bus, bus.selects[0]).read_high_res_temp() == celsius


@pytest.mark.parametrize(
    ("address", "value"),
    [
        (0x00, 0x00),  # CR0
        (0x01, 0x03),  # CR1: type K, one sample
        (0x02, 0xFF),  # MASK
        (0x03, 0x7F),  # CJHF
        (0x04, 0xC0),  # CJLF
        (0x05, 0x7F),  # LTHFTH
        (0x06, 0xFF),  # LTHFTL
        (0x07, 0x80),  # LTLFTH
        (0x08, 0x00),  # LTLFTL
        (0x09, 0x00),  # CJTO
        (0x0A, 0x00),  # CJTH
        (0x0B, 0x00),  # CJTL
        (0x0C, 0x00),  # LTCBH
        (0x0D, 0x00),  # LTCBM
        (0x0E, 0x00),  # LTCBL
        (0x0F, 0x00),  # SR
    ],
)
def test_power_on_defaults(address, value):
    assert reg.RESET[address] == value


@pytest.mark.parametrize(
    ("hertz", "averaging", "typical_ms", "longest_ms"),
    [(60, 1, 143, 155), (50, 1, 169, 185), (60, 2, 143 + 33.33, None), (50, 16, 169 + 15 * 40, None)],
)
def test_time_of_a_one_shot_conversion(hertz, averaging, typical_ms, longest_ms):
    assert reg.one_shot_seconds(hertz, averaging) * 1000 == pytest.approx(typical_ms, abs=0.01)
    if longest_ms is not None:
        assert reg.longest_one_shot_seconds(hertz, averaging) * 1000 == pytest.approx(longest_ms, abs=0.01)


@pytest.mark.parametrize(
    ("hertz", "averaging", "typical_ms"), [(60, 1, 82), (50, 1, 98), (60, 4, 82 + 3 * 16.67), (50, 4, 98 + 3 * 20)]
)
def test_time_from_one_automatic_conversion_to_the_next(hertz, averaging, typical_ms):
    assert reg.autoconvert_seconds(hertz, averaging) * 1000 == pytest.approx(typical_ms, abs=0.02)


@pytest.mark.parametrize(
    ("letter", "low", "high"),
    [
        ("B", 250, 1820),
        ("E", -200, 1000),
        ("J", -210, 1200),
        ("K", -200, 1372),
        ("N", -200, 1300),
        ("R", -50, 1768),
        ("S", -50, 1768),
        ("T", -200, 400),
    ],
)
def test_range_of_each_type(letter, low, high):
    assert reg.RANGE_CELSIUS[letter] == (low, high)
