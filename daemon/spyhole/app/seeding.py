"""Fills the record of a rehearsal before anybody looks: earlier firings for the kiln book, and tonight's as far as
the turn that a visitor should see.

Nothing is made up: the emulated kiln fires headless, its registers are read by the real driver, and the same watch
folds every row. Only the sampling is coarser, and nobody is told of anything.
"""

import logging
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from spyhole.app.codec import codec
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.core.words import Manner
from spyhole.services.archive import Archive
from spyhole.services.conditions import Conditions
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import open_archive
from spyhole_hardware.emulated import troubles
from spyhole_hardware.emulated.puffin import EARLIER, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal
from spyhole_hardware.emulated.script import Script

EARLIER_TICK_MS = 30_000
TONIGHT_TICK_MS = 10_000
MEMORY = Path("/dev/shm")  # noqa: S108  (a name is made in it that nobody can guess)
LIT_AT = (19, 40)
"""Local time at which a plan that candles overnight is lit."""

BEFORE_TURN_MS = 150_000
AFTER_UNLOADING_MS = 2 * 3_600_000
FLUSH_TICKS = 1000
LONGEST_HOURS = 72.0

OPENS_AT_STAGE = {troubles.NIGHT_SWITCH_HIGH: -1, troubles.SWITCH_LEFT_LOW: 1}
"""Troubles that come before the last turn: the stage whose end a visitor sees first, -1 for the lighting itself."""


@dataclass(frozen=True, slots=True)
class Seeding:
    """What a rehearsal opens with. lit: the day and time tonight's firing begins, in the studio's zone."""

    lit: datetime
    earlier: int
    trouble: str
    manner: Manner
    state_file: Path


def seed(data: Path, seeding: Seeding, progress: Callable[[str, float], None]) -> None:
    """Fill the record in this folder. progress: what is being fired, and how many hours of it are done."""
    # What is said of firings long past would be taken for news.
    logging.getLogger("spyhole.services.logbook").setLevel(logging.ERROR)
    record = open_archive(data, seconds=time.monotonic, tell=lambda code, words: None)
    try:
        for days, script in EARLIER[len(EARLIER) - seeding.earlier :]:
            lit = seeding.lit - timedelta(days=days)
            notes = Notes()
            rehearsal = rehearsal_of(script, notes, start_utc_ms=round(lit.timestamp() * 1000))
            words = f"{script.plan.name}, {days} days ago"
            _fire(record, script, rehearsal, notes, seeding.manner, EARLIER_TICK_MS, _Emptied(), progress, words)
        # The kiln saves its state at every tick; until somebody looks, in memory is soon enough.
        with TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as aside:
            _fire_tonight(record, seeding, Path(aside) / seeding.state_file.name, progress)
            shutil.copy(Path(aside) / seeding.state_file.name, seeding.state_file)
    finally:
        record.close(30.0)
        logging.getLogger("spyhole.services.logbook").setLevel(logging.NOTSET)


def _fire_tonight(record: Archive, seeding: Seeding, state_file: Path, progress: Callable[[str, float], None]) -> None:
    notes = Notes()
    start_utc_ms = round(seeding.lit.timestamp() * 1000)
    tonight = rehearsal_of(TONIGHT, notes, start_utc_ms=start_utc_ms, state_file=state_file, trouble=seeding.trouble)
    stage = OPENS_AT_STAGE.get(seeding.trouble, len(TONIGHT.plan.stages) - 2)
    words = f"{TONIGHT.plan.name}, tonight"
    _fire(record, TONIGHT, tonight, notes, seeding.manner, TONIGHT_TICK_MS, _before(stage), progress, words)


def _fire(
    record: Archive,
    script: Script,
    rehearsal: Rehearsal,
    notes: Notes,
    manner: Manner,
    tick_ms: int,
    enough: Callable[[Rehearsal], bool],
    progress: Callable[[str, float], None],
    words: str,
) -> None:
    """One firing, headless, until it is enough."""
    world = world_around(rehearsal)
    conditions = Conditions(lambda: rehearsal.now().utc_ms)
    studio = studio_of(script, manner, tick_ms / 1000)
    watchkeeper = Watchkeeper(studio, rehearsal, record, Telling(()), conditions, codec(), checkpoints=False)
    watchkeeper.recover()
    notes.read = watchkeeper.enter
    due_ms, tick = rehearsal.now().monotonic_ms, 0
    while not enough(rehearsal) and due_ms < LONGEST_HOURS * 3_600_000:
        rehearsal.wait_until(due_ms)
        watchkeeper.take(world.probes.read())
        due_ms += tick_ms
        tick += 1
        if tick % FLUSH_TICKS == 0:
            progress(words, due_ms / 3_600_000)
            record.flush(30.0)
    watchkeeper.close()
    world.probes.close()
    record.flush(30.0)


class _Emptied:
    """True two hours after the keeper has unloaded, so that the watch has seen the end of the firing too."""

    def __init__(self) -> None:
        self._unloaded_ms: int | None = None

    def __call__(self, rehearsal: Rehearsal) -> bool:
        now_ms = rehearsal.now().monotonic_ms
        if self._unloaded_ms is None and rehearsal.keeper.progress.unloaded:
            self._unloaded_ms = now_ms
        return self._unloaded_ms is not None and now_ms - self._unloaded_ms >= AFTER_UNLOADING_MS


def _before(stage: int) -> Callable[[Rehearsal], bool]:
    """Shortly before the keeper turns from this stage to the next; -1: before lighting."""

    def near(rehearsal: Rehearsal) -> bool:
        here = rehearsal.keeper.progress
        if stage < 0:
            return rehearsal.kiln.ms + BEFORE_TURN_MS >= rehearsal.kiln.script.lit_after_seconds * 1000
        due = here.due_ms if here.stage == stage else None
        return here.stage > stage or (due is not None and rehearsal.kiln.ms + BEFORE_TURN_MS >= due)

    return near
