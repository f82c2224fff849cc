"""Faults 4 and 5: the disk takes nothing more while a kiln overheats. Alarms go by memory; it is said, and ends.

The card fails at SQLite's own file layer (tests/store/card.py): full, read-only, or with EIO on every fsync. Time is
simulated, the pace of commits too.
"""

import runpy
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from spyhole.app.codec import codec
from spyhole.core.journal import WatchFault
from spyhole.core.kiln import Kiln
from spyhole.core.outcome import Action, AlarmOutcome
from spyhole.core.plan import Plan
from spyhole.core.reading import Reading
from spyhole.core.words import Manner
from spyhole.services.conditions import Conditions
from spyhole.services.courier import Courier
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store import database
from spyhole.store.archive import open_archive
from spyhole.store.writer import Pace

if TYPE_CHECKING:
    from card import Card

Card = runpy.run_path(str(Path(__file__).parents[1] / "store" / "card.py"))["Card"]

KILN = "Puffin"
FULL = {("write", sqlite3.SQLITE_FULL)}
EROFS = {("write", sqlite3.SQLITE_IOERR_WRITE), ("truncate", sqlite3.SQLITE_IOERR_TRUNCATE)}
EIO = {("sync", sqlite3.SQLITE_IOERR_FSYNC)}


@pytest.fixture
def card(monkeypatch: pytest.MonkeyPatch) -> Iterator["Card"]:
    made = Card()
    monkeypatch.setattr(database, "_OURS", "card")
    yield made
    made.take_out()


class Room:
    """A watch on a card, with somebody to tell. The writer's pace goes by the simulated clock."""

    def __init__(self, tools: Any, kiln: Kiln, plan: Plan, folder: Path) -> None:
        self.tools = tools
        self.clock = tools.clock()
        self.conditions = Conditions(lambda: self.clock.now().utc_ms)
        self.record = open_archive(
            folder, seconds=lambda: self.clock.ms / 1000, tell=self.conditions.told, pace=Pace(retry_seconds=5.0)
        )
        self.channel = tools.channel()
        self.telling = Telling([Courier("studio", self.channel, self.record, self.conditions)])
        studio = Studio(kiln, plan, "kiln text", "plan text", Manner(), 1.0)
        self.keeper = Watchkeeper(studio, self.clock, self.record, self.telling, self.conditions, codec())
        self.keeper.recover()
        self.telling.start([])

    def tick(self, celsius: float, seconds: int = 1) -> None:
        self.clock.ms += 1000 * seconds
        self.keeper.take(self.tools.reading(round(celsius * 128) / 128))

    def until(self, so: Any) -> None:
        """What the writer waits in its own seconds passes in real ones: ten at most."""
        deadline = time.monotonic() + 120
        while not so():
            assert time.monotonic() < deadline
            time.sleep(0.02)

    def codes(self) -> list[str]:
        return [view.code for view in self.conditions.views()]

    def close(self) -> None:
        self.telling.stop()
        self.keeper.close()
        self.record.close(30)


@pytest.fixture
def room(tools: Any, kiln: Kiln, plan: Plan, tmp_path: Path, card: "Card") -> Iterator[Room]:
    made = Room(tools, kiln, plan, tmp_path / "record")
    yield made
    card.fail = lambda file, what: None
    made.close()


@pytest.mark.parametrize("trouble", [FULL, EROFS, EIO], ids=["full", "read-only", "EIO on fsync"])
def test_faults_4_and_5_alarms_go_by_memory_and_the_record_catches_up_without_a_restart(
    room: Room, card: "Card", trouble: set[tuple[str, int]]
) -> None:
    room.tick(20.0)
    room.keeper.enter("start", "", "06", "Jo")
    for _ in range(60):
        room.tick(20.0)
    assert room.record.flush(30)
    committed = room.record.last_sequence(KILN)

    answers = dict(trouble)
    card.fail = lambda file, what: answers.get(what)
    broken_ms = room.clock.ms
    while room.clock.ms < broken_ms + 10_000:
        room.tick(20.0)
    room.until(lambda: "watch-disk" in room.codes())
    assert room.clock.ms - broken_ms <= 10_000
    room.until(lambda: room.keeper.keeping.state.faults == {"watch-disk"})  # the fold is told, and so may alarm
    assert not room.keeper.enter("note", "", "the page says the disk is full", "Jo").stored, "not called done"

    celsius = 20.0
    while not room.keeper.keeping.told:
        celsius += 0.3 * 10
        room.tick(celsius, 10)
        assert celsius < 1200, "nobody is to be told of a kiln far above its ceiling"
    assert room.channel.arrived.wait(30)
    assert room.record.last_sequence(KILN) == committed, "and nothing had reached the disk"

    card.fail = lambda file, what: None

    def is_over() -> bool:
        room.tick(celsius)  # an attempt that fails may be under way still, and the next is some seconds after its end
        return "watch-disk" not in room.codes()

    room.until(is_over)
    room.until(lambda: room.keeper.keeping.state.faults == frozenset())
    assert room.record.flush(30)
    rows = list(room.record.rows_after(KILN, 0))
    assert [row.sequence for row in rows] == list(range(1, len(rows) + 1)), "not one row is missing"
    faults = [row.told for row in rows if isinstance(row.told, WatchFault) and row.told.tag == "watch-disk"]
    assert faults == [WatchFault("watch-disk", True), WatchFault("watch-disk", False)]
    raised = [
        outcome
        for _, outcome in room.record.outcomes_between(KILN, committed, len(rows))
        if isinstance(outcome, AlarmOutcome) and outcome.action is Action.RAISE
    ]
    assert raised
    assert sum(isinstance(row.told, Reading) for row in rows) > 70
    assert room.record.integrity_check() == []
