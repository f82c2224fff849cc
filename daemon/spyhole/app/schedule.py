"""Housekeeping by the wall clock. Nothing here is about the kiln: sampling and alarms never wait for a schedule.

One table says what is done, when, and what becomes of a run that is late. The wall clock of a Pi can step by
years; so no job makes up for missed runs (coalesce), none runs twice at once, and one that is too late waits
for its next turn.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from spyhole.services.conditions import HOUSEKEEPING, Conditions

log = logging.getLogger(__name__)


class Tidy(Protocol):
    """What housekeeping asks of the store."""

    def tidy(self) -> None:
        """Let the database choose its query plans anew and fold its write-ahead log back."""
        ...


@dataclass(frozen=True, slots=True)
class Job:
    """One line of the table. cadence: cron fields. late_seconds: how late a run may still be made."""

    name: str
    act: Callable[[Tidy], None]
    cadence: dict[str, int | str]
    late_seconds: int


JOBS = (Job("tidy the record", lambda store: store.tidy(), {"hour": 4, "minute": 20}, late_seconds=3600),)


class Housekeeping:
    """Runs the table in one thread of its own."""

    def __init__(self, store: Tidy, conditions: Conditions) -> None:
        # APScheduler is slow to import and a replay has no use for it.
        from apscheduler.executors.pool import ThreadPoolExecutor  # noqa: PLC0415
        from apscheduler.schedulers.background import BackgroundScheduler  # noqa: PLC0415

        self._conditions = conditions
        self._scheduler = BackgroundScheduler(
            executors={"default": ThreadPoolExecutor(1)}, daemon=True, timezone="UTC"
        )
        for job in JOBS:
            self._scheduler.add_job(
                self.run,
                "cron",
                args=(job, store),
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
        """Stop without waiting for a job under way (its connection is closed by the store)."""
        if self._scheduler.running:
            self._scheduler.shutdown(wait=False)

    def run(self, job: Job, store: Tidy) -> None:
        """One run of one job; what goes wrong is said and never leaves the room."""
        try:
            job.act(store)
        except Exception as error:
            log.exception("%s failed", job.name)
            self._conditions.set(HOUSEKEEPING, repr(error))
        else:
            self._conditions.clear(HOUSEKEEPING)
