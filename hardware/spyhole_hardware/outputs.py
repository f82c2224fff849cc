"""The lines in the room, by gpiod: sounder, lamp, cut-out heartbeat, and the button that acknowledges.

This file has not been run on a Pi; its tests put the emulated lines of `emulated.gpio` in the place of gpiod's.

A Pi keeps the level of a line after the process has died. So nothing outside may live on a level: the cut-out is a
heartbeat, and what stands still at either level means stopped.
"""

import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from spyhole.core.ports import Wire
from spyhole.core.refusal import Refusal
from spyhole_hardware.pi import header_chip

if TYPE_CHECKING:
    from gpiod import EdgeEvent
    from gpiod.line import Value

_WHERE = "[room]"
_SETTLE = timedelta(milliseconds=5)
"""What the kernel keeps back of a bouncing contact; the rest is `services.button`."""


@dataclass(frozen=True, slots=True)
class RoomPins:
    """GPIO numbers; None where nothing is wired. The button connects its line to ground."""

    sounder: int | None = None
    lamp: int | None = None
    cut_out: int | None = None
    button: int | None = None

    @property
    def driven(self) -> dict[Wire, int]:
        """The lines that are driven."""
        wired = ((Wire.SOUNDER, self.sounder), (Wire.LAMP, self.lamp), (Wire.CUT_OUT, self.cut_out))
        return {wire: pin for wire, pin in wired if pin is not None}


class LineRequest(Protocol):
    """The part of gpiod.LineRequest that is used."""

    def set_value(self, line: int, value: "Value") -> None: ...

    def get_value(self, line: int) -> "Value": ...

    def wait_edge_events(self, timeout: timedelta | float | None = None) -> bool: ...

    def read_edge_events(self) -> "Sequence[EdgeEvent]": ...

    def release(self) -> None: ...


class RoomLines:
    """A `RoomPort` on lines that were asked for: real ones, or emulated ones."""

    def __init__(self, request: LineRequest, pins: RoomPins) -> None:
        self._request = request
        self._driven = pins.driven
        self._button = pins.button
        self._never = threading.Event()

    def drive(self, wire: Wire, on: bool) -> None:
        """Put the line of this wire, if there is one, to this level."""
        from gpiod.line import Value

        line = self._driven.get(wire)
        if line is not None:
            self._request.set_value(line, Value.ACTIVE if on else Value.INACTIVE)

    def wait(self, seconds: float) -> bool:
        """Wait until the button moves, or so long."""
        if self._button is None:
            self._never.wait(seconds)
            return False
        if not self._request.wait_edge_events(seconds):
            return False
        self._request.read_edge_events()
        return True

    def pressed(self) -> bool:
        """Whether the button is down now."""
        from gpiod.line import Value

        return self._button is not None and self._request.get_value(self._button) is Value.ACTIVE

    def close(self) -> None:
        """Everything off, and let go."""
        for wire in self._driven:
            try:
                self.drive(wire, False)
            except OSError:
                continue
        self._request.release()


def open_room_lines(pins: RoomPins, *, devices: Path = Path("/dev")) -> RoomLines:
    """All lines in one request, every output low; Refusal when they cannot be had."""
    try:
        import gpiod
        from gpiod.line import Bias, Direction, Edge, Value
    except ImportError:
        raise Refusal(
            _WHERE, "the Python package gpiod is not installed", "install it with: pip install gpiod"
        ) from None
    config: dict[Iterable[int | str] | int | str, gpiod.LineSettings | None] = {}
    if pins.driven:
        config[tuple(pins.driven.values())] = gpiod.LineSettings(
            direction=Direction.OUTPUT, output_value=Value.INACTIVE
        )
    if pins.button is not None:
        config[(pins.button,)] = gpiod.LineSettings(
            direction=Direction.INPUT,
            bias=Bias.PULL_UP,
            active_low=True,
            edge_detection=Edge.BOTH,
            debounce_period=_SETTLE,
        )
    numbers = ", ".join(str(pin) for pin in (*pins.driven.values(), pins.button) if pin is not None)
    try:
        header = header_chip(devices)
        if header is not None:
            return RoomLines(gpiod.request_lines(header, config=config, consumer="spyhole room"), pins)
    except PermissionError:
        raise Refusal(
            _WHERE, f"this user may not open the GPIO lines in {devices}", "add the user to the group gpio"
        ) from None
    except OSError as error:
        raise Refusal(
            _WHERE,
            f"GPIO {numbers} cannot be had ({error.strerror})",
            "another program may hold one of them: gpioinfo names it",
        ) from None
    raise Refusal(_WHERE, f"no GPIO chip in {devices} belongs to a Raspberry Pi's header", "leave [room] out elsewhere")
