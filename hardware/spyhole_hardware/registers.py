"""The MAX31856 as its data sheet (Maxim 19-7534) describes it: addresses, bits, codes, ranges, times.

The reader and the emulated chip share these facts; tests/hardware holds them against the driver's own constants and
tests/published against the data sheet's tables. The data sheet's figures here are from memory.
"""

from typing import Final

CR0: Final = 0x00
CR1: Final = 0x01
MASK: Final = 0x02
CJHF: Final = 0x03  # cold junction high threshold, 1 degC
CJLF: Final = 0x04  # cold junction low threshold
LTHFTH: Final = 0x05  # linearised temperature high threshold, 2^-4 degC, two bytes
LTLFTH: Final = 0x07  # linearised temperature low threshold, two bytes
CJTO: Final = 0x09  # offset added to the cold junction, 2^-4 degC
CJTH: Final = 0x0A  # cold junction, two bytes
LTCBH: Final = 0x0C  # linearised temperature, three bytes
SR: Final = 0x0F  # faults
REGISTER_COUNT: Final = 16
WRITE: Final = 0x80  # added to an address to write it

AUTOCONVERT: Final = 0x80
ONE_SHOT: Final = 0x40
OPEN_DETECTION: Final = 0x30  # both bits; zero is off
OPEN_DETECTION_UNDER_5K: Final = 0x10  # for leads under 5 kohm
COLD_JUNCTION_DISABLED: Final = 0x08
FAULTS_LATCH: Final = 0x04
FAULT_CLEAR: Final = 0x02
FIFTY_HERTZ: Final = 0x01

COLD_RANGE: Final = 0x80
HOT_RANGE: Final = 0x40
COLD_HIGH: Final = 0x20
COLD_LOW: Final = 0x10
HOT_HIGH: Final = 0x08
HOT_LOW: Final = 0x04
OVER_UNDER_VOLTAGE: Final = 0x02
OPEN_CIRCUIT: Final = 0x01

AVERAGING_CODES: Final = {1: 0x00, 2: 0x10, 4: 0x20, 8: 0x30, 16: 0x40}
TYPE_CODES: Final = {"B": 0, "E": 1, "J": 2, "K": 3, "N": 4, "R": 5, "S": 6, "T": 7}

RESET: Final = bytes.fromhex("00 03 ff 7f c0 7f ff 80 00 00 00 00 00 00 00 00")
"""All sixteen registers after power-on: type K, 60 Hz, no averaging, open-circuit detection off."""

# Hot junction limits by type [degC]: outside them the chip raises its range bit.
RANGE_CELSIUS: Final = {
    "B": (250.0, 1820.0),
    "E": (-200.0, 1000.0),
    "J": (-210.0, 1200.0),
    "K": (-200.0, 1372.0),
    "N": (-200.0, 1300.0),
    "R": (-50.0, 1768.0),
    "S": (-50.0, 1768.0),
    "T": (-200.0, 400.0),
}

# Cold junction limits by type [degC].
COLD_RANGE_CELSIUS: Final = {
    "B": (0.0, 125.0),
    "E": (-55.0, 125.0),
    "J": (-55.0, 125.0),
    "K": (-55.0, 125.0),
    "N": (-55.0, 125.0),
    "R": (-50.0, 125.0),
    "S": (-50.0, 125.0),
    "T": (-55.0, 125.0),
}

_ONE_SHOT_SECONDS: Final = {60: 0.143, 50: 0.169}
_ONE_SHOT_LONGEST_SECONDS: Final = {60: 0.155, 50: 0.185}
_AUTOCONVERT_SECONDS: Final = {60: 0.082, 50: 0.098}


def one_shot_seconds(mains_hertz: int, averaging: int) -> float:
    """Typical time of a one-shot conversion [s]; each sample beyond the first takes two mains cycles."""
    return _ONE_SHOT_SECONDS[mains_hertz] + (averaging - 1) * 2 / mains_hertz


def longest_one_shot_seconds(mains_hertz: int, averaging: int) -> float:
    """Longest time of a one-shot conversion [s] over temperature and supply."""
    slowness = _ONE_SHOT_LONGEST_SECONDS[mains_hertz] / _ONE_SHOT_SECONDS[mains_hertz]
    return slowness * one_shot_seconds(mains_hertz, averaging)


def autoconvert_seconds(mains_hertz: int, averaging: int) -> float:
    """Typical time from one automatic conversion to the next [s]."""
    return _AUTOCONVERT_SECONDS[mains_hertz] + (averaging - 1) / mains_hertz


def hot_code(celsius: float) -> bytes:
    """Three bytes of the linearised temperature: 19 bits of 2^-7 degC, two's complement, left aligned."""
    return ((round(celsius * 128) & 0x7FFFF) << 5).to_bytes(3)


def hot_celsius(code: bytes) -> float:
    """Temperature of three bytes, an exact multiple of 1/128 degC; the five lowest bits mean nothing."""
    return (int.from_bytes(code, signed=True) >> 5) / 128


def cold_code(celsius: float) -> bytes:
    """Two bytes of the cold junction: 14 bits of 2^-6 degC, two's complement, left aligned."""
    return ((round(celsius * 64) & 0x3FFF) << 2).to_bytes(2)


def cold_celsius(code: bytes) -> float:
    """Temperature of two bytes, an exact multiple of 1/64 degC; the two lowest bits mean nothing."""
    return (int.from_bytes(code, signed=True) >> 2) / 64
