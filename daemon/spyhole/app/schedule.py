"""Housekeeping by the wall clock. Nothing here is about the kiln: sampling and alarms never wait for a schedule.

One table says what is done, when, and what becomes of a run that is late. The wall clock of a Pi can step by
years; so no job makes up for missed runs (coalesce), none runs twice at once, and one that is too late waits
for its next turn.
"""

import logging
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from spyhole.services.conditions import HOUSEKEEPING, Conditions

log = logging.getLogger(__name__)

BUSY_SECONDS = 10.0


def tidy(database: Path) -> None:
    """Let SQLite look over its query plans, and fold the write-ahead log back so that it does not stay long."""
    with closing(sqlite3.connect(database, timeout=BUSY_SECONDS)) as connection:
        connection.execute("PRAGMA optimize")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


@dataclass(frozen=True, slots=True)
class Job:
    """One line of the table. cadence: cron fields, UTC. late_seconds: how late a run may still be made."""

    name: str
    act: Callable[[Path], None]
    cadence: dict[str, int | str]
    late_seconds: int


JOBS = (Job("tidy the record", tidy, {"hour": 4, "minute": 20}, late_seconds=3600),)


class Housekeeping:
    """Runs the table in one thread of its own. database: the record's file."""

    def __init__(self, database: Path, conditions: Conditions, jobs: tuple[Job, ...] = JOBS) -> None:
        # APScheduler is slow to import and a replay has no use for it.
        from apscheduler.executors.pool import ThreadPoolExecutor
        from apscheduler.schedulers.background import BackgroundScheduler

        self._conditions = conditions
        self._scheduler = BackgroundScheduler(executors={"default": ThreadPoolExecutor(1)}, daemon=True, timezone="UTC")
        for job in jobs:
            self._scheduler.add_job(
                self.run,
                "cron",
                args=(job, database),
                id=job.name,
                coalesce=True,
                max_instances=1,
                misfire_grace_time=job.late_seconds,
                **job.cadence,
            )

    def start(self) -> None:
        """Begin."""
        self._scheduler.start()

    def stop(self) -> None:
        """Stop once a job under way is done."""
        if self._scheduler.running:
            self._scheduler.shutdown(wait=True)

    def run(self, job: Job, database: Path) -> None:
        """One run of one job; what goes wrong is said and never leaves the room."""
        try:
            job.act(database)
        except Exception as error:
            log.exception("%s failed", job.name)
            self._conditions.set(HOUSEKEEPING, repr(error))
        else:
            self._conditions.clear(HOUSEKEEPING)
