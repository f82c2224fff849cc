"""Old readings are let go a little at a time; never those of the firing under way or those a recovery needs."""

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from spyhole.core.journal import Clock, Row
from spyhole.core.reading import ProbeReading, Reading
from spyhole.services.archive import ArchiveTrouble, Batch, Checkpoint, Firing, Minute, RingMinute, Step
from spyhole.services.desk import FiringSummary
from spyhole.store import upkeep as upkeep_module
from spyhole.store.archive import SqlArchive
from spyhole.store.database import DATABASE
from spyhole.store.location import Location
from spyhole.store.upkeep import SECONDS_A_DAY, Upkeep

if TYPE_CHECKING:
    from conftest import Record

DAY_MS = 86_400_000
TEN = 1_951_242_000_000
FIRING = FiringSummary(2, "Bisque, cone 06", "06", TEN, TEN + 1, None, 900.0, 1.0, 0)


@pytest.fixture
def record(any_record: "Record") -> "Record":
    """On a file and on a server alike."""
    return any_record


def upkeep_of(record: "Record") -> Upkeep:
    return Location(record.folder, record.url).upkeep(lambda: None)


def days(record: "Record", count: int, *, synchronised: bool = True) -> SqlArchive:
    """One clock row, then a reading each half day; the last is of today."""
    archive = record.open()
    rows = [Row("Puffin", 1, "first", 0, Clock(TEN, synchronised))]
    rows += [
        Row("Puffin", n, "first", (n - 1) * DAY_MS // 2, Reading((ProbeReading(20.0),)))
        for n in range(2, 2 * count + 2)
    ]
    archive.put(Batch(steps=tuple(map(Step, rows))))
    assert archive.flush(30)
    return archive


def readings(archive: SqlArchive) -> list[int]:
    return [row.sequence for row in archive.rows_after("Puffin", 0) if isinstance(row.told, Reading)]


def test_readings_older_than_the_days_are_let_go_and_nothing_else(record: "Record") -> None:
    archive = days(record, 100)
    minutes = [Minute("Puffin", 2, n, "first", n, "low", None, (RingMinute(1, 2, 3),)) for n in (3, 4)]
    archive.put(Batch(minutes=tuple(minutes), firings=(Firing("Puffin", FIRING, "plan", "kiln"),)))
    assert archive.flush(30)
    gone = upkeep_of(record).forget_readings(60, TEN + 100 * DAY_MS)
    assert gone == 79, "from the second half day to the eightieth"
    assert readings(archive) == list(range(81, 202))
    assert [type(row.told) for row in archive.rows_between("Puffin", 1, 1)] == [Clock]
    assert len(archive.minutes("Puffin", 2)) == 2
    assert upkeep_of(record).forget_readings(60, TEN + 100 * DAY_MS) == 0


def test_the_firing_under_way_keeps_all_of_its_readings(record: "Record") -> None:
    archive = days(record, 100)
    under_way = replace(FIRING, id=40, ended_utc_ms=None)
    archive.put(Batch(firings=(Firing("Puffin", under_way, "plan", "kiln"),)))
    assert archive.flush(30)
    upkeep_of(record).forget_readings(60, TEN + 100 * DAY_MS)
    assert readings(archive)[0] == 40
    archive.put(Batch(firings=(Firing("Puffin", replace(under_way, ended_utc_ms=TEN), "plan", "kiln"),)))
    assert archive.flush(30)
    upkeep_of(record).forget_readings(60, TEN + 100 * DAY_MS)
    assert readings(archive)[0] == 81, "once it has ended they are as old as any"


def test_the_tail_that_a_recovery_folds_is_kept(record: "Record") -> None:
    archive = days(record, 100)
    for sequence in (50, 150, 200):
        archive.put(Batch(checkpoint=Checkpoint("Puffin", sequence, 1, b"state")))
        assert archive.flush(30)
    upkeep_of(record).forget_readings(60, TEN + 100 * DAY_MS)
    assert readings(archive)[0] == 50, "from the oldest checkpoint on"


def test_a_clock_that_is_not_set_lets_go_by_number_alone(record: "Record") -> None:
    archive = days(record, 100, synchronised=False)
    assert upkeep_of(record).forget_readings(60, None) == 0, "years of them would have to be there"
    far = 2 * SECONDS_A_DAY + 150
    archive.close(30)
    archive = record.open()
    # As if a reading each second had been taken all along: the number is what counts.
    archive._last["Puffin"] = far - 1
    archive.put(Batch(steps=(Step(Row("Puffin", far, "first", far, Reading((ProbeReading(20.0),)))),)))
    assert archive.flush(30)
    upkeep_of(record).forget_readings(2, None)
    assert readings(archive) == [*range(150, 202), far]


def test_it_goes_in_small_pieces_and_the_writer_writes_between_them(
    record: "Record", monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(upkeep_module, "PIECE", 10)
    monkeypatch.setattr(upkeep_module, "PIECES", 3)
    archive = days(record, 100)
    written: list[bool] = []

    def pause() -> None:
        archive.put(Batch(steps=(Step(record.reading(202 + len(written))),), urgent=True))
        written.append(archive.flush(30))

    location = Location(record.folder, record.url)
    assert location.upkeep(pause).forget_readings(60, TEN + 100 * DAY_MS) == 30, "no more than so many pieces a pass"
    assert written == [True, True, True]


def test_a_second_kiln_keeps_its_own(record: "Record") -> None:
    archive = days(record, 100)
    rows = [Row("Wren", n, "first", n * 1000 + 99 * DAY_MS, Reading((ProbeReading(20.0),))) for n in range(1, 4)]
    archive.put(Batch(steps=tuple(map(Step, rows))))
    assert archive.flush(30)
    upkeep_of(record).forget_readings(60, TEN + 100 * DAY_MS)
    assert [row.sequence for row in archive.rows_after("Wren", 0)] == [1, 2, 3]


def test_tidying_folds_the_log_back(file_record: "Record") -> None:
    archive = file_record.open()
    archive.put(Batch(steps=file_record.steps(1, 500)))
    assert archive.flush(30)
    log = file_record.folder / f"{DATABASE}-wal"
    assert log.stat().st_size > 0
    upkeep_of(file_record).tidy()
    assert log.stat().st_size == 0
    assert archive.last_sequence("Puffin") == 500


def test_a_server_tidies_itself(server_record: "Record") -> None:
    server_record.open()
    upkeep_of(server_record).tidy()


def test_a_file_that_is_not_there_is_not_made(file_record: "Record") -> None:
    with pytest.raises(ArchiveTrouble, match="could not be tidied"):
        upkeep_of(file_record).tidy()
    assert not (file_record.folder / DATABASE).exists()
