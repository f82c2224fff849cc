"""The emulated bus: who is selected answers, and nobody else."""

import pytest

from spyhole_hardware import registers as reg
from spyhole_hardware.emulated.chip import EmulatedChip
from spyhole_hardware.emulated.junction import BenchJunction
from spyhole_hardware.emulated.spi import BenchClock, EmulatedBus


@pytest.fixture
def bus():
    clock = BenchClock()
    bus = EmulatedBus([EmulatedChip(BenchJunction(), clock.seconds) for _ in range(2)])
    bus.configure(baudrate=500_000, polarity=0, phase=1)
    return bus


def ask(bus: EmulatedBus, *channels: int, count: int = 2, address: int = reg.CR1) -> bytes:
    buffer = bytearray(count)
    for channel in channels:
        bus.selects[channel].value = False
    bus.write(bytes([address]))
    bus.readinto(buffer)
    for channel in channels:
        bus.selects[channel].value = True
    return bytes(buffer)


def test_the_selected_chip_answers(bus):
    assert ask(bus, 1) == reg.RESET[reg.CR1 : reg.CR1 + 2]


def test_with_nobody_selected_the_line_is_low(bus):
    assert ask(bus) == b"\x00\x00"


def test_only_the_selected_chip_is_written_to(bus):
    bus.selects[0].value = False
    bus.write(bytes([reg.CR1 | reg.WRITE, 0x26]))
    bus.selects[0].value = True
    assert bus.chips[0].registers[reg.CR1] == 0x26
    assert bus.chips[1].registers == reg.RESET


def test_addresses_count_up_and_wrap(bus):
    assert ask(bus, 0, count=3, address=reg.SR) == reg.RESET[reg.SR :] + reg.RESET[:2]
    bus.selects[0].value = False
    bus.write(bytes([reg.CJHF | reg.WRITE, 1, 2, 3]))
    bus.selects[0].value = True
    assert bus.chips[0].registers[reg.CJHF : reg.CJHF + 3] == b"\x01\x02\x03"


def test_a_part_of_a_buffer(bus):
    buffer = bytearray(b"....")
    bus.selects[0].value = False
    bus.write(bytearray([0x7F, reg.MASK, 0x7F]), start=1, end=2)
    bus.readinto(buffer, start=1, end=3)
    bus.selects[0].value = True
    assert buffer == b".\xff\x7f."


@pytest.mark.parametrize(("baud", "polarity", "phase"), [(500_000, 0, 0), (500_000, 1, 0), (5_000_001, 0, 1)])
def test_in_a_mode_or_at_a_pace_that_is_not_theirs_nobody_understands(bus, baud, polarity, phase):
    bus.configure(baudrate=baud, polarity=polarity, phase=phase)
    assert ask(bus, 0) == b"\x00\x00"


def test_two_selected_at_once_talk_over_each_other(bus):
    bus.selects[0].value = False
    bus.write(bytes([reg.CR1 | reg.WRITE, 0x40]))
    bus.selects[0].value = True
    assert ask(bus, 0, 1, count=1) == b"\x43"
