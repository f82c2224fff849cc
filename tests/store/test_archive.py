"""What is put is committed whole, in order, in time; and nothing is called done before it is."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import Connection, Engine, event

from spyhole.core.journal import Acknowledgement, Clock
from spyhole.core.outcome import EstimateOutcome, PromptOutcome
from spyhole.services.archive import ArchiveTrouble, Batch, Checkpoint, Message, Step
from spyhole.store.writer import Pace

if TYPE_CHECKING:
    from conftest import Record


@pytest.fixture
def record(any_record: "Record") -> "Record":
    """On a file and on a server alike."""
    return any_record


def test_readings_and_journal_come_back_in_one_order_over_many_pieces(record: "Record") -> None:
    archive = record.open()
    rows = [
        record.reading(sequence, Acknowledgement(f"a{sequence}", "") if sequence % 7 == 0 else None)
        for sequence in range(1, 6001)
    ]
    archive.put(Batch(steps=tuple(map(Step, rows))))
    assert archive.flush(30)
    assert list(archive.rows_after("Puffin", 0)) == rows
    assert list(archive.rows_after("Puffin", 5990)) == rows[5990:]
    assert list(archive.rows_between("Puffin", 2000, 2010)) == rows[1999:2010]
    assert list(archive.rows_after("Puffin", 6000)) == []


def test_rows_committed_while_a_reader_reads_come_too(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(steps=record.steps(1, 2000), urgent=True))
    assert archive.flush(30)
    rows = archive.rows_after("Puffin", 0)
    first = next(rows)
    archive.put(Batch(steps=record.steps(2001, 2003)))
    assert archive.flush(30)
    assert [first.sequence, *(row.sequence for row in rows)] == list(range(1, 2004))


def test_two_kilns_keep_their_rows_apart(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(steps=record.steps(1, 3) + record.steps(1, 2, kiln="Wren")))
    assert archive.flush(30)
    assert archive.kilns() == ["Puffin", "Wren"]
    assert [archive.last_sequence(kiln) for kiln in ("Puffin", "Wren", "Tern")] == [3, 2, 0]
    assert [row.kiln for row in archive.rows_after("Wren", 0)] == ["Wren", "Wren"]
    assert list(archive.rows_after("Tern", 0)) == []


@pytest.mark.parametrize("sequence", [1, 3, 5])
def test_a_row_out_of_order_is_refused(record: "Record", sequence: int) -> None:
    archive = record.open()
    archive.put(Batch(steps=record.steps(1, 3)))
    with pytest.raises(ValueError, match=f"row {sequence} of Puffin is out of order: the last was 3"):
        archive.put(Batch(steps=(Step(record.reading(sequence)),)))


def test_order_goes_on_after_a_restart(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(steps=record.steps(1, 3)))
    assert archive.close(30)
    archive = record.open()
    assert archive.last_sequence("Puffin") == 3
    with pytest.raises(ValueError, match="the last was 3"):
        archive.put(Batch(steps=record.steps(3, 3)))
    archive.put(Batch(steps=record.steps(4, 4)))
    assert archive.flush(30)


def test_what_is_urgent_is_on_the_disk_at_once_with_all_before_it(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(steps=record.steps(1, 3)))
    archive.put(Batch(steps=(Step(record.reading(4, Acknowledgement("a1", "")), ()),), urgent=True))
    record.until(lambda: archive.last_sequence("Puffin") == 4)
    assert len(list(archive.rows_after("Puffin", 0))) == 4


def test_the_pace_of_commits() -> None:
    pace = Pace()
    assert pace.due(100, None, urgent=False, firing=True) == 110
    assert pace.due(100, None, urgent=False, firing=False) == 160
    assert pace.due(100, None, urgent=True, firing=False) == 100
    assert pace.due(101, 110, urgent=False, firing=True) == 110, "a later row does not put the commit off"
    assert pace.due(101, 160, urgent=False, firing=True) == 111, "lighting the kiln makes it sooner"
    assert pace.due(103, None, urgent=False, firing=True, last=101) == 111, "ten seconds from commit to commit"
    assert pace.due(200, None, urgent=False, firing=True, last=101) == 210


def test_many_rows_do_not_wait_for_the_pace(record: "Record") -> None:
    archive = record.open(Pace(firing_seconds=1e6, rows=50))
    archive.put(Batch(steps=record.steps(1, 50)))
    record.until(lambda: archive.last_sequence("Puffin") == 50)


def test_flush_is_true_at_once_when_nothing_waits(record: "Record") -> None:
    assert record.open().flush(0)


def test_closing_commits_what_is_held(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(steps=record.steps(1, 3)))
    assert archive.close(30)
    assert record.open().last_sequence("Puffin") == 3


@pytest.fixture
def fail_at() -> Iterator[list[str]]:
    """While a table is named here, each insert into it fails after the statements before it have run."""
    failing: list[str] = []

    def refuse(_conn: object, _cursor: object, statement: str, *_rest: object) -> None:
        if any(statement.startswith(f"INSERT INTO {table} ") for table in failing):
            raise OSError("the card is out")

    event.listen(Engine, "before_cursor_execute", refuse)
    yield failing
    event.remove(Engine, "before_cursor_execute", refuse)


MESSAGE = Message(
    "Puffin/a1/potter/0", "potter", "Stall", "The top ring climbs too slowly.", urgent=True, created_utc_ms=5
)


def test_row_outcome_and_message_are_one_transaction(record: "Record", fail_at: list[str]) -> None:
    archive = record.open()
    alarm, prompt = record.alarm(), PromptOutcome(5, "turn-due", ())
    nothing = dict.fromkeys(("cone_progress", "bend_degrees", "next_turn", "cone_down", "shut_off", "timer"))
    estimate = EstimateOutcome(0, "low", heating=True, rings=(), cones=(), cool=(), ceiling_celsius=None, **nothing)
    fail_at.append("message")
    archive.put(
        Batch(
            steps=(*record.steps(1, 2), Step(record.reading(3), (estimate, alarm, prompt))),
            messages=(MESSAGE,),
            checkpoint=Checkpoint("Puffin", 3, 1, b"state"),
            urgent=True,
        )
    )
    record.until(lambda: record.told != [])
    assert not archive.flush(0.05), "a commit that failed is never reported done"
    seen = (
        archive.last_sequence("Puffin"),
        list(archive.outcomes_between("Puffin", 1, 9)),
        archive.checkpoints("Puffin"),
    )
    assert seen == (0, [], [])
    fail_at.clear()
    assert archive.flush(30)
    assert archive.last_sequence("Puffin") == 3
    assert list(archive.outcomes_between("Puffin", 1, 9)) == [(3, alarm), (3, prompt)], "estimates are made again"
    assert [pending.message for pending in archive.pending_messages()] == [MESSAGE]
    record.until(lambda: record.told[-1] == ("watch-store", None))


def test_what_was_put_while_a_commit_failed_comes_after_it(record: "Record", fail_at: list[str]) -> None:
    archive = record.open()
    fail_at.append("journal")
    for sequence in range(1, 6):
        archive.put(Batch(steps=(Step(record.reading(sequence, Clock(sequence, synchronised=True))),), urgent=True))
    record.until(lambda: record.told != [])
    fail_at.clear()
    assert archive.flush(30)
    assert [row.sequence for row in archive.rows_after("Puffin", 0)] == [1, 2, 3, 4, 5]


def test_a_commit_whose_end_is_unknown_is_written_again_without_harm(record: "Record") -> None:
    """As when the card took the commit and the answer to it was an error."""
    archive = record.open()
    batch = Batch(steps=(Step(record.reading(1), (record.alarm(),)),), messages=(MESSAGE,), urgent=True)

    def commit_and_fail(connection: Connection) -> None:
        connection.connection.commit()
        event.remove(Engine, "commit", commit_and_fail)
        raise OSError("no answer")

    event.listen(Engine, "commit", commit_and_fail)
    archive.put(batch)
    assert archive.flush(30)
    assert [code for code, _ in record.told][:1] == ["watch-store"]
    assert [row.sequence for row in archive.rows_after("Puffin", 0)] == [1]
    assert len(list(archive.outcomes_between("Puffin", 1, 1))) == 1
    assert len(archive.pending_messages()) == 1


def test_the_writer_goes_on_though_nobody_could_be_told_of_its_trouble(record: "Record", fail_at: list[str]) -> None:
    def deaf(_code: str, _words: str | None) -> None:
        raise RuntimeError("nobody there")

    archive = record.open(tell=deaf)
    fail_at.append("reading")
    archive.put(Batch(steps=record.steps(1, 1)))
    assert not archive.flush(0.05)
    fail_at.clear()
    assert archive.flush(30)


def test_a_record_that_cannot_be_read_says_so_in_a_sentence(file_record: "Record") -> None:
    archive = file_record.open()
    (file_record.folder / "spyhole.db").rename(file_record.folder / "elsewhere.db")
    with pytest.raises(ArchiveTrouble, match=r"^The record cannot be read just now"):
        archive.firings("Puffin")
