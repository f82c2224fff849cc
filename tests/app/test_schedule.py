"""Housekeeping keeps to its table, whatever the wall clock does: no storm, no stall, no failure unsaid."""

import threading
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta, tzinfo
from typing import Any

import pytest

from spyhole.app.build import forget
from spyhole.app.schedule import TABLE, Housekeeping, Line
from spyhole.core.moment import Moment
from spyhole.services.conditions import HOUSEKEEPING, Conditions

EACH_SECOND = (Line("try", {"second": "*"}, late_seconds=30),)


class SteppingWall:
    """The machine's wall clock, as the scheduler and the daemon read it; the monotonic clock is left alone."""

    def __init__(self) -> None:
        self.stepped_seconds = 0.0

    def now(self) -> Moment:
        wall = (time.time() + self.stepped_seconds) * 1000
        return Moment("boot", int(time.monotonic() * 1000), int(wall))


@pytest.fixture
def wall(monkeypatch: pytest.MonkeyPatch) -> SteppingWall:
    wall = SteppingWall()

    class Stepping(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> "Stepping":  # type: ignore[override]
            return datetime.now(tz) + timedelta(seconds=wall.stepped_seconds)  # type: ignore[return-value]

    for module in ("apscheduler.schedulers.base", "apscheduler.executors.base"):
        __import__(module)
        monkeypatch.setattr(f"{module}.datetime", Stepping)
    return wall


class Runs:
    """When a job ran, by the monotonic clock."""

    def __init__(self) -> None:
        self.at: list[float] = []
        self._ran = threading.Condition()

    def __call__(self) -> None:
        with self._ran:
            self.at.append(time.monotonic())
            self._ran.notify_all()

    def wait(self, more: int, seconds: float) -> bool:
        with self._ran:
            wanted = len(self.at) + more
            return self._ran.wait_for(lambda: len(self.at) >= wanted, seconds)


Started = Callable[[Callable[[], object]], Housekeeping]


@pytest.fixture
def conditions() -> Conditions:
    return Conditions(lambda: 0)


@pytest.fixture
def started(wall: SteppingWall, conditions: Conditions) -> Iterator[Started]:
    made: list[Housekeeping] = []

    def start(act: Callable[[], object]) -> Housekeeping:
        made.append(Housekeeping(wall.now, conditions, {"try": act}, EACH_SECOND))
        made[-1].start()
        return made[-1]

    yield start
    for one in made:
        one.stop()
        one.stop()


@pytest.mark.parametrize("seconds", [600.0, 3600.0, -600.0, -3600.0])
def test_a_step_of_the_clock_neither_storms_nor_stalls(wall: SteppingWall, started: Started, seconds: float) -> None:
    """Left alone a step of +600 s ran a job of each 0.2 s 3010 times at once, and one of -600 s stalled it."""
    runs = Runs()
    housekeeping = started(runs)
    assert runs.wait(1, 30)
    stepped = time.monotonic()
    before = len(runs.at)
    wall.stepped_seconds = seconds
    assert housekeeping.look_after()
    assert runs.wait(2, 30), "it goes on"
    passed = time.monotonic() - stepped
    assert len(runs.at) - before <= passed + 2, "at most one a second, and one that was under way"


def test_without_being_told_a_step_back_would_stall_it(wall: SteppingWall, started: Started) -> None:
    """What the look is for: so that the test above is known to be able to fail."""
    runs = Runs()
    started(runs)
    assert runs.wait(1, 30)
    wall.stepped_seconds = -600.0
    # One may have been under way, however late a busy machine comes to it; after that a second in each would be due.
    assert any(not runs.wait(1, 2.2) for _ in range(3))


def test_a_clock_that_is_only_drawn_nearer_changes_nothing(
    wall: SteppingWall, started: Started, monkeypatch: pytest.MonkeyPatch
) -> None:
    housekeeping = started(Runs())
    afresh: list[Any] = []
    monkeypatch.setattr(housekeeping._scheduler, "reschedule_job", lambda *a, **_: afresh.append(a))
    for _ in range(20):
        wall.stepped_seconds += 0.5
        assert housekeeping.look_after()
    assert afresh == []


def test_a_job_that_takes_long_never_stands_beside_itself(started: Started) -> None:
    under_way, most = 0, 0
    done = threading.Event()

    def slow() -> None:
        nonlocal under_way, most
        under_way += 1
        most = max(most, under_way)
        time.sleep(1.3)
        under_way -= 1
        done.set()

    started(slow)
    assert done.wait(30)
    time.sleep(1.2)
    assert most == 1


def test_every_line_says_what_becomes_of_a_late_run() -> None:
    assert all(line.late_seconds > 0 and line.cadence for line in TABLE)
    assert len({line.name for line in TABLE}) == len(TABLE)


def test_a_job_without_a_line_is_no_job(wall: SteppingWall, conditions: Conditions) -> None:
    with pytest.raises(KeyError):
        Housekeeping(wall.now, conditions, {"nap": lambda: None})


def test_what_fails_is_said_until_nothing_fails(
    wall: SteppingWall, conditions: Conditions, caplog: pytest.LogCaptureFixture
) -> None:
    housekeeping = Housekeeping(wall.now, conditions, {})

    def fail() -> None:
        raise OSError("the card is out")

    housekeeping.run("backup", fail)
    housekeeping.run("tidy the record", lambda: None)
    assert conditions.holds(HOUSEKEEPING), "another job that went well does not hide it"
    housekeeping.run("backup", lambda: None)
    assert not conditions.holds(HOUSEKEEPING)
    assert "backup failed" in caplog.text


@pytest.mark.parametrize("synchronised", [True, False])
def test_readings_are_let_go_by_age_only_where_the_clock_is_to_be_believed(synchronised: bool) -> None:
    """A clock that stands a year ahead, set by nobody, would let go of everything."""
    asked: list[tuple[int, int | None]] = []

    class Clock:
        def now(self) -> Moment:
            return Moment("boot", 5_000, 1_951_155_600_000, synchronised)

        def wait_until(self, monotonic_ms: int) -> None:
            """Nobody waits."""

    class Noted:
        def forget_readings(self, days: int, now_utc_ms: int | None) -> int:
            asked.append((days, now_utc_ms))
            return 0

    forget(Noted(), 60, Clock())  # type: ignore[arg-type]
    assert asked == [(60, 1_951_155_600_000 if synchronised else None)]
