"""Faults 3, 5 and 23: the power goes at every boundary between two writes of a real record, from its first page on.

Each image is what a card may hold then. What was synced is there; of what was written since, nothing, everything, or
any part in any order, torn at a sector: that is all `fsync` promises, and a model of ours. It assumes a card that
honours a flush; one that does not can lose more, and nothing in software helps. SEED fixes the parts.
"""

import random
import runpy
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import Engine, event

from spyhole.core.journal import Acknowledgement
from spyhole.core.refusal import Refusal
from spyhole.services.archive import ArchiveTrouble, Batch, Checkpoint, Message, Step
from spyhole.store import database, troubles
from spyhole.store.archive import SqlArchive, open_archive

if TYPE_CHECKING:
    from card import Card, Done

    from conftest import Record

Card = runpy.run_path(str(Path(__file__).parent / "card.py"))["Card"]

SEED = 20311031
SECTOR = 512
BOUNDARIES_AT_LEAST, IMAGES_AT_LEAST = 400, 1000
FSYNC_FAILED = sqlite3.SQLITE_IOERR_FSYNC


@pytest.fixture
def card(monkeypatch: pytest.MonkeyPatch) -> Iterator["Card"]:
    """Records are on it; its log goes back into the database every twenty pages, so that this too is cut."""
    made = Card()
    monkeypatch.setattr(database, "_OURS", "card")
    really = database.sync_folder

    def sync_folder(folder: Path) -> None:
        really(folder)
        made.folder_synced()

    monkeypatch.setattr(database, "sync_folder", sync_folder)
    yield made
    made.take_out()


@pytest.fixture
def pragmas() -> Iterator[list[str]]:
    """More of them, for connections opened from now on."""
    more = ["wal_autocheckpoint=20"]

    def connected(connection: sqlite3.Connection, _: object) -> None:
        for pragma in more:
            connection.execute(f"PRAGMA {pragma}")

    event.listen(Engine, "connect", connected)
    yield more
    event.remove(Engine, "connect", connected)


@dataclass
class Run:
    """What was done, and after how many operations which sequence was reported to be on the disk."""

    done: list["Done"]
    reported: list[tuple[int, int]] = field(default_factory=list)

    def promised(self, boundary: int) -> int:
        return max((sequence for at, sequence in self.reported if at <= boundary), default=0)


def write(record: "Record", card: "Card", batches: int, before: Callable[[int], bool] = lambda batch: True) -> Run:
    """Batches of seven rows, one a thing somebody did with a message beside it, and a checkpoint, each flushed.

    before: told the number of the batch to come; whether the card can take it.
    """
    run = Run(card.done)
    archive = record.open()
    noise = random.Random(SEED)
    for batch in range(batches):
        takes = before(batch)
        first = 7 * batch + 1
        act = record.reading(first, Acknowledgement(f"a{first}", ""))
        archive.put(
            Batch(
                steps=(Step(act, (record.alarm(f"a{first}"),)), *record.steps(first + 1, first + 6)),
                messages=(Message(str(first), "potter", "", "", urgent=True, created_utc_ms=first),),
                checkpoint=Checkpoint("Puffin", first + 6, 1, noise.randbytes(1500)),
            )
        )
        if not takes:
            assert not archive.flush(0.3)
            record.until(lambda: record.told != [])  # it has been tried
        elif archive.flush(30):
            run.reported.append((len(card.done), first + 6))
    record.close()
    return run


class Images:
    """Files as they may be after each operation; asked in order."""

    def __init__(self, done: list["Done"]) -> None:
        self.done = done
        self.synced: dict[str, bytes] = {}
        self.since: dict[str, list[Done]] = {}
        self.parts = random.Random(SEED)

    def follow(self, operation: "Done") -> None:
        name = operation.file
        if operation.what == "sync-folder":
            for gone in [name for name, since in self.since.items() if since[-1].what == "delete"]:
                self.synced[gone] = self._with(gone, self.since.pop(gone))
        elif operation.what == "sync":
            self.synced[name] = self._with(name, self.since.pop(name, []))
        elif operation.what == "failed-sync":
            self.since.pop(name, None)  # the kernel takes these pages for written, and nobody writes them again
        else:
            self.since.setdefault(name, []).append(operation)

    def all(self) -> Iterator[dict[str, bytes]]:
        """Nothing since the last sync, everything, and two with parts."""
        files = sorted(self.synced.keys() | self.since.keys())
        yield dict(self.synced)
        yield {name: self._with(name, self.since.get(name, [])) for name in files}
        for _ in range(2):
            yield {name: self._with(name, list(self._some(self.since.get(name, [])))) for name in files}

    def _some(self, operations: list["Done"]) -> Iterator["Done"]:
        if any(operation.what == "delete" for operation in operations) and self.parts.random() < 0.5:
            return  # the folder still names the file of before, and what came after went into another
        for operation in operations:
            if operation.what == "delete":
                yield operation
                continue
            if operation.what == "truncate":
                if self.parts.random() < 0.5:
                    yield operation
                continue
            for at in range(0, len(operation.content), SECTOR):
                if self.parts.random() < 0.5:
                    piece = operation.content[at : at + SECTOR]
                    yield type(operation)(operation.file, "write", operation.offset + at, piece)

    def _with(self, name: str, operations: list["Done"]) -> bytes:
        content = bytearray(self.synced.get(name, b""))
        for operation in operations:
            if operation.what == "delete":
                content.clear()
            elif operation.what == "truncate":
                del content[operation.offset :]
                content.extend(bytes(operation.offset - len(content)))
            else:
                end = operation.offset + len(operation.content)
                content.extend(bytes(max(0, end - len(content))))
                content[operation.offset : end] = operation.content
        return bytes(content)


@dataclass
class Found:
    """images: how many were opened. lost, corrupt: at which boundaries."""

    images: int = 0
    lost: list[int] = field(default_factory=list)
    corrupt: list[int] = field(default_factory=list)


def cut(run: Run, folder: Path) -> Found:
    """Open what is left at each boundary."""
    found = Found()
    images = Images(run.done)
    seen: set[tuple[int, int]] = set()
    for boundary, operation in enumerate(run.done, 1):
        images.follow(operation)
        for image in images.all():
            mark = hash(tuple(sorted(image.items()))), run.promised(boundary)
            if mark in seen:
                continue
            seen.add(mark)
            found.images += 1
            _look(image, folder, boundary, run.promised(boundary), found)
    return found


def _look(image: dict[str, bytes], folder: Path, boundary: int, promised: int, found: Found) -> None:
    for old in folder.iterdir():
        old.unlink()
    for name, content in image.items():
        if content:
            (folder / name).write_bytes(content)
    told: list[Any] = []
    try:
        # As the daemon does at the next start: in a record that was cut off, only a writer may tidy up.
        with _opened(folder, told) as archive:
            rows = list(archive.rows_after("Puffin", 0))
            problems = archive.integrity_check()
            acts = [row.sequence for row in rows if isinstance(row.told, Acknowledgement)]
            whole = (
                len(rows) % 7 == 0
                and [int(pending.message.key) for pending in archive.pending_messages()] == acts
                and [sequence for sequence, _ in archive.outcomes_between("Puffin", 1, len(rows))] == acts
                and (not rows or archive.checkpoints("Puffin")[0].sequence == len(rows))
            )
    except (Refusal, ArchiveTrouble):
        found.corrupt.append(boundary)
        return
    if problems or told or not whole or [row.sequence for row in rows] != list(range(1, len(rows) + 1)):
        found.corrupt.append(boundary)
    if len(rows) < promised:
        found.lost.append(boundary)


@contextmanager
def _opened(folder: Path, told: list[Any]) -> Iterator[SqlArchive]:
    archive = open_archive(folder, seconds=time.monotonic, tell=lambda *what: told.append(what))
    try:
        yield archive
    finally:
        archive.close(30)


def made_by(record: "Record", card: "Card") -> int:
    """Operations after which the tables are there."""
    record.open()
    record.close()
    return len(card.done)


def _hurry(connection: sqlite3.Connection, _: object) -> None:
    """What is opened after a cut is looked at and not cut again: none of it has to reach this machine's disk."""
    connection.execute("PRAGMA synchronous=OFF")


def cuts(record: "Record", card: "Card", folder: Path, batches: int, **more: Any) -> tuple[Run, Found]:
    made = made_by(record, card)
    run = write(record, card, batches, **more)
    with pytest.MonkeyPatch.context() as elsewhere:
        elsewhere.setattr(database, "_OURS", "unix-excl")
        elsewhere.setattr(database, "sync_folder", lambda folder: None)
        event.listen(Engine, "connect", _hurry)
        try:
            found = cut(run, folder)
        finally:
            event.remove(Engine, "connect", _hurry)
    print(f"{len(run.done)} boundaries, {made} of them before the tables were there; {found.images} images")
    return run, found


def test_faults_3_and_23_the_power_goes_at_every_write_from_the_first_table_on(
    record: "Record", card: "Card", pragmas: list[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    run, found = cuts(record, card, tmp_path_factory.mktemp("cut"), 9)
    assert len(run.reported) == 9, "every batch was reported to be on the disk"
    assert len(run.done) >= BOUNDARIES_AT_LEAST
    assert found.images >= IMAGES_AT_LEAST
    assert (found.corrupt, found.lost) == ([], [])


def test_fault_5_a_commit_whose_fsync_failed_is_not_called_done_and_the_power_may_go_then_too(
    record: "Record", card: "Card", pragmas: list[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    troubled = {2: "spyhole.db-wal", 4: "spyhole.db", 5: "spyhole.db"}

    def before(batch: int) -> bool:
        """With its log broken it takes nothing; without what it folds that back into it takes everything."""
        broken = troubled.get(batch)
        card.fail = lambda file, what: FSYNC_FAILED if (file, what) == (broken, "sync") else None
        return broken != "spyhole.db-wal"

    run, found = cuts(record, card, tmp_path_factory.mktemp("cut"), 6, before=before)
    assert any(operation == type(operation)("spyhole.db-wal", "failed-sync") for operation in run.done)
    assert any(operation == type(operation)("spyhole.db", "failed-sync") for operation in run.done)
    assert 21 not in [sequence for _, sequence in run.reported], "the third batch waited for the card to mend"
    assert run.reported[-1][1] == 42, "and nothing was let go meanwhile"
    assert record.told[0] == ("watch-disk", troubles.DISK_ERROR.words)
    assert record.told[-1] == ("watch-disk", None)
    assert (found.corrupt, found.lost) == ([], [])


@pytest.mark.parametrize("promise", ["NORMAL", "OFF"])
def test_this_would_see_a_record_that_promises_less(
    record: "Record", card: "Card", pragmas: list[str], tmp_path_factory: pytest.TempPathFactory, promise: str
) -> None:
    pragmas.append(f"synchronous={promise}")
    _, found = cuts(record, card, tmp_path_factory.mktemp("cut"), 3)
    assert found.lost
    assert bool(found.corrupt) == (promise == "OFF")
