"""Fault 6: the database is cut short or has bits flipped. It is moved aside, whole, and the watch goes on in a new one.

SQLite keeps no checksum of its pages: a flipped bit inside a stored number is not seen by it, nor by us.
"""

import os
import random
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from spyhole.services.archive import ArchiveDamaged, Batch, Checkpoint
from spyhole.store.database import DATABASE

if TYPE_CHECKING:
    from conftest import Record

SEED = 20311101
ROWS = 6000
PAGE = 1024
INTERIOR = (2, 5)
LEAF = 13
"""First byte of a table's page in SQLite's file format: interior of an index or a table, leaf of a table."""


def full(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(steps=record.steps(1, ROWS), checkpoint=Checkpoint("Puffin", ROWS - 1000, 1, b"x" * 3000)))
    assert archive.flush(30)
    record.close()


def pages(content: bytes, *kinds: int) -> list[int]:
    """Where pages of these kinds begin, but for the first."""
    return [at for at in range(PAGE, len(content), PAGE) if content[at] in kinds]


def flip(path: Path, at: int, count: int = 8) -> None:
    content = bytearray(path.read_bytes())
    for offset in range(at, at + count):
        content[offset] ^= 0xFF
    path.write_bytes(content)


def header(path: Path) -> None:
    flip(path, 0)


def schema(path: Path) -> None:
    flip(path, 100)


def half(path: Path) -> None:
    os.truncate(path, path.stat().st_size // 2)


def nothing(path: Path) -> None:
    os.truncate(path, 0)


def one_page(path: Path) -> None:
    os.truncate(path, PAGE)


@pytest.mark.parametrize("damage", [header, schema, half, nothing, one_page])
def test_found_at_the_start_it_is_moved_aside_and_a_new_record_begun(
    record: "Record", damage: Callable[[Path], None]
) -> None:
    full(record)
    damage(record.folder / DATABASE)
    damaged = (record.folder / DATABASE).read_bytes()
    archive = record.open()
    ((code, words),) = record.told
    assert code == "watch-store"
    assert "moved aside as spyhole.db.damaged-1" in str(words)
    assert (record.folder / "spyhole.db.damaged-1").read_bytes() == damaged
    archive.put(Batch(steps=record.steps(1, 10), urgent=True))
    assert archive.flush(30)
    assert archive.last_sequence("Puffin") == 10
    assert archive.integrity_check() == []


@pytest.mark.parametrize("kinds", [INTERIOR, (LEAF,)])
def test_found_while_reading_or_writing_the_next_rows_go_into_a_new_record_under_their_own_sequence(
    record: "Record", kinds: tuple[int, ...]
) -> None:
    full(record)
    path = record.folder / DATABASE
    for at in pages(path.read_bytes(), *kinds):
        flip(path, at)
    archive = record.open()
    try:
        list(archive.rows_after("Puffin", 0))
    except ArchiveDamaged:
        archive.begin_anew()
    first = max(1, archive.last_put("Puffin") + 1)
    archive.put(Batch(steps=record.steps(first, first + 20), urgent=True))
    assert archive.flush(30)
    assert [code for code, _ in record.told] == ["watch-store"]
    assert [row.sequence for row in archive.rows_after("Puffin", 0)] == list(range(first, first + 21))
    assert archive.integrity_check() == []
    assert (record.folder / "spyhole.db.damaged-1").is_file()


def test_a_damaged_log_costs_what_came_after_the_damage_and_nothing_before(record: "Record", tmp_path: Path) -> None:
    """SQLite sums the frames of its log, and takes it for ended where the sum is wrong."""
    archive = record.open()
    for batch in range(40):
        archive.put(Batch(steps=record.steps(7 * batch + 1, 7 * batch + 7), urgent=True))
        assert archive.flush(30)
    files = {name: (record.folder / name).read_bytes() for name in (DATABASE, f"{DATABASE}-wal")}
    record.close()
    places = random.Random(SEED)
    kept = set()
    for _ in range(20):
        for name, content in files.items():
            (record.folder / name).write_bytes(content)
        written = len(files[f"{DATABASE}-wal"].rstrip(b"\0"))  # the rest was grown and not used yet
        flip(record.folder / f"{DATABASE}-wal", places.randrange(0, written - 8))
        record.told.clear()
        archive = record.open()
        rows = [row.sequence for row in archive.rows_after("Puffin", 0)]
        assert rows == list(range(1, len(rows) + 1))
        assert len(rows) % 7 == 0, "each commit whole or not at all"
        assert archive.integrity_check() == []
        assert record.told == []
        kept.add(len(rows))
        record.close()
    assert len(kept) > 3, "damage early and late in the log was met"


def test_a_machine_that_damages_every_record_is_told_of_and_not_followed_for_ever(record: "Record") -> None:
    full(record)
    archive = record.open()
    for _ in range(6):
        archive.begin_anew()
        archive.put(Batch(steps=record.steps(archive.last_put("Puffin") + 1, archive.last_put("Puffin") + 1)))
        archive.flush(30)
    aside = sorted(path.name for path in record.folder.glob("*.damaged-*") if not path.name.endswith(("-wal", "-shm")))
    assert len(aside) <= 3
