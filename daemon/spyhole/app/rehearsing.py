"""`spyhole rehearse`: the whole product on Puffin. Seeds its record at first, then goes on live where that stands."""

import json
import logging
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from spyhole.app.build import build
from spyhole.app.keyring import FILE as KEYS
from spyhole.app.notify import Notifier
from spyhole.app.outward import messengers_of
from spyhole.app.puffin import STATE, Notes, rehearsal_of, studio_of, world_around, zone_here
from spyhole.app.seeding import LIT_AT, Seeding, seed
from spyhole.app.watching import run
from spyhole.app.wiring import emulated_wiring
from spyhole.core.access import way_in
from spyhole.core.moment import utc_ms_from_text
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.store.database import DATABASE
from spyhole.store.writer import Pace
from spyhole_hardware.emulated.puffin import EARLIER, TONIGHT
from spyhole_hardware.emulated.troubles import NONE, TROUBLES

log = logging.getLogger(__name__)

MARKER = "rehearsal.json"
OURS = (DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", STATE, MARKER)

SPEED = 60.0
SAMPLE_SECONDS = 5.0
LOST_AT_MOST_SECONDS = 60.0
"""Kiln time that a kill may cost: in fast time the record is written more often than its usual pace."""


@dataclass(frozen=True, slots=True)
class Wish:
    """The command line. lit: when tonight's firing is lit, "" for yesterday evening. earlier: firings in the book."""

    data: Path
    speed: float = SPEED
    trouble: str = NONE
    port: int = 8420
    sample_seconds: float = SAMPLE_SECONDS
    fresh: bool = False
    earlier: int = len(EARLIER)
    lit: str = ""
    tell: str = ""


def rehearse(wish: Wish) -> int:
    """Run until SIGTERM or SIGINT; returns the exit code. Refusal for what cannot be done."""
    messengers = messengers_of(wish.tell, "--tell")
    manner = Manner(zone_here())
    _prepare(wish, manner)
    notes = Notes()
    rehearsal = rehearsal_of(TONIGHT, notes, start_utc_ms=0, state_file=wish.data / STATE, trouble=wish.trouble)
    notifier = Notifier()
    daemon = build(
        studio_of(TONIGHT, manner, wish.sample_seconds),
        world_around(rehearsal, messengers, wiring=emulated_wiring()),
        wish.data,
        port=wish.port,
        notifier=notifier,
        pace=Pace(rows=max(1, round(LOST_AT_MOST_SECONDS / wish.sample_seconds))),
    )
    notes.read = daemon.watchkeeper.enter
    rehearsal.keep_pace(time.monotonic, wish.speed)
    code = daemon.access.first_code()
    address = daemon.address if code is None else way_in(daemon.address, code)
    return run(
        daemon, notifier, f"Puffin is rehearsed; the page is {daemon.address}",
        lambda: _greet(daemon.address, address, wish),
    )  # fmt: skip


def _prepare(wish: Wish, manner: Manner) -> None:
    """See that the folder holds a rehearsal that goes on; seed one where it does not."""
    marker, state = wish.data / MARKER, wish.data / STATE
    if (wish.data / DATABASE).exists() and not marker.exists():
        raise Refusal(str(wish.data), "this folder holds a record that is no rehearsal's", "give --data another folder")
    if not wish.fresh and _seeded(marker) and not _over(state):
        print(f"going on with the rehearsal in {wish.data} (--fresh begins anew)", flush=True)
        return
    # Who has come in stays in when a rehearsal is over and begins again by itself; anew is anew.
    for name in (*OURS, KEYS) if wish.fresh else OURS:
        (wish.data / name).unlink(missing_ok=True)
    state.parent.mkdir(parents=True, exist_ok=True)
    marker.write_text(json.dumps({"seeded": False}))
    began = time.monotonic()
    seed(wish.data, Seeding(_lit(wish, manner), wish.earlier, wish.trouble, manner, state), _progress())
    marker.write_text(json.dumps({"seeded": True}))
    print(f"\rPuffin's kiln book is written ({time.monotonic() - began:.0f} s)".ljust(78), flush=True)


def _seeded(marker: Path) -> bool:
    try:
        return bool(json.loads(marker.read_text())["seeded"])
    except (OSError, ValueError, KeyError, TypeError):
        return False


def _over(state: Path) -> bool:
    """Whether the keeper has unloaded: there is nothing more to see then."""
    try:
        return bool(json.loads(state.read_text())["keeper"]["unloaded"])
    except (OSError, ValueError, KeyError, TypeError):
        return True


def _lit(wish: Wish, manner: Manner) -> datetime:
    if wish.lit:
        try:
            return datetime.fromtimestamp(utc_ms_from_text(wish.lit) / 1000, UTC)
        except ValueError:
            raise Refusal("--lit", f"{wish.lit!r} is no time", "for example 2031-10-30T19:40:00Z") from None
    hour, minute = LIT_AT
    yesterday = datetime.now(manner.zone) - timedelta(days=1)
    return yesterday.replace(hour=hour, minute=minute, second=0, microsecond=0)


def _progress() -> Callable[[str, float], None]:
    print("Puffin fires its earlier firings in fast time, for the kiln book:", flush=True)
    if sys.stdout.isatty():
        return lambda words, hours: print(f"\r  {words}: {hours:.0f} h".ljust(78), end="", flush=True)
    said: set[str] = set()

    def say_once(words: str, _: float) -> None:
        if words not in said:
            said.add(words)
            print(f"  {words}", flush=True)

    return say_once


def _greet(address: str, own: str, wish: Wish) -> None:
    others = ", ".join(trouble.name for trouble in TROUBLES if trouble.name != NONE)
    print(
        f"""
The Tern Street Clay Room, and Puffin at work: {address}
  The night is on the curve; the keeper is about to turn all rings up, and at speed {wish.speed:g} the cone goes
  down within a few minutes. Turn switches and throw troubles in on the panel of the page, or begin with one:
    spyhole rehearse --trouble shutoff-jams      ({others})
  To look at it as in a studio, with keepers and guests, come in by your own key: {own}
  Ctrl-C stops it; the same command goes on where it stood, and --fresh begins anew.
""",
        flush=True,
    )
