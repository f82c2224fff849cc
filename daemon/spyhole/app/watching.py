"""`spyhole watch`: the daemon on the kiln of a settings file, until it is told to stop."""

import logging
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

from spyhole.app.access import invitation
from spyhole.app.build import Daemon, World, build
from spyhole.app.clock import MachineClock
from spyhole.app.lifecycle import signals
from spyhole.app.memory import give_back
from spyhole.app.notify import Notifier
from spyhole.app.others import others_of
from spyhole.app.outward import Messengers, messengers_of
from spyhole.app.recording import upgrade_beside
from spyhole.app.settings import Driver, Settings, read_settings, text_of
from spyhole.app.unkept import place_of
from spyhole.app.wiring import wiring_of
from spyhole.core.forms.readings_csv import readings
from spyhole.core.words import Manner
from spyhole.services.sampler import Sampler
from spyhole.services.studio import Studio
from spyhole_hardware.bus import Channel
from spyhole_hardware.probes import open_sensors
from spyhole_hardware.recorded import RecordedProbes

log = logging.getLogger(__name__)


def watch(config: Path, port: int | None) -> int:
    """Run until SIGTERM or SIGINT; returns the exit code. Refusal for settings that are not allowed."""
    settings = read_settings(config)
    place, unkept = place_of(settings.data)
    if unkept is None:
        upgrade_beside(config, settings)
    settings = replace(settings, data=place)
    notifier = Notifier()
    world = world_of(settings, messengers_of(settings.tell, f"{config}, tell"))
    daemon = build(
        studio_of(settings),
        world,
        settings.data,
        port=settings.port if port is None else port,
        listen=settings.listen,
        notifier=notifier,
        database=settings.database,
        unkept=unkept,
        keep_readings_days=settings.keep_readings_days,
        keep_backups=settings.keep_backups,
        reach=settings.reach,
        tariff=settings.cost,
        others=lambda: others_of(config),
        progress=lambda rows: log.info("the record is read again: %d rows", rows),
        begin=Sampler.start,
    )
    words = f"{settings.kiln.name} is watched; the page is {daemon.page_address}"
    return run(daemon, notifier, words, lambda: say_first_code(daemon))


def run(daemon: Daemon, notifier: Notifier, words: str, ready: Callable[[], None] = lambda: None) -> int:
    """Begin sampling, say so, and look after the daemon to its end."""
    with signals(daemon.lifecycle.end):
        daemon.sampler.start()
        give_back()
        notifier.ready(words)
        log.info(words)
        ready()
        return daemon.lifecycle.run()


def say_first_code(daemon: Daemon) -> None:
    """To whoever stands before this machine's screen, until there is a keeper. Not into a log: it lets somebody in."""
    if daemon.access.is_set_up:
        return
    if not sys.stdout.isatty():
        print("Nobody is a keeper yet: spyhole access code", flush=True)
    elif (code := daemon.access.first_code()) is not None:
        print(invitation(daemon.page_address, code, "Nobody is a keeper yet. To become one:"), flush=True)


def studio_of(settings: Settings) -> Studio:
    """What the watchkeeper is told of its place."""
    return Studio(
        kiln=settings.kiln,
        plan=settings.plan,
        kiln_toml=settings.kiln_toml,
        plan_toml=settings.plan_toml,
        manner=Manner(ZoneInfo(settings.zone), settings.unit),
        tick_seconds=settings.sample_ms / 1000,
        emulated=not settings.driver.wired,
    )


def world_of(settings: Settings, messengers: Messengers = ()) -> World:
    """The machine's clock and the amplifiers; or Puffin, or a log that is played, in their place."""
    if settings.driver is Driver.EMULATED:
        from spyhole.app.puffin import emulated_world

        return emulated_world(settings, messengers)
    clock = MachineClock()
    if settings.readings is not None:
        return World(clock, clock.stop, _played(settings, settings.readings, clock), messengers)
    probes, currents = open_sensors(
        settings.driver,
        channels_of(settings),
        settings.currents,
        mains_hertz=settings.mains_hertz,
        averaging=settings.averaging,
    )
    wiring = wiring_of(settings.room, emulated=False)
    return World(
        clock, clock.stop, probes, messengers, wiring=wiring, bus_held=lambda: probes.bus_held, currents=currents
    )


def _played(settings: Settings, log_file: Path, clock: MachineClock) -> RecordedProbes:
    """The probes of a log. Refusal, naming file and line, for one that cannot be read to its end."""
    text = text_of(log_file, "readings")
    for _ in readings(text.splitlines(keepends=True), str(log_file), settings.kiln):
        pass  # what is wrong in its last line is said now, not in the night
    rows = readings(text.splitlines(keepends=True), str(log_file), settings.kiln)
    return RecordedProbes(rows, len(settings.kiln.probe_rings), lambda: clock.now().monotonic_ms)


def channels_of(settings: Settings) -> list[Channel]:
    """The amplifiers as wired, in the order of the readings."""
    types = {ring.name: ring.probe.type for ring in settings.kiln.rings if ring.probe is not None}
    return [Channel(wire.ring, wire.chip_select, types[wire.ring]) for wire in settings.wires]
