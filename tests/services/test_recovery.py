"""After a start: sampling goes on while the record is read again; nothing is lost, told twice or out of order."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from spyhole.app.codec import codec
from spyhole.core import watch
from spyhole.core.journal import Clock, Row, Settings, WatchFault
from spyhole.core.kiln import Kiln
from spyhole.core.moment import Moment
from spyhole.core.plan import Plan
from spyhole.core.reading import Reading
from spyhole.core.refusal import Refusal
from spyhole.core.state import State
from spyhole.core.words import Manner
from spyhole.services import recovery
from spyhole.services import watchkeeper as desk
from spyhole.services.archive import Archive, ArchiveDamaged, ArchiveTrouble
from spyhole.services.conditions import LATE, READING_AGAIN, UNREAD, Conditions
from spyhole.services.keeping import Keeping, Kept
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import SqlArchive, open_archive

KILN = "Puffin"


class SlowRecord:
    """A real record that stops before its rows are read, until it is let go; and may fail then."""

    def __init__(self, record: SqlArchive) -> None:
        self._record = record
        self.asked, self.go = threading.Event(), threading.Event()
        self.fails: Exception | None = None

    def rows_after(self, kiln: str, sequence: int) -> Iterator[Row]:
        self.asked.set()
        assert self.go.wait(30)
        if self.fails is not None:
            raise self.fails
        return self._record.rows_after(kiln, sequence)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._record, name)


class Bench:
    """Daemons one after the other on one record, with a clock that stands until it is moved."""

    def __init__(self, tools: Any, kiln: Kiln, plan: Plan, folder: Path) -> None:
        self.tools, self.folder = tools, folder
        self.studio = Studio(kiln, plan, "kiln text", "plan text", Manner(), 10.0)
        self.clock = tools.clock()
        self.closing: list[Callable[[], object]] = []

    def watch(self, release: int = 0) -> tuple[Watchkeeper, SlowRecord, Conditions]:
        """release: another number than 0 is a spyhole that does not know the states this one keeps."""
        conditions = Conditions(lambda: self.clock.now().utc_ms)
        record = open_archive(self.folder, seconds=time.monotonic, tell=conditions.told)
        slow = SlowRecord(record)
        archive: Archive = slow  # type: ignore[assignment]
        form = replace(codec(), version=codec().version + release)
        keeper = Watchkeeper(self.studio, self.clock, archive, Telling(()), conditions, form)
        self.closing += [slow.go.set, keeper.close, lambda: record.close(30)]
        return keeper, slow, conditions

    def kill(self, slow: SlowRecord) -> None:
        """What is committed stays; nothing else is done, as by a power cut."""
        slow.flush(30)
        slow.close(30)
        self.closing.clear()

    def readings(self, keeper: Watchkeeper, count: int, celsius: float = 20.0) -> None:
        for _ in range(count):
            self.clock.ms += 10_000
            keeper.take(self.tools.reading(celsius))

    def close(self) -> None:
        for close in self.closing:
            close()


@pytest.fixture
def bench(tools: Any, kiln: Kiln, plan: Plan, tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tools, kiln, plan, tmp_path / "record")
    yield made
    made.close()


@pytest.fixture
def before(bench: Bench) -> Bench:
    """A firing of twenty minutes, cut off half a minute after its last checkpoint."""
    keeper, slow, _ = bench.watch()
    slow.go.set()
    keeper.recover()
    bench.readings(keeper, 3)
    keeper.enter("start", "", "06", "Jo")
    bench.readings(keeper, 120, 300.0)
    bench.kill(slow)
    return bench


def test_readings_of_the_new_run_wait_in_order_and_follow_the_tail(before: Bench) -> None:
    keeper, slow, _ = before.watch()
    keeper.recover_beside()
    assert slow.asked.wait(30)
    boot = before.clock.now()
    before.readings(keeper, 30, 400.0)
    assert keeper.keeping.state.sequence == 0, "nothing is concluded from half a record"
    slow.go.set()
    assert keeper.wait_recovered(30)
    before.readings(keeper, 1, 401.0)
    assert slow.flush(30)
    rows = list(slow._record.rows_after(KILN, 0))
    assert [row.sequence for row in rows] == list(range(1, len(rows) + 1))
    new = rows[-32:]
    assert new[0].told == Clock(boot.utc_ms, synchronised=True), "first what the clock said when the run began"
    assert [row.monotonic_ms for row in new[1:]] == [boot.monotonic_ms + 10_000 * n for n in range(1, 32)]
    assert all(isinstance(row.told, Reading) for row in new[1:])
    state = watch.begin()
    for row in rows:
        state, _ = watch.step(state, row)
    assert keeper.keeping.state == state, "checkpoint, tail and what waited equal the full fold"
    assert state.firing is not None


def test_only_the_tail_of_a_minute_is_folded(before: Bench) -> None:
    keeper, slow, _ = before.watch()
    slow.go.set()
    assert 0 < keeper.recover() <= 7


def test_an_act_waits_for_the_record_and_is_refused_when_that_takes_too_long(
    before: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper, slow, _ = before.watch()
    keeper.recover_beside()
    monkeypatch.setattr(desk, "RECOVERED_SECONDS", 0.01)
    with pytest.raises(Refusal, match="still reads its record"):
        keeper.enter("note", "", "shelf posts level", "Jo")
    monkeypatch.undo()
    monkeypatch.setattr(desk, "DISK_SECONDS", 30.0)  # what is stored is asked of the record, not of this machine's disk
    threading.Timer(0.05, slow.go.set).start()
    assert keeper.enter("note", "", "shelf posts level", "Jo").stored


def test_a_daemon_that_leaves_before_its_record_is_read_writes_no_state_of_half_a_record(before: Bench) -> None:
    keeper, slow, _ = before.watch()
    newest = slow.checkpoints(KILN)[0].sequence
    keeper.recover_beside()
    threading.Timer(0.05, slow.go.set).start()
    keeper.close()
    assert slow.flush(30)
    assert slow.checkpoints(KILN)[0].sequence >= newest


@pytest.mark.parametrize(
    "fails", [ArchiveTrouble("The record cannot be read just now."), ZeroDivisionError("a fault of the program")]
)
def test_a_record_that_cannot_be_read_does_not_keep_the_watch_from_going_on_under_the_next_sequence(
    before: Bench, fails: Exception
) -> None:
    keeper, slow, conditions = before.watch()
    last = slow.last_put(KILN)
    slow.fails = fails
    slow.go.set()
    keeper.recover()
    assert conditions.holds(UNREAD)
    before.readings(keeper, 3)
    assert slow.flush(30)
    rows = list(slow._record.rows_after(KILN, last))
    assert [row.sequence for row in rows] == list(range(last + 1, last + 1 + len(rows)))
    assert sum(isinstance(row.told, Reading) for row in rows) == 3
    assert WatchFault("watch-store", True) in [row.told for row in rows]


def test_fault_6_a_tail_that_is_damaged_is_left_behind_and_the_firing_goes_on_in_a_new_record(before: Bench) -> None:
    keeper, slow, conditions = before.watch()
    newest, last = slow.checkpoints(KILN)[0].sequence, slow.last_put(KILN)
    assert newest < last
    slow.fails = ArchiveDamaged("database disk image is malformed")
    slow.go.set()
    before.readings(keeper, 1, 300.0)
    keeper.recover()
    assert keeper.keeping.state.firing is not None, "what the checkpoint knew is kept"
    assert slow.flush(30)
    assert conditions.views()[0].code == "watch-store"
    assert slow.flush(30)
    assert keeper.keeping.state.faults == {"watch-store"}, "so that it becomes an alarm"
    rows = list(slow._record.rows_after(KILN, 0))
    assert [row.sequence for row in rows] == list(range(last + 1, last + 1 + len(rows))), "in the new record alone"
    assert len(slow.checkpoints(KILN)) == 1, "at once, as nothing else there tells of the firing"
    aside = before.folder / "spyhole.db.damaged-1"
    assert aside.stat().st_size > 10_000
    before.kill(slow)
    keeper, slow, conditions = before.watch()
    slow.go.set()
    assert keeper.recover() <= 2
    assert keeper.keeping.state.firing is not None
    assert conditions.views() == ()
    assert keeper.keeping.state.faults == frozenset()


def test_a_fault_of_the_watch_is_a_row_when_it_begins_and_when_it_ends(before: Bench) -> None:
    keeper, slow, conditions = before.watch()
    slow.go.set()
    keeper.recover()
    first = keeper.keeping.state.sequence
    conditions.set(LATE)
    conditions.set(LATE)
    conditions.set(READING_AGAIN)
    assert keeper.keeping.state.faults == {"watch-late"}
    conditions.told("watch-disk", "The disk is full.")
    conditions.told("watch-disk", "The disk is full and it lasts.")
    conditions.told("watch-disk", None)
    conditions.clear(LATE)
    assert slow.flush(30)
    told = [row.told for row in slow._record.rows_after(KILN, first)]
    assert told == [
        WatchFault("watch-late", True),
        WatchFault("watch-disk", True),
        WatchFault("watch-disk", False),
        WatchFault("watch-late", False),
    ]


def test_a_fault_that_was_there_before_a_kill_and_is_no_more_ends_at_the_start(before: Bench) -> None:
    keeper, slow, conditions = before.watch()
    slow.go.set()
    keeper.recover()
    conditions.set(LATE)
    before.kill(slow)
    keeper, slow, _ = before.watch()
    slow.go.set()
    keeper.recover()
    assert keeper.keeping.state.faults == frozenset()
    assert slow.flush(30)
    assert [row.told for row in slow._record.rows_after(KILN, 0)][-1] == WatchFault("watch-late", False)


def test_the_first_rows_say_when_the_run_began_even_if_settings_changed(before: Bench) -> None:
    before.studio = replace(before.studio, plan=replace(before.studio.plan, cone="05"))
    keeper, slow, _ = before.watch()
    keeper.recover_beside()
    began: Moment = before.clock.now()
    before.readings(keeper, 2)
    slow.go.set()
    assert keeper.wait_recovered(30)
    assert slow.flush(30)
    rows = list(slow._record.rows_after(KILN, 0))[-4:]
    assert [type(row.told) for row in rows] == [Clock, Settings, Reading, Reading]
    assert rows[1].monotonic_ms == began.monotonic_ms


def twice_lit(bench: Bench) -> tuple[State, int]:
    """A firing with what outlives it, and the next one under way; its last state, and how many rows there are."""
    keeper, slow, _ = bench.watch()
    slow.go.set()
    keeper.recover()
    bench.readings(keeper, 60)
    keeper.enter("start", "", "06", "Jo")
    bench.readings(keeper, 60, 300.0)
    keeper.take_out_of_service("middle", "a spare is on its way", "Jo")
    keeper.take_watch("Sam", "peep hole two is stiff")
    keeper.enter("shutoff", "", "tripped", "Jo")
    bench.readings(keeper, 60, 200.0)
    keeper.enter("start", "", "06", "Jo")
    bench.readings(keeper, 40, 150.0)
    state, rows = keeper.keeping.state, slow.last_put(KILN)
    bench.kill(slow)
    return state, rows


def test_after_an_upgrade_the_fold_begins_at_the_last_start_and_knows_what_came_before(bench: Bench) -> None:
    old, rows = twice_lit(bench)
    keeper, slow, conditions = bench.watch(release=1)
    slow.go.set()
    folded = keeper.recover()
    state = keeper.keeping.state
    assert old.firing is not None
    assert state.firing is not None
    assert 40 <= folded <= 50 < rows, "the firing before it is not folded again"
    assert state.firing.id == old.firing.id
    assert (state.firing.started_utc_ms, state.firing.learned) == (old.firing.started_utc_ms, old.firing.learned)
    assert [one.minutes[-3:] for one in state.tracks] == [one.minutes[-3:] for one in old.tracks]
    assert (state.settings, state.filed, state.shelf) == (old.settings, old.filed, old.shelf)
    assert (state.out, state.learned, state.duty.holder) == (old.out, old.learned, "Sam")
    assert old.out == {"middle"}
    assert state.alarms.episodes >= old.alarms.episodes > 0, "no number of an episode comes twice"
    assert conditions.views() == ()


def test_after_an_upgrade_of_a_cold_kiln_the_readings_since_are_passed_over_and_what_was_told_is_not(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper, slow, _ = bench.watch()
    slow.go.set()
    keeper.recover()
    keeper.enter("start", "", "06", "Jo")
    bench.readings(keeper, 60, 300.0)
    keeper.enter("shutoff", "", "tripped", "Jo")
    for celsius in range(298, 18, -2):
        bench.readings(keeper, 1, float(celsius))
    assert keeper.keeping.state.firing is not None
    assert keeper.keeping.state.firing.ended
    keeper.take_out_of_service("middle", "sent away", "Jo")
    keeper.enter("note", "", "the guide cone leans", "Jo")
    bench.readings(keeper, 200, 21.0)
    old, rows = keeper.keeping.state, slow.last_put(KILN)
    bench.kill(slow)
    monkeypatch.setattr(recovery, "COLD_ROWS", 20)
    keeper, slow, _ = bench.watch(release=1)
    slow.go.set()
    folded = keeper.recover()
    state = keeper.keeping.state
    assert folded < rows - 150
    assert state.out == old.out == {"middle"}
    assert old.firing is not None
    assert state.firing is not None
    assert [w.entry.kind for w in state.firing.written] == [w.entry.kind for w in old.firing.written]
    assert state.alarms.episodes >= old.alarms.episodes
    assert [one.celsius for one in state.tracks] == [one.celsius for one in old.tracks]


def test_an_old_row_that_the_watch_cannot_take_costs_that_row_and_is_said(
    before: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    really = recovery.fold.keep

    def stumbling(keeping: Keeping, row: Row) -> tuple[Keeping, Kept]:
        if row.sequence == 50:
            raise ZeroDivisionError("a fault of the program")
        return really(keeping, row)

    monkeypatch.setattr(recovery.fold, "keep", stumbling)
    keeper, slow, conditions = before.watch(release=1)
    slow.go.set()
    assert keeper.recover() > 100
    assert conditions.holds(UNREAD)
    assert keeper.keeping.state.firing is not None
    assert keeper.keeping.state.faults == {"watch-store"}
