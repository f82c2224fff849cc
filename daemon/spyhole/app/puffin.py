"""Puffin behind the daemon: the emulated kiln as clock, probes and panel, with its keeper's notes taken into the watch.

The keeper writes while the clock is being waited on, before there is a watch to write to; so his notes go through a
`Notes` that is given its reader once there is one.
"""

import logging
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

from spyhole.app.build import World
from spyhole.app.settings import Settings
from spyhole.app.wiring import Wiring, wiring_of
from spyhole.core.forms.kiln_toml import kiln_from_toml, kiln_to_toml
from spyhole.core.forms.plan_toml import plan_from_toml, plan_to_toml
from spyhole.core.kiln import Kiln
from spyhole.core.ports import MessengerPort
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.studio import Studio
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.puffin import BUILD, KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal
from spyhole_hardware.emulated.script import Script
from spyhole_hardware.probes import CurrentWires, open_sensors

log = logging.getLogger(__name__)

STATE = "puffin/state.json"
"""Where the emulated kiln keeps itself, in the data folder."""

KEEPER = "the keeper"
MAINS_HERTZ = 50
AVERAGING = 4


@dataclass(slots=True)
class Notes:
    """Where the keeper writes. read: set once the watch is there."""

    read: Callable[[str, str, str, str], object] | None = field(default=None)

    def write(self, kind: str, subject: str, value: str) -> None:
        """One note; one that the watch does not take is logged and does not stop the kiln."""
        if self.read is None:
            return
        try:
            self.read(kind, subject, value, KEEPER)
        except Exception:
            log.exception("the keeper's note %s %s %s was not taken", kind, subject, value)


def rehearsal_of(
    script: Script,
    notes: Notes,
    *,
    start_utc_ms: int,
    state_file: Path | None = None,
    trouble: str = "none",
    kiln: Kiln = KILN,
) -> Rehearsal:
    """Puffin with this firing, headless; taken up where the state file stands, if it is there."""
    return Rehearsal(
        kiln, BUILD, script, start_utc_ms=start_utc_ms, state_file=state_file, trouble=trouble, log=notes.write
    )


def emulated_world(settings: Settings, messengers: tuple[tuple[str, MessengerPort], ...]) -> World:
    """For `driver = "emulated"` in a settings file: bricks like Puffin's under the kiln described, at its own pace.

    Its keeper fires it by the plan and writes nothing down: that is left to whoever tries the page.
    Refusal for a kiln of another number of rings.
    """
    if len(settings.kiln.rings) != len(KILN.rings):
        problem = (
            f"the emulated kiln has {len(KILN.rings)} rings, and {settings.kiln.name} has {len(settings.kiln.rings)}"
        )
        raise Refusal("driver", problem, 'describe it with as many, or use driver = "max31856"')
    state_file = settings.data / STATE
    state_file.parent.mkdir(parents=True, exist_ok=True)
    script = replace(TONIGHT, plan=settings.plan)
    start_utc_ms = round(time.time() * 1000)
    rehearsal = rehearsal_of(script, Notes(), start_utc_ms=start_utc_ms, state_file=state_file, kiln=settings.kiln)
    rehearsal.keep_pace(time.monotonic, 1.0)
    wiring = wiring_of(settings.room, emulated=True)
    world = world_around(rehearsal, messengers, settings.kiln, wiring, settings.currents)
    return replace(world, by_themselves=frozenset())


def world_around(
    rehearsal: Rehearsal,
    messengers: tuple[tuple[str, MessengerPort], ...] = (),
    kiln: Kiln = KILN,
    wiring: Wiring | None = None,
    currents: CurrentWires | None = None,
) -> World:
    """What the daemon finds outside itself in a rehearsal: the same driver, on emulated chips."""
    channels = [Channel(ring.name, 5 + number, ring.probe.type) for number, ring in enumerate(kiln.rings) if ring.probe]
    probes, ammeter = open_sensors(
        "emulated",
        channels,
        currents,
        mains_hertz=MAINS_HERTZ,
        averaging=AVERAGING,
        junctions=rehearsal.junctions,
        amperes=rehearsal.amperes,
    )
    return World(
        rehearsal, rehearsal.stop, probes, messengers, rehearsal, wiring, frozenset({KEEPER}), currents=ammeter
    )


def studio_of(script: Script, manner: Manner, tick_seconds: float) -> Studio:
    """The Tern Street Clay Room, about to fire this."""
    # Taken through the files' form, so that the journal and the kiln book tell of the very same numbers.
    kiln_toml = kiln_to_toml(KILN)
    kiln = kiln_from_toml(kiln_toml, "puffin.toml")
    plan_toml = plan_to_toml(script.plan, kiln)
    return Studio(
        kiln=kiln,
        plan=plan_from_toml(plan_toml, "plan.toml", kiln),
        kiln_toml=kiln_toml,
        plan_toml=plan_toml,
        manner=manner,
        tick_seconds=tick_seconds,
        emulated=True,
    )


def zone_here() -> tzinfo:
    """The zone of this machine by name, or UTC."""
    try:
        return ZoneInfo(str(Path("/etc/localtime").resolve()).split("zoneinfo/")[1])
    except (IndexError, OSError, ValueError, KeyError):
        return UTC
