"""The SPI bus and chip selects of a Raspberry Pi, by spidev and gpiod.

This file has not been run on a Pi: it was written from the documentation of both packages, and its tests put emulated
chips behind a stand-in for the two device files. DEVELOPERS.md has the bench procedure for whoever has a Pi.

The driver sends an address and its data as two transfers, so the controller's own chip select lines, which rise in
between, cannot serve: GPIO lines do, and stay low from address to data.
"""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from spyhole.core.refusal import Refusal
from spyhole_hardware.bus import WriteableBuffer
from spyhole_hardware.turns import BusTurns

if TYPE_CHECKING:
    from gpiod.line import Value

_WHERE = 'driver = "max31856"'
_SPI_PATH = "/dev/spidev0.0"
_SPI_LINES = "dtparam=spi=on and dtoverlay=spi0-0cs"
_HEADER_LABELS = ("pinctrl-bcm", "pinctrl-rp1")  # up to the Pi 4, and the Pi 5


class SpiDevice(Protocol):
    """The part of spidev.SpiDev that is used."""

    mode: int
    max_speed_hz: int

    def open(self, bus: int, device: int) -> None: ...

    def writebytes2(self, values: bytes) -> None: ...

    def readbytes(self, n: int) -> list[int]: ...

    def fileno(self) -> int: ...

    def close(self) -> None: ...


class LineRequest(Protocol):
    """The part of gpiod.LineRequest that is used."""

    def set_value(self, line: int, value: "Value") -> None: ...

    def release(self) -> None: ...


class PiBus:
    """SPI0 as the driver needs it, shared in turns with the daemons of other kilns."""

    def __init__(self, device: SpiDevice) -> None:
        self._device = device
        self._turns = BusTurns(device.fileno())
        self._configured: tuple[int, int] | None = None

    @property
    def held(self) -> bool:
        """Whether another program kept the bus for too long when it was last asked for."""
        return self._turns.held

    def try_lock(self) -> bool:
        """Take the turn; always True, because the driver would ask for ever. TimeoutError when it is not to be had."""
        if self._turns.take():
            # The mode is the device's: whoever had it before has set his own. So is the pace, and spidev tells the
            # kernel of one that it knows already no second time (its source, 3.8): every chip of ours has the same.
            self._configured = None
        return True

    def unlock(self) -> None:
        """Let the others; may be called twice."""
        self._turns.give()

    def configure(self, *, baudrate: int, polarity: int, phase: int) -> None:
        """Clock [Hz] and mode; told to the kernel when they change."""
        wanted = (baudrate, polarity << 1 | phase)
        if wanted != self._configured:
            self._device.max_speed_hz, self._device.mode = wanted
            self._configured = wanted

    def write(self, buf: bytes | WriteableBuffer, start: int = 0, end: int | None = None) -> None:
        """Clock bytes out."""
        self._device.writebytes2(bytes(buf[start:end]))

    def readinto(self, buf: WriteableBuffer, start: int = 0, end: int | None = None) -> None:
        """Clock bytes in."""
        end = len(buf) if end is None else end
        buf[start:end] = bytes(self._device.readbytes(end - start))


class PiChipSelect:
    """One GPIO line, an output that was high from the moment it was asked for."""

    def __init__(self, request: LineRequest, line: int) -> None:
        self._request = request
        self._line = line
        self._level = True

    def switch_to_output(self, value: bool) -> None:
        """It is an output already."""
        self.value = value

    @property
    def value(self) -> bool:
        """The level it was last given."""
        return self._level

    @value.setter
    def value(self, level: bool) -> None:
        from gpiod.line import Value

        self._request.set_value(self._line, Value.ACTIVE if level else Value.INACTIVE)
        self._level = level


def open_bus(
    pins: Iterable[int], *, devices: Path = Path("/dev")
) -> tuple[PiBus, tuple[PiChipSelect, ...], Callable[[], None]]:
    """The bus, a chip select for each GPIO number, and what lets go of both; Refusal when something is missing."""
    pins = tuple(pins)
    device = _open_spi()
    try:
        request = _request_lines(pins, devices)
    except Refusal:
        device.close()
        raise

    def release() -> None:
        request.release()
        device.close()

    return PiBus(device), tuple(PiChipSelect(request, pin) for pin in pins), release


def _open_spi() -> SpiDevice:
    try:
        from spidev import SpiDev
    except ImportError:
        raise Refusal(
            _WHERE,
            "the Python package spidev is not installed, so no probe can be read",
            "on a Raspberry Pi install it with: pip install 'spyhole[pi]'; elsewhere choose driver = \"emulated\"",
        ) from None
    device: SpiDevice = SpiDev()
    try:
        device.open(0, 0)
    except FileNotFoundError:
        raise Refusal(
            _WHERE,
            f"there is no {_SPI_PATH}, so no probe can be read",
            f"put {_SPI_LINES} into /boot/firmware/config.txt and start the Pi again",
        ) from None
    except PermissionError:
        raise Refusal(
            _WHERE,
            f"this user may not open {_SPI_PATH}, so no probe can be read",
            "add the user to the group spi and log in again",
        ) from None
    except OSError as error:
        raise Refusal(_WHERE, f"{_SPI_PATH} does not open ({error.strerror}), so no probe can be read") from None
    return device


def header_chip(devices: Path) -> str | None:
    """The GPIO chip of the Pi's header, as a path; None where there is none. OSError, ImportError."""
    import gpiod

    for path in sorted(devices.glob("gpiochip*")):
        with gpiod.Chip(str(path)) as chip:
            if chip.get_info().label.startswith(_HEADER_LABELS):
                return str(path)
    return None


def _request_lines(pins: tuple[int, ...], devices: Path) -> LineRequest:
    """All lines in one request: every chip is deselected before the first transfer."""
    try:
        import gpiod
        from gpiod.line import Direction, Value
    except ImportError:
        raise Refusal(
            _WHERE,
            "the Python package gpiod is not installed, so no amplifier can be selected",
            "install it with: pip install gpiod",
        ) from None
    settings = gpiod.LineSettings(direction=Direction.OUTPUT, output_value=Value.ACTIVE)
    try:
        header = header_chip(devices)
        if header is not None:
            return gpiod.request_lines(header, config={pins: settings}, consumer="spyhole")
    except PermissionError:
        raise Refusal(
            _WHERE,
            f"this user may not open the GPIO lines in {devices}, so no amplifier can be selected",
            "add the user to the group gpio and log in again",
        ) from None
    except OSError as error:
        raise Refusal(
            _WHERE,
            f"GPIO {', '.join(map(str, pins))} cannot be had ({error.strerror}), so no amplifier can be selected",
            "another program may hold one of them: gpioinfo names it",
        ) from None
    raise Refusal(
        _WHERE,
        f"no GPIO chip in {devices} belongs to a Raspberry Pi's header, so no amplifier can be selected",
        'elsewhere than on a Pi choose driver = "emulated"',
    )
