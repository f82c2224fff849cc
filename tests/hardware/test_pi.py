"""A Pi's bus and pins, with stand-ins for its two device files. No Pi has run this."""

import os
import sys
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import BinaryIO

import gpiod
import pytest
from gpiod.line import Value

from spyhole.core.reading import Fault
from spyhole.core.refusal import Refusal
from spyhole_hardware import pi
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.adc import EmulatedAdc, EmulatedClamp
from spyhole_hardware.emulated.chip import EmulatedChip
from spyhole_hardware.emulated.junction import BenchJunction
from spyhole_hardware.emulated.spi import BenchClock, EmulatedBus
from spyhole_hardware.max31856 import Max31856Probes
from spyhole_hardware.mcp3208 import Clamp
from spyhole_hardware.probes import CurrentWires, open_sensors
from spyhole_hardware.turns import BusTurns

PINS = (5, 6, 7)
CONVERTER_PIN = 8


class SpiFile:
    """spidev.SpiDev with emulated chips at the other end."""

    max_speed_hz = 0
    mode = 0

    def __init__(self, bus: EmulatedBus, device: BinaryIO, refuse: OSError | None = None) -> None:
        self.bus = bus
        self.device = device
        self.refuse = refuse
        self.opened: tuple[int, int] | None = None
        self.closed = False

    def open(self, bus: int, device: int) -> None:
        if self.refuse:
            raise self.refuse
        self.opened = (bus, device)

    def _configure(self) -> None:
        self.bus.configure(baudrate=self.max_speed_hz, polarity=self.mode >> 1, phase=self.mode & 1)

    def writebytes2(self, values: bytes) -> None:
        self._configure()
        self.bus.write(values)

    def readbytes(self, n: int) -> list[int]:
        self._configure()
        buffer = bytearray(n)
        self.bus.readinto(buffer)
        return list(buffer)

    def fileno(self) -> int:
        return self.device.fileno()

    def close(self) -> None:
        self.closed = True


class Lines:
    """gpiod.LineRequest on the emulated chip selects."""

    def __init__(self, bus: EmulatedBus) -> None:
        self.bus = bus
        self.asked: list[tuple[str, dict, str]] = []
        self.released = False

    def set_value(self, line: int, value: Value) -> None:
        select = self.bus.adc_select if line == CONVERTER_PIN else self.bus.selects[PINS.index(line)]
        select.value = value is Value.ACTIVE

    def release(self) -> None:
        self.released = True


@pytest.fixture
def emulated():
    clock = BenchClock()
    junctions = [BenchJunction(700.0 + pin, 25.0) for pin in PINS]
    adc = EmulatedAdc({0: EmulatedClamp(lambda: 13.5, 30.0)}, clock.seconds)
    return clock, EmulatedBus([EmulatedChip(junction, clock.seconds) for junction in junctions], adc)


@pytest.fixture
def spi(emulated, monkeypatch, tmp_path) -> Iterator[SpiFile]:
    """Its device file is a real one, because what is locked is real."""
    with (tmp_path / "spidev0.0").open("w+b") as device:
        file = SpiFile(emulated[1], device)
        monkeypatch.setitem(sys.modules, "spidev", SimpleNamespace(SpiDev=lambda: file))
        yield file


@pytest.fixture
def lines(emulated, monkeypatch, tmp_path) -> Lines:
    """A header with two GPIO chips, of which the second is the one."""
    labels = {str(tmp_path / "gpiochip0"): "gpio-mockup", str(tmp_path / "gpiochip1"): "pinctrl-bcm2711"}
    for path in labels:
        (tmp_path / path).touch()
    lines = Lines(emulated[1])

    class Chip:
        def __init__(self, path: str) -> None:
            self.label = labels[path]

        def __enter__(self) -> "Chip":
            return self

        def __exit__(self, *_: object) -> None:
            pass

        def get_info(self) -> SimpleNamespace:
            return SimpleNamespace(label=self.label)

    def request_lines(path: str, config: dict, consumer: str) -> Lines:
        lines.asked.append((path, config, consumer))
        return lines

    monkeypatch.setattr(gpiod, "Chip", Chip)
    monkeypatch.setattr(gpiod, "request_lines", request_lines)
    return lines


def opened(tmp_path) -> tuple[pi.PiBus, tuple[pi.PiChipSelect, ...], Callable[[], None]]:
    return pi.open_bus(PINS, devices=tmp_path)


def test_the_reader_reads_through_spidev_and_gpiod(emulated, spi, lines, tmp_path):
    clock, _ = emulated
    bus, selects, release = opened(tmp_path)
    probes = Max31856Probes(
        bus,
        [Channel(ring, pin) for ring, pin in zip(("bottom", "middle", "top"), PINS, strict=True)],
        selects,
        mains_hertz=50,
        averaging=4,
        seconds=clock.seconds,
        wait=clock.wait,
        release=release,
    )
    assert [probe.celsius for probe in probes.read().probes] == [705.0, 706.0, 707.0]
    assert spi.opened == (0, 0)
    assert (spi.mode, spi.max_speed_hz) == (1, 500_000)
    probes.close()
    assert spi.closed
    assert lines.released


def test_every_chip_is_deselected_before_the_first_transfer(spi, lines, tmp_path):
    opened(tmp_path)
    (path, config, consumer) = lines.asked[0]
    assert len(lines.asked) == 1
    assert path.endswith("gpiochip1")
    assert consumer == "spyhole"
    assert set(config) == {PINS}
    assert config[PINS].output_value is Value.ACTIVE
    assert config[PINS].direction is gpiod.line.Direction.OUTPUT


def test_a_failed_transfer_does_not_leave_the_bus_locked(emulated, spi, lines, tmp_path):
    """The driver lets go of its lock only when the chip was selected: other kilns on the bus would wait for ever."""
    clock, _ = emulated
    another = BusTurns(os.open(tmp_path / "spidev0.0", os.O_RDONLY))
    bus, selects, _ = opened(tmp_path)
    probes = Max31856Probes(
        bus, [Channel("bottom", 5)], selects[:1], mains_hertz=50, averaging=4, seconds=clock.seconds, wait=clock.wait
    )
    sound = lines.set_value

    def fail(line: int, value: Value) -> None:
        raise OSError(19, "No such device")

    lines.set_value = fail
    assert probes.read().probes[0].fault is Fault.BUS
    assert another.take()
    assert not another.held
    another.give()
    lines.set_value = sound
    assert probes.read().probes[0].celsius == 705.0


def test_the_mode_is_set_anew_after_somebody_else_had_the_bus(emulated, spi, lines, tmp_path):
    clock, _ = emulated
    bus, selects, _ = opened(tmp_path)
    probes = Max31856Probes(
        bus, [Channel("bottom", 5)], selects[:1], mains_hertz=50, averaging=4, seconds=clock.seconds, wait=clock.wait
    )
    spi.mode = 0
    assert probes.read().probes[0].celsius == 705.0


@pytest.fixture
def sensors(emulated, spi, lines, monkeypatch):
    """Three amplifiers and a converter, opened as `spyhole watch` opens them."""
    clock, _ = emulated
    monkeypatch.setattr(pi, "header_chip", lambda devices: "/dev/gpiochip0")
    rings = ("bottom", "middle", "top")
    return open_sensors(
        "max31856", [Channel(ring, pin) for ring, pin in zip(rings, PINS, strict=True)],
        CurrentWires(CONVERTER_PIN, (Clamp(0, 0, 30.0),), 3),
        mains_hertz=50, averaging=4, seconds=clock.seconds, wait=clock.wait,
    )  # fmt: skip


def test_the_converter_of_the_current_transformers_is_one_more_line_on_the_same_bus(sensors, lines):
    probes, currents = sensors
    assert set(lines.asked[0][1]) == {(*PINS, CONVERTER_PIN)}, "asked for together: all are deselected at first"
    for _ in range(2):
        assert [probe.celsius for probe in probes.read().probes] == [705.0, 706.0, 707.0]
        assert currents.read().amperes == (13.5, None, None)


def test_another_daemon_that_keeps_the_bus_costs_every_number_until_it_lets_go(sensors, tmp_path):
    probes, currents = sensors
    another = BusTurns(os.open(tmp_path / "spidev0.0", os.O_RDONLY))
    another.take()
    assert {probe.fault for probe in probes.read().probes} == {Fault.BUS}
    assert currents.read().amperes == (None, None, None)
    assert probes.bus_held
    another.give()
    assert [probe.celsius for probe in probes.read().probes] == [705.0, 706.0, 707.0]
    assert currents.read().amperes == (13.5, None, None)
    assert not probes.bus_held


def test_without_spidev(monkeypatch, tmp_path):
    monkeypatch.setitem(sys.modules, "spidev", None)
    with pytest.raises(
        Refusal, match=r"spidev is not installed, so no probe can be read; .*pip install 'spyhole\[pi\]'"
    ):
        opened(tmp_path)


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (FileNotFoundError(2, "No such file or directory"), "there is no /dev/spidev0.0.*dtparam=spi=on"),
        (PermissionError(13, "Permission denied"), "may not open /dev/spidev0.0.*group spi"),
        (OSError(5, "Input/output error"), "does not open .Input/output error., so no probe can be read"),
    ],
)
def test_without_the_device_of_the_bus(spi, tmp_path, error, sentence):
    spi.refuse = error
    with pytest.raises(Refusal, match=sentence):
        opened(tmp_path)


def test_without_a_header(spi, tmp_path):
    with pytest.raises(Refusal, match=r"no GPIO chip in .* belongs to a Raspberry Pi's header"):
        opened(tmp_path)
    assert spi.closed


def test_without_gpiod(spi, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "gpiod", None)
    with pytest.raises(Refusal, match="gpiod is not installed, so no amplifier can be selected"):
        opened(tmp_path)
    assert spi.closed


def test_with_something_that_is_no_gpio_chip(spi, tmp_path):
    (tmp_path / "gpiochip0").touch()
    with pytest.raises(Refusal, match="GPIO 5, 6, 7 cannot be had"):
        opened(tmp_path)
    assert spi.closed


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (PermissionError(13, "Permission denied"), "may not open the GPIO lines.*group gpio"),
        (OSError(16, "Device or resource busy"), "cannot be had .Device or resource busy.*gpioinfo"),
    ],
)
def test_with_lines_that_are_not_given(spi, lines, tmp_path, monkeypatch, error, sentence):
    def refuse(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(gpiod, "request_lines", refuse)
    with pytest.raises(Refusal, match=sentence):
        opened(tmp_path)
    assert spi.closed
