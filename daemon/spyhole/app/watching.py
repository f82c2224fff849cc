"""`spyhole watch`: the daemon on the kiln of a settings file, until it is told to stop."""

import logging
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

from spyhole.app.build import Daemon, World, build
from spyhole.app.clock import MachineClock
from spyhole.app.lifecycle import signals
from spyhole.app.notify import Notifier
from spyhole.app.settings import Driver, Settings, read_settings
from spyhole.channels.apprise_channel import AppriseChannel
from spyhole.core.ports import MessengerPort
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.watchkeeper import Studio
from spyhole_hardware.bus import Channel
from spyhole_hardware.probes import open_probes

log = logging.getLogger(__name__)

RECIPIENT = "studio"
"""The one recipient there is until people have channels of their own."""


def watch(config: Path, port: int | None) -> int:
    """Run until SIGTERM or SIGINT; returns the exit code. Refusal for settings that are not allowed."""
    settings = read_settings(config)
    check_address(settings.tell, f"{config}, tell")
    notifier = Notifier()
    world = world_of(settings)
    daemon = build(
        studio_of(settings),
        world,
        settings.data,
        port=settings.port if port is None else port,
        notifier=notifier,
        progress=lambda rows: log.info("the record is read again: %d rows", rows),
    )
    return run(daemon, notifier, f"{settings.kiln.name} is watched; the page is {daemon.address}")


def run(daemon: Daemon, notifier: Notifier, words: str, ready: Callable[[], None] = lambda: None) -> int:
    """Begin sampling, say so, and look after the daemon to its end."""
    with signals(daemon.lifecycle.end):
        daemon.sampler.start()
        notifier.ready(words)
        log.info(words)
        ready()
        return daemon.lifecycle.run()


def studio_of(settings: Settings) -> Studio:
    """What the watchkeeper is told of its place."""
    return Studio(
        kiln=settings.kiln,
        plan=settings.plan,
        kiln_toml=settings.kiln_toml,
        plan_toml=settings.plan_toml,
        manner=Manner(ZoneInfo(settings.zone), settings.unit),
        tick_seconds=settings.sample_ms / 1000,
        emulated=settings.driver is Driver.EMULATED,
    )


def world_of(settings: Settings) -> World:
    """The machine's clock, the amplifiers and the one recipient; or Puffin in their place."""
    messengers: tuple[tuple[str, MessengerPort], ...] = ()
    if settings.tell:
        messengers = ((RECIPIENT, AppriseChannel(settings.tell)),)
    if settings.driver is Driver.EMULATED:
        from spyhole.app.rehearsing import emulated_world

        return emulated_world(settings, messengers)
    clock = MachineClock()
    probes = open_probes(
        settings.driver, channels_of(settings), mains_hertz=settings.mains_hertz, averaging=settings.averaging
    )
    return World(clock, clock.stop, probes, messengers)


def channels_of(settings: Settings) -> list[Channel]:
    """The amplifiers as wired, in the order of the readings."""
    types = {ring.name: ring.probe.type for ring in settings.kiln.rings if ring.probe is not None}
    return [Channel(wire.ring, wire.chip_select, types[wire.ring]) for wire in settings.wires]


def check_address(address: str, where: str) -> None:
    """Refusal when apprise can make nothing of it; asked in a process of its own, which gives the memory back."""
    if not address:
        return
    command = [sys.executable, "-m", "spyhole.channels.apprise_channel"]
    done = subprocess.run(command, input=address, text=True, capture_output=True, timeout=60, check=False)  # noqa: S603
    if done.returncode != 0:
        raise Refusal(where, "a message cannot be sent to what stands there", "it is one apprise URL")
