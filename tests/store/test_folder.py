"""One daemon a folder, and a sentence for every folder that will not do."""

import errno
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from spyhole.core.refusal import Refusal
from spyhole.services.archive import Batch
from spyhole.store.archive import open_records
from spyhole.store.database import DATABASE, LOCK, LOG_BYTES, FolderLock, grow_log

if TYPE_CHECKING:
    from conftest import Record

OPEN = (
    "import sys, time; from pathlib import Path; from spyhole.store.archive import open_archive;"
    "archive = open_archive(Path(sys.argv[1]), seconds=time.monotonic, tell=print)\n"
    "print('open', flush=True); sys.stdin.read()"
)


def test_a_second_daemon_is_refused_with_the_pid_of_the_first(record: "Record") -> None:
    with subprocess.Popen(
        [sys.executable, "-c", OPEN, record.folder], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == "open\n"
        with pytest.raises(Refusal) as refused:
            record.open()
        assert str(refused.value) == (
            f"{record.folder}: another spyhole (process {first.pid}) is writing the record here, "
            "and two would spoil it; stop that one first, or give this one a folder of its own"
        )
        first.kill()
    record.open()  # a killed daemon leaves no lock behind


def test_one_process_cannot_open_it_twice_either(record: "Record") -> None:
    record.open()
    with pytest.raises(Refusal, match=f"process {os.getpid()}"):
        record.open()


def test_a_command_reads_while_the_daemon_writes(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(steps=record.steps(1, 3)))
    assert archive.flush(30)
    with open_records(record.folder) as records:
        assert records.last_sequence("Puffin") == 3


def test_the_folder_is_made_when_only_its_last_part_is_missing(record: "Record") -> None:
    record.folder /= "record"
    record.open()
    assert record.folder.is_dir()


@pytest.mark.parametrize("below", ["no/such", "file"])
def test_a_folder_that_cannot_be_is_refused(record: "Record", below: str) -> None:
    (record.folder / "file").touch()
    record.folder /= below
    with pytest.raises(Refusal, match=r"cannot be made or is not a folder .*; name a folder whose parent exists"):
        record.open()


def test_a_folder_where_nothing_can_be_written_is_refused() -> None:
    # The kernel's own: nobody can make a file there, root included, as which a test may run.
    with pytest.raises(
        Refusal, match=r"spyhole cannot write here .*, so nothing would be kept; give it a folder"
    ) as it:
        FolderLock(Path("/proc/self"))
    assert not it.value.passing, "it is for somebody to mend"


def test_a_card_that_takes_no_writes_may_take_them_later(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def read_only(path: Path, flags: int, mode: int) -> int:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS), path)

    monkeypatch.setattr(os, "open", read_only)
    with pytest.raises(Refusal, match=r"cannot write here \(Read-only file system\).*change its card") as refused:
        FolderLock(tmp_path)
    assert refused.value.passing


def test_a_failed_opening_lets_go_of_the_folder(record: "Record") -> None:
    with closing(sqlite3.connect(record.folder / DATABASE)) as other:
        other.execute("CREATE TABLE recipes (glaze TEXT)")
    for _ in range(2):
        with pytest.raises(Refusal, match="another program's database"):
            record.open()
    (record.folder / "spyhole.db").unlink()
    record.open()
    assert (record.folder / LOCK).read_text() == f"{os.getpid()}\n"


def test_there_is_nothing_to_read_where_no_record_is(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="there is no record here"):
        open_records(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_while_a_daemon_has_it_open_no_other_process_reads_it_and_is_told_why(record: "Record") -> None:
    record.open()
    script = (
        "import sys; from pathlib import Path; from spyhole.store.archive import open_records;"
        "from spyhole.core.refusal import Refusal\n"
        "try: open_records(Path(sys.argv[1]))\n"
        "except Refusal as refusal: print(refusal)"
    )
    said = subprocess.run([sys.executable, "-c", script, record.folder], capture_output=True, text=True, check=True)
    assert "a spyhole that watches keeps its record to itself" in said.stdout
    assert not (record.folder / f"{DATABASE}-shm").exists(), "the index of the log stays in memory"


def test_a_record_another_program_keeps_locked_is_refused(record: "Record") -> None:
    record.open().close(30)
    with closing(sqlite3.connect(record.folder / DATABASE, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(Refusal, match=r"cannot be used \(database is locked\); a spyhole that watches"):
            record.open()


def test_the_log_is_as_long_as_it_gets_from_the_start(record: "Record") -> None:
    archive = record.open()
    log = record.folder / f"{DATABASE}-wal"
    grown = log.stat().st_size
    assert grown == LOG_BYTES
    for batch in range(400):
        archive.put(Batch(steps=record.steps(7 * batch + 1, 7 * batch + 7), urgent=True))
        assert archive.flush(30)
    assert log.stat().st_size == grown, "no commit has to write its length"
    assert archive.integrity_check() == []


def test_a_card_with_little_room_keeps_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = tmp_path / f"{DATABASE}-wal"
    log.write_bytes(b"")
    room = shutil.disk_usage(tmp_path)._replace(free=LOG_BYTES)
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: room)
    grow_log(tmp_path)
    assert log.stat().st_size == 0
