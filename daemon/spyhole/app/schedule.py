"""Housekeeping by the wall clock. Nothing here is about the kiln: sampling and alarms never wait for a schedule.

One table says what is done, when, and how late a run may still be made. The wall clock of a Pi can step by years. So
for every line: no run is made up for (coalesce), none stands beside itself (max_instances), one that is later than
its line allows waits for its next turn, and when the clock has stepped every next turn is worked out afresh from the
new time. Left to itself the scheduler sleeps until the old time comes round again.

The roll-up by the minute has no line: it is made with the readings, in their transaction. Nor has the self-test: it
matters most while no daemon runs, so a timer of systemd's starts it (`app.selftest`).
"""

import logging
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from spyhole.core.moment import Moment
from spyhole.services.conditions import HOUSEKEEPING, Conditions

if TYPE_CHECKING:
    from apscheduler.triggers.cron import CronTrigger

log = logging.getLogger(__name__)

STEP_MS = 2_000
"""A wall clock that has moved by more than this against the monotonic one has stepped."""

TIDY, FORGET, BACKUP, WEEKLY, REPORTS, DRIFTS = (
    "tidy the record", "let old readings go", "backup", "weekly message", "reports of the morning",
    "look whether a probe drifts",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table. cadence: cron fields, UTC. late_seconds: how late a run may still be made."""

    name: str
    cadence: Mapping[str, int | str]
    late_seconds: int


LOOK = "look whether the disk has room"

TABLE = (
    Line(REPORTS, {"minute": "5-55/10"}, late_seconds=300),
    Line(DRIFTS, {"minute": 20}, late_seconds=600),
    Line(LOOK, {"minute": "*/5"}, late_seconds=240),
    Line(FORGET, {"minute": 50}, late_seconds=600),
    Line(BACKUP, {"hour": 3, "minute": 35}, late_seconds=6 * 3600),
    Line(TIDY, {"hour": 4, "minute": 20}, late_seconds=3600),
    Line(WEEKLY, {"day_of_week": "mon", "hour": 9, "minute": 5}, late_seconds=6 * 3600),
)


class Housekeeping:
    """Runs the lines it is given an act for, one after the other in one thread of its own.

    now: of the daemon's clock. jobs: what each line does. KeyError for a name that is not in the table.
    """

    def __init__(
        self,
        now: Callable[[], Moment],
        conditions: Conditions,
        jobs: Mapping[str, Callable[[], object]],
        table: tuple[Line, ...] = TABLE,
    ) -> None:
        # APScheduler is slow to import and a replay has no use for it.
        from apscheduler.executors.pool import ThreadPoolExecutor
        from apscheduler.schedulers.background import BackgroundScheduler

        lines = {line.name: line for line in table}
        self._now = now
        self._conditions = conditions
        self._failing: set[str] = set()
        self._lock = threading.Lock()
        self._offset_ms = self._offset()
        self._scheduler = BackgroundScheduler(executors={"default": ThreadPoolExecutor(1)}, daemon=True, timezone="UTC")
        self._lines = [lines[name] for name in jobs]
        for line in self._lines:
            self._scheduler.add_job(
                self.run,
                _turns(line),
                args=(line.name, jobs[line.name]),
                id=line.name,
                coalesce=True,
                max_instances=1,
                misfire_grace_time=line.late_seconds,
            )

    def start(self) -> None:
        """Begin."""
        self._scheduler.start()

    def stop(self) -> None:
        """Stop once a job under way is done."""
        if self._scheduler.running:
            self._scheduler.pause()  # a line whose turn comes just now would find its thread gone
            self._scheduler.shutdown(wait=True)

    def look_after(self) -> bool:
        """Called about once a second: whether the wall clock has stepped. Always True: nothing here ends the daemon."""
        offset_ms = self._offset()
        if abs(offset_ms - self._offset_ms) > STEP_MS:
            log.info("the wall clock has stepped by %.0f s", (offset_ms - self._offset_ms) / 1000)
            for line in self._lines:
                self._scheduler.reschedule_job(line.name, trigger=_turns(line))
        self._offset_ms = offset_ms
        return True

    def run(self, name: str, act: Callable[[], object]) -> None:
        """One run of one job; what goes wrong is said and never leaves the room."""
        try:
            act()
        except Exception as error:
            log.exception("%s failed", name)
            with self._lock:
                self._failing.add(name)
            self._conditions.set(HOUSEKEEPING, f"{name}: {error!r}")
            return
        with self._lock:
            self._failing.discard(name)
            well = not self._failing
        if well:
            self._conditions.clear(HOUSEKEEPING)

    def _offset(self) -> int:
        moment = self._now()
        return moment.utc_ms - moment.monotonic_ms


def _turns(line: Line) -> "CronTrigger":
    from apscheduler.triggers.cron import CronTrigger

    return CronTrigger(timezone="UTC", **line.cadence)
