"""Current transformers, by the real reader on a converter emulated down to its bits, on the amplifiers' own bus."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.reading import Fault
from spyhole_hardware import max31856, mcp3208
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.adc import EmulatedAdc, EmulatedClamp
from spyhole_hardware.emulated.chip import EmulatedChip
from spyhole_hardware.emulated.junction import BenchJunction
from spyhole_hardware.emulated.spi import BenchClock, EmulatedBus
from spyhole_hardware.max31856 import Max31856Probes
from spyhole_hardware.mcp3208 import LONGEST_SECONDS, SCANS, Clamp, Mcp3208Currents, code_of, judge

THIRTY = 30.0  # amperes for a volt


class Workshop:
    """Three rings, clamps on the outer two, and one amplifier beside the converter."""

    def __init__(self, mains_hertz: float = 50.0) -> None:
        self.clock = BenchClock()
        self.amperes = {0: 13.5, 2: 6.5}
        clamps = {n: EmulatedClamp(lambda r=r: self.amperes[r], THIRTY, mains_hertz) for n, r in ((1, 0), (5, 2))}
        self.adc = EmulatedAdc(clamps, self.clock.seconds)
        chip = EmulatedChip(BenchJunction(812.5, 31.0), self.clock.seconds)
        self.bus = EmulatedBus([chip], self.adc)
        self.probes = Max31856Probes(
            self.bus, [Channel("middle", 6)], self.bus.selects, mains_hertz=50, averaging=4,
            seconds=self.clock.seconds, wait=self.clock.wait,
        )  # fmt: skip
        assert self.bus.adc_select is not None
        self.currents = Mcp3208Currents(
            self.bus, self.bus.adc_select, (Clamp(0, 1, THIRTY), Clamp(2, 5, THIRTY)), 3,
            seconds=self.clock.seconds, wait=self.clock.wait,
        )  # fmt: skip

    def read(self) -> tuple[float | None, ...]:
        return self.currents.read().amperes


@pytest.mark.parametrize("mains_hertz", [49.5, 50.0, 50.5, 59.5, 60.0, 60.5])
@pytest.mark.parametrize("amperes", [1.0, 6.5, 13.5, 30.0])
def test_a_current_is_measured_to_a_tenth_of_an_ampere_and_one_in_a_hundred(mains_hertz: float, amperes: float) -> None:
    """At mains that are off by half a hertz too: the samples then no longer span whole cycles."""
    workshop = Workshop(mains_hertz)
    workshop.amperes[0] = amperes
    assert workshop.read()[0] == pytest.approx(amperes, rel=0.01, abs=0.1)


def test_a_ring_that_is_off_draws_nothing_and_one_without_a_clamp_is_not_known() -> None:
    workshop = Workshop()
    workshop.amperes = {0: 0.0, 2: 6.5}
    assert workshop.read() == (0.0, None, 6.5)


def test_a_measurement_takes_a_fifth_of_a_second_and_has_an_end() -> None:
    workshop = Workshop()
    before = workshop.clock.seconds()
    workshop.read()
    assert workshop.clock.seconds() - before == pytest.approx(0.2, abs=0.001)
    slow = workshop.clock.wait
    workshop.currents._wait = lambda seconds: slow(seconds + 0.1)
    before = workshop.clock.seconds()
    assert workshop.read() == (None, None, None), "too few samples are no number"
    assert workshop.clock.seconds() - before < LONGEST_SECONDS + 0.2


def test_amplifiers_and_converter_each_get_their_own_mode_of_the_bus() -> None:
    workshop = Workshop()
    for _ in range(3):
        assert workshop.probes.read().probes[0].celsius == 812.5
        assert workshop.read() == (13.5, None, 6.5)


@pytest.mark.parametrize("level", [0, 1])
def test_a_line_that_is_stuck_is_no_number(level: int) -> None:
    workshop = Workshop()
    workshop.adc.stuck = level
    assert workshop.read() == (None, None, None)
    workshop.adc.stuck = None
    assert workshop.read() == (13.5, None, 6.5)


@given(code=st.integers(0, 4095), bit=st.integers(0, 31))
def test_one_wrong_bit_is_seen_wherever_it_is(code: int, bit: int) -> None:
    sound = int(f"00{code:012b}{f'{code:012b}'[::-1][1:]}0000000", 2)
    assert code_of(sound.to_bytes(4)) == code
    said = code_of((sound ^ 1 << bit).to_bytes(4))
    # the first bit means nothing, and the lowest of the twelve, a fortieth of an ampere, is sent once
    assert said == {31: code, 18: code ^ 1}.get(bit)


def test_some_wrong_bits_cost_their_samples_and_no_number() -> None:
    workshop = Workshop()
    workshop.adc.flips = SCANS // 8
    assert workshop.read()[2] == pytest.approx(6.5, abs=0.3)


def test_a_clamp_that_is_not_plugged_in_or_has_no_bias_is_no_number() -> None:
    workshop = Workshop()
    workshop.adc.inputs[1].bias_volts = 0.2
    del workshop.adc.inputs[5]
    assert workshop.read() == (None, None, None)


def test_a_current_beyond_the_clamp_is_no_number_and_never_a_smaller_one() -> None:
    workshop = Workshop()
    workshop.amperes[0] = 60.0
    assert workshop.read() == (None, None, 6.5)


def test_a_broken_bus_and_one_that_another_program_keeps_are_no_number() -> None:
    workshop = Workshop()
    for trouble in ("broken", "held"):
        setattr(workshop.bus, trouble, True)
        assert workshop.read() == (None, None, None)
        assert workshop.probes.read().probes[0].fault is Fault.BUS
        setattr(workshop.bus, trouble, False)
        assert workshop.read() == (13.5, None, 6.5)


def test_a_sample_that_was_fetched_too_late_has_leaked_away_and_is_not_believed() -> None:
    """The data sheet gives it 1.2 ms; a busy machine may take longer between two transfers."""
    workshop = Workshop()
    sound = workshop.bus.readinto

    def slowly(buf: bytearray, start: int = 0, end: int | None = None) -> None:
        workshop.clock.wait(0.0013)
        sound(buf, start, end)

    workshop.bus.readinto = slowly
    assert workshop.read() == (None, None, None)


def test_what_is_beyond_any_clamp_is_told_apart() -> None:
    middle = [2048 + round(400 * math.sin(n)) for n in range(SCANS)]
    assert judge(middle)[0] == ""
    assert "beyond its range" in judge([*middle[:-1], 4095])[0]
    assert "half of the supply" in judge([code - 1500 for code in middle])[0]
    assert judge([None] * (SCANS // 2) + middle[: SCANS // 2])[0] == "gives no sense"


def test_every_chip_on_the_bus_has_the_same_pace() -> None:
    """spidev tells the kernel of a pace only when it changes, and the pace is the device's, which daemons share."""
    assert mcp3208._BAUD == max31856._BAUD
