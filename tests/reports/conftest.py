"""One glaze firing of Puffin in a real record, by the real watch, and what an onlooker with a notebook saw of it."""

import time
from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from spyhole.app.codec import codec
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.core.report.report import Report
from spyhole.core.report.tariff import Hours, Tariff
from spyhole.core.words import Manner
from spyhole.reports.press import press
from spyhole.services.conditions import Conditions
from spyhole.services.reporting import Reporter
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import SqlArchive, open_archive, open_records
from spyhole_hardware.emulated.puffin import EARLIER, KILN

LIT_UTC_MS = 1_951_155_660_000
TICK_MS = 30_000
ENOUGH_CELSIUS = 170.0
"""Past the last band of the cooling; nobody waits for the lid."""
DUBLIN = Manner(ZoneInfo("Europe/Dublin"))
NIGHT = Tariff("EUR", 0.34, (Hours(23 * 60, 8 * 60, 0.18),))
SCRIPT = EARLIER[1][1]
"""The glaze to cone 05: five hours to high, and it is over the same night."""


@dataclass
class Fired:
    """folder: its record. seconds, celsius: every reading as the amplifiers gave it, one list a ring."""

    folder: Path
    seconds: list[float] = field(default_factory=list)
    celsius: list[list[float]] = field(default_factory=lambda: [[] for _ in KILN.rings])
    joules: float = 0.0
    tripped_seconds: float | None = None

    def report(self) -> Report:
        with open_records(self.folder) as records:
            return Reporter(records, KILN.name, DUBLIN, NIGHT, press).work_out(None)


@pytest.fixture(scope="session")
def fired(tmp_path_factory: pytest.TempPathFactory) -> Fired:
    fired = Fired(tmp_path_factory.mktemp("fired"))
    record = open_archive(fired.folder, seconds=time.monotonic, tell=lambda code, words: None)
    try:
        _fire(fired, record)
    finally:
        record.close(30.0)
    return fired


def _fire(fired: Fired, record: SqlArchive) -> None:
    notes = Notes()
    rehearsal = rehearsal_of(SCRIPT, notes, start_utc_ms=LIT_UTC_MS)
    world = world_around(rehearsal)
    watchkeeper = Watchkeeper(
        studio_of(SCRIPT, DUBLIN, TICK_MS / 1000), rehearsal, record, Telling(()),
        Conditions(lambda: rehearsal.now().utc_ms), codec(), checkpoints=False,
    )  # fmt: skip
    watchkeeper.recover()
    notes.read = watchkeeper.enter
    due_ms = rehearsal.now().monotonic_ms
    while fired.tripped_seconds is None or max(column[-1] for column in fired.celsius) > ENOUGH_CELSIUS:
        rehearsal.wait_until(due_ms)
        reading = world.probes.read()
        watchkeeper.take(reading)
        fired.seconds.append(due_ms / 1000)
        for column, probe in zip(fired.celsius, reading.probes, strict=True):
            column.append(probe.celsius if probe.celsius is not None else float("nan"))
        if fired.tripped_seconds is None and rehearsal.kiln.shutoff.tripped:
            fired.tripped_seconds = due_ms / 1000
        due_ms += TICK_MS
    fired.joules = rehearsal.kiln.heat.account.bought
    watchkeeper.close()
    world.probes.close()
    record.flush(30.0)
