"""`spyhole check`: goes through what a watch will need, one line each, and leaves with 1 if anything is wrong."""

from collections.abc import Callable
from pathlib import Path

from spyhole.app.settings import Driver, Settings, read_settings
from spyhole.app.watching import world_of
from spyhole.app.wiring import wiring_of
from spyhole.channels.apprise_channel import AppriseChannel, find_service
from spyhole.core.ports import Answer, Wire
from spyhole.core.refusal import Refusal
from spyhole.store.database import DATABASE
from spyhole.store.location import location_of

TRIAL_SECONDS = 0.3


def check(config: Path, *, message: bool) -> int:
    """Print how each part stands. Refusal when the settings themselves cannot be read."""
    settings = read_settings(config)
    print(f"ok       settings: {settings.kiln.name}, {settings.plan.name}")
    parts: list[tuple[str, Callable[[Settings], str]]] = [
        ("record", _record), ("probes", _probes), ("room", _room), ("tell", _tell),
    ]  # fmt: skip
    if message:
        parts.append(("message", _message))
    wrong = 0
    for name, part in parts:
        try:
            print(f"ok       {name}: {part(settings)}")
        except Refusal as refusal:
            wrong += 1
            print(f"wrong    {name}: {refusal}")
    return 1 if wrong else 0


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
    return ", ".join(f"{name} {probe.celsius:.1f} degC" for name, probe in zip(names, reading.probes, strict=True))


def _room(settings: Settings) -> str:
    """Sounder and lamp are tried; the cut-out is not, because a relay listens to it."""
    wiring = wiring_of(settings.room, emulated=settings.driver is Driver.EMULATED)
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


def _message(settings: Settings) -> str:
    if not settings.tell:
        raise Refusal("tell", "there is no address to send a message to", "set tell in the settings")
    text = "This is a trial. If it reached you, alarms of this kiln will take the same way."
    channel = AppriseChannel(settings.tell, find_service(settings.tell, "tell"))
    if channel.send(f"{settings.kiln.name}: a trial message", text, urgent=False) is not Answer.ACCEPTED:
        raise Refusal("tell", "the message was not accepted", "check the network and the address")
    return "accepted; look whether it really arrived"
