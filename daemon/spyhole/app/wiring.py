"""What is wired in the room: the [room] table of the settings, and the room made of it. All off unless named."""

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from spyhole.core.cutout import MAY_STOP, USUAL
from spyhole.core.forms.toml_fields import Fields
from spyhole.core.ports import ClockPort, RoomPort
from spyhole.services.conditions import Conditions
from spyhole.services.cutout import CutOutSettings
from spyhole.services.room import Room
from spyhole.services.watchkeeper import Watchkeeper
from spyhole_hardware.emulated.gpio import EmulatedLines, Level
from spyhole_hardware.outputs import RoomLines, RoomPins, open_room_lines

KEYS = ("sounder", "lamp", "button", "cut_out", "heartbeat_hertz", "stops_on")
BUS_PINS = (9, 10, 11)
"""SPI0: the amplifiers'."""

EMULATED_PINS = RoomPins(sounder=17, lamp=27, button=22, cut_out=23)
"""In a rehearsal everything is wired."""


@dataclass(frozen=True, slots=True)
class RoomSettings:
    """pins: all None where the settings say nothing."""

    pins: RoomPins = field(default_factory=RoomPins)
    cut_out: CutOutSettings = field(default_factory=CutOutSettings)


@dataclass(frozen=True, slots=True)
class Wiring:
    """What `build` is given. open_lines: real ones, emulated ones, or a test's. press: moves an emulated button."""

    settings: RoomSettings
    open_lines: Callable[[], RoomPort]
    press: Callable[[bool], None] | None = None


def read_room(fields: Fields, taken: tuple[int, ...]) -> RoomSettings:
    """From the settings file; Refusal. taken: pins of the amplifiers' chip selects."""
    table = fields.table("room", KEYS)
    pins: dict[str, int] = {}
    for name in ("sounder", "lamp", "button", "cut_out"):
        if not table.has(name):
            continue
        pin = table.number(name, 2, 27, "")
        if pin != int(pin):
            raise table.refuse(name, f"{pin:g} is not whole", "it is a GPIO number of the header from 2 to 27")
        if pin in BUS_PINS or pin in taken or pin in pins.values():
            raise table.refuse(
                name, f"GPIO {pin:g} is in use", "each wire has a pin of its own, and 9 to 11 are the bus"
            )
        pins[name] = int(pin)
    return RoomSettings(
        RoomPins(**pins),
        CutOutSettings(table.number_or("heartbeat_hertz", 1.0, 0.5, 5.0, "hertz"), _stops_on(table)),
    )


def _stops_on(table: Fields) -> frozenset[str]:
    if not table.has("stops_on"):
        return USUAL
    allowed = f"a list of some of {', '.join(sorted(MAY_STOP))}"
    value = table.raw("stops_on", allowed)
    if not isinstance(value, list) or not value or not all(isinstance(tag, str) and tag in MAY_STOP for tag in value):
        raise table.refuse("stops_on", "these are not alarms that may stop it", allowed)
    return frozenset(value)


def wiring_of(settings: RoomSettings, *, emulated: bool) -> Wiring | None:
    """None where nothing is wired."""
    if settings.pins == RoomPins():
        return None
    if emulated:
        return emulated_wiring(settings)
    return Wiring(settings, lambda: open_room_lines(settings.pins))


def emulated_wiring(settings: RoomSettings | None = None, seen: Callable[[Level], None] = lambda level: None) -> Wiring:
    """Lines that nobody hears, for a rehearsal; all of them where the settings say nothing."""
    settings = settings or RoomSettings(EMULATED_PINS)
    lines = EmulatedLines(time.monotonic, seen)
    pin = settings.pins.button
    press = None if pin is None else lambda down: lines.move(pin, down)
    return Wiring(settings, lambda: RoomLines(lines, settings.pins), press)


def fit_out(
    wiring: Wiring | None, watchkeeper: Watchkeeper, conditions: Conditions, clock: ClockPort, tick_seconds: float
) -> Room | None:
    """The room, known to the watchkeeper and not started; None where nothing is wired."""
    if wiring is None:
        return None
    pins = wiring.settings.pins
    room = Room(
        wiring.open_lines,
        frozenset(pins.driven),
        watchkeeper,
        conditions,
        button=pins.button is not None,
        seconds=time.monotonic,
        now=clock.now,
        tick_seconds=tick_seconds,
        cut_out=wiring.settings.cut_out,
    )
    watchkeeper.room = room
    watchkeeper.panel.press = wiring.press
    return room
