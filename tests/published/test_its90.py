"""EMF of our thermocouples against printed tables and an independent library.

Sources: IEC 60584-1:2013, reference tables, also NIST ITS-90 Thermocouple Database (SRD 60), in mV to three decimals
(these values from memory); the package thermocouple-its90, which states that it reproduces every NIST table value
within its rounding; SciPy's root finder for the inverse.
"""

import pytest
import thermocouple_its90
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from spyhole_hardware import registers as reg
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.emf import THERMOCOUPLES
from spyhole_hardware.emulated.junction import BenchJunction
from spyhole_hardware.probes import open_emulated

PRINTED = {
    "B": {500: 1.242, 1000: 4.834, 1500: 10.099, 1800: 13.591},
    "E": {-100: -5.237, 100: 6.319, 500: 37.005, 1000: 76.373},
    "J": {-100: -4.633, 100: 5.269, 500: 27.393, 760: 42.919, 1000: 57.953},
    "K": {
        -200: -5.891, -100: -3.554, 25: 1.000, 100: 4.096, 200: 8.138, 300: 12.209, 400: 16.397, 500: 20.644,
        600: 24.905, 700: 29.129, 800: 33.275, 900: 37.326, 1000: 41.276, 1100: 45.119, 1200: 48.838, 1300: 52.410,
        1372: 54.886,
    },
    "N": {-100: -2.407, 100: 2.774, 500: 16.748, 1000: 36.256, 1200: 43.846, 1300: 47.513},
    "R": {100: 0.647, 500: 4.471, 1000: 10.506, 1200: 13.228, 1500: 17.451},
    "S": {25: 0.143, 100: 0.646, 500: 4.233, 1000: 9.587, 1200: 11.951, 1300: 13.159, 1400: 14.373, 1500: 15.582},
    "T": {-100: -3.379, 100: 4.279, 200: 9.288, 400: 20.872},
}  # fmt: skip


@pytest.mark.parametrize(
    ("letter", "celsius", "millivolts"),
    [(letter, celsius, emf) for letter, table in PRINTED.items() for celsius, emf in table.items()],
)
def test_printed_tables(letter, celsius, millivolts):
    assert THERMOCOUPLES[letter].millivolts(celsius) == pytest.approx(millivolts, abs=0.00051)


TYPES_AND_SHARES = (st.sampled_from(sorted(PRINTED)), st.floats(0, 1))


@given(*TYPES_AND_SHARES)
def test_emf_is_the_independent_librarys(letter, share):
    low, high = reg.RANGE_CELSIUS[letter]
    celsius = low + share * (high - low)
    assert THERMOCOUPLES[letter].millivolts(celsius) == pytest.approx(
        thermocouple_its90.get(letter).emf(celsius), abs=1e-6
    )


@given(*TYPES_AND_SHARES)
def test_temperature_is_the_root_of_the_independent_librarys_emf(letter, share):
    low, high = reg.RANGE_CELSIUS[letter]
    theirs = thermocouple_its90.get(letter)
    millivolts = theirs.emf(low) + share * (theirs.emf(high) - theirs.emf(low))
    expected = brentq(lambda celsius: theirs.emf(celsius) - millivolts, low, high, xtol=1e-9)
    assert THERMOCOUPLES[letter].celsius(millivolts) == pytest.approx(expected, abs=1e-4)


def test_type_s_at_1200_read_as_type_k_gives_314():
    """By the printed tables: 11.951 - 0.143 + 1.000 = 12.808 mV, which type K gives at 314 degC (cold junction 25)."""
    junction = BenchJunction(1200.0, 25.0, type="S")
    probes, _ = open_emulated([Channel("middle", 6, "K")], [junction], mains_hertz=50, averaging=4)
    reading = probes.read().probes[0]
    assert reading.fault is None
    assert reading.celsius == pytest.approx(314, abs=1)
    assert thermocouple_its90.get("K").temperature(11.951 - 0.143, reference=25.0) == pytest.approx(314, abs=1)
