"""`spyhole check`: goes through what a watch will need, one line each, and leaves with 1 if anything is wrong."""

import shutil
from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from spyhole.app.clock import MachineClock
from spyhole.app.settings import Settings, read_settings
from spyhole.app.walking import Bench, Sheet, walk
from spyhole.app.watching import world_of
from spyhole.app.ways import Way, ways_of_people, ways_of_settings
from spyhole.app.wiring import wiring_of
from spyhole.channels.apprise_channel import find_service
from spyhole.core.ports import Answer, Wire
from spyhole.core.reading import ProbeReading
from spyhole.core.refusal import Refusal
from spyhole.store.database import DATABASE
from spyhole.store.location import location_of

TRIAL_SECONDS = 0.3
ROOM_BYTES = 500 * 1024 * 1024


def check(config: Path, *, message: bool) -> int:
    """Print how each part stands. Refusal when the settings themselves cannot be read."""
    settings = read_settings(config)
    print(f"ok       settings: {settings.kiln.name}, {settings.plan.name}")

    def say(name: str, right: bool, words: str) -> None:
        print(f"{'ok' if right else 'wrong':<9}{name}: {words}")

    return 1 if _parts(settings, say, message=message) else 0


def walk_through(config: Path, *, message: bool, altitude_metres: float | None, sheet_file: Path | None) -> int:
    """Everything, probe by probe with whoever stands there; a sheet to sign. 1 when anything on it is wrong."""
    settings = read_settings(config)
    sheet = Sheet(
        settings.kiln.name, datetime.fromtimestamp(MachineClock().now().utc_ms / 1000, ZoneInfo(settings.zone))
    )
    _parts(settings, sheet.note, message=message)
    world = world_of(settings)
    rings = tuple(settings.kiln.rings[ring].name for ring in settings.kiln.probe_rings)
    try:
        walk(Bench(world.probes, world.clock, rings, input, altitude_metres), sheet)
    finally:
        world.stop_clock()
        world.probes.close()
    _by_eye_and_ear(settings, sheet, message=message)
    print(f"\n{sheet.text()}", end="")
    if sheet_file is not None:
        sheet_file.write_text(sheet.text())
    return 1 if sheet.wrong else 0


def _by_eye_and_ear(settings: Settings, sheet: Sheet, *, message: bool) -> None:
    """What only a person can say."""
    wiring = wiring_of(settings.room, emulated=not settings.driver.wired)
    asked = (
        [] if wiring is None else [("sounder, lamp", "Did you hear the sounder and see the lamp, each that is wired?")]
    )
    for part, question in [
        *asked,
        *_arrivals(sheet, message=message),
    ]:
        yes = input(f"{question} yes or no > ").strip().lower() == "yes"
        sheet.note(part, yes, "somebody said so" if yes else "it did not")
    if wiring is None or wiring.settings.pins.button is None:
        return
    lines = wiring.open_lines()
    try:
        input("Hold the button down, and Enter > ")
        held = lines.pressed()
    finally:
        lines.close()
    sheet.note("button", held, "it was felt" if held else "it was not felt: look at its wire to ground")


def _arrivals(sheet: Sheet, *, message: bool) -> list[tuple[str, str]]:
    """A question for each message that a service took: accepted is not arrived."""
    if not message:
        return []
    taken = [part for state, part, words in sheet.lines if part.startswith("message") and words.startswith("accepted")]
    whom = {part: f" to {part.removeprefix('message to ')}" if part != "message" else "" for part in taken}
    return [(f"{part}, arrived", f"Has the trial message{whom[part]} arrived?") for part in taken]


def _parts(settings: Settings, say: Callable[[str, bool, str], object], *, message: bool) -> int:
    """What needs nobody's hand; returns how much is wrong."""
    parts: list[tuple[str, Callable[[Settings], str]]] = [
        ("record", _record), ("disk", _disk), ("clock", _clock), ("probes", _probes), ("current", _current),
        ("room", _room), ("tell", _tell),
    ]  # fmt: skip
    if message:
        parts += [(part, partial(_message, way)) for part, way in _messages(settings)]
    wrong = 0
    for name, part in parts:
        try:
            say(name, True, part(settings))
        except Refusal as refusal:
            wrong += 1
            say(name, False, str(refusal))
    return wrong


def _messages(settings: Settings) -> list[tuple[str, Way | Refusal]]:
    """A line each for the address of the settings and for every channel of every person. A Refusal is a line too."""
    try:
        found: list[tuple[str, Way | Refusal]] = [("message", way) for way in ways_of_settings(settings)]
    except Refusal as refusal:
        found = [("message", refusal)]
    try:
        found += [(f"message to {way.name}", way) for way in ways_of_people(settings)]
    except Refusal as refusal:
        found.append(("message to people", refusal))
    nobody = Refusal(
        "tell", "there is no address to send a message to", "set tell in the settings, or give people channels"
    )
    return found or [("message", nobody)]


def _disk(settings: Settings) -> str:
    folder = next(each for each in (settings.data, *settings.data.parents) if each.exists())
    free = shutil.disk_usage(folder).free
    if free < ROOM_BYTES:
        raise Refusal(str(folder), f"only {free // 1024**2} MiB are free", f"have {ROOM_BYTES // 1024**2} MiB or more")
    return f"{free / 1024**3:.1f} GiB are free"


def _clock(settings: Settings) -> str:
    now = MachineClock().now()
    here = datetime.fromtimestamp(now.utc_ms / 1000, ZoneInfo(settings.zone))
    sure = "kept by the network" if now.synchronised else "not set by the network yet: look whether this is the time"
    return f"{here:%Y-%m-%d %H:%M} in {settings.zone}, {sure}"


def _record(settings: Settings) -> str:
    if not settings.database and not (settings.data / DATABASE).exists():
        return f"{settings.data} holds none yet; the watch makes it"
    with location_of(settings.data, settings.database).read() as records:
        found = records.integrity_check()
    if found:
        raise Refusal(str(settings.data / DATABASE), f"the database is damaged ({found[0]})", "put back a copy of it")
    return "the database on the server can be read" if settings.database else f"{settings.data / DATABASE} is sound"


def _probes(settings: Settings) -> str:
    world = world_of(settings)
    try:
        world.clock.wait_until(world.clock.now().monotonic_ms + 1000)
        reading = world.probes.read()
    finally:
        world.stop_clock()
        world.probes.close()
    names = [settings.kiln.rings[ring].name for ring in settings.kiln.probe_rings]
    faults = [f"{name} {probe.fault}" for name, probe in zip(names, reading.probes, strict=True) if probe.fault]
    if faults:
        raise Refusal("probes", ", ".join(faults), "look at the wiring, with the kiln isolated")
    return ", ".join(f"{name} {_said(probe)}" for name, probe in zip(names, reading.probes, strict=True))


def _current(settings: Settings) -> str:
    """What each ring draws. That it is nothing while the kiln is off is for whoever stands there to see."""
    if settings.currents is None:
        return "no transformer is named"
    world = world_of(settings)
    try:
        assert world.currents is not None
        drawn = world.currents.read()
    finally:
        world.stop_clock()
        world.probes.close()
    names = {clamp.ring: settings.kiln.rings[clamp.ring].name for clamp in settings.currents.clamps}
    blind = [name for ring, name in names.items() if drawn.amperes[ring] is None]
    if blind:
        allowed = "look at its plug, its bias and the converter; the clamp itself is the electrician's"
        raise Refusal("current", f"{', '.join(blind)} cannot be measured", allowed)
    said = ", ".join(f"{name} {drawn.amperes[ring]:.1f} A" for ring, name in sorted(names.items()))
    return f"{said}; with every switch off each is 0"


def _said(probe: ProbeReading) -> str:
    """The number, and how warm the amplifier's own chip is."""
    chip = "" if probe.cold_junction_celsius is None else f" (amplifier {probe.cold_junction_celsius:.1f})"
    return f"{probe.celsius:.1f} degC{chip}"


def _room(settings: Settings) -> str:
    """Sounder and lamp are tried; the cut-out is not, because a relay listens to it."""
    wiring = wiring_of(settings.room, emulated=not settings.driver.wired)
    if wiring is None:
        return "nothing is wired there"
    lines = wiring.open_lines()
    try:
        for on in (True, False):
            for wire in (Wire.SOUNDER, Wire.LAMP):
                lines.drive(wire, on)
            lines.wait(TRIAL_SECONDS if on else 0.0)
        held = lines.pressed()
    except OSError as error:
        raise Refusal("[room]", f"a wire does not take its level ({error.strerror})", "look at the wiring") from None
    finally:
        lines.close()
    if held:
        raise Refusal("[room], button", "it reads as held down", "look at the button and at its wire to ground")
    return f"{', '.join(wiring.settings.pins.driven)} can be had; did you hear and see them?"


def _tell(settings: Settings) -> str:
    if not settings.tell:
        return "no address; alarms go to this machine's log only"
    find_service(settings.tell, "tell")
    return "the address can be read"


def _message(way: Way | Refusal, settings: Settings) -> str:
    if isinstance(way, Refusal):
        raise way
    if way.messenger is None:
        return "goes by the studio's broker, which the watch alone speaks to: try it under Studio while that runs"
    text = "This is a trial. If it reached you, alarms of this kiln will take the same way."
    if way.messenger.send(f"{settings.kiln.name}: a trial message", text, urgent=False) is not Answer.ACCEPTED:
        raise Refusal(way.name, "the message was not accepted", "check the network and the address")
    return "accepted; look whether it really arrived"
