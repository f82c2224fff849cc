"""Photographs in the record, on both databases, and in a backup."""

from typing import TYPE_CHECKING

from spyhole.services.archive import Batch, Photo
from spyhole.store.archive import open_records
from spyhole.store.backup import back_up
from spyhole.store.restoring import restore

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import Record

CONES = Photo("a" * 32, bytes(range(256)) * 400)


def test_a_photograph_comes_back_as_it_was_and_twice_is_once(any_record: "Record") -> None:
    archive = any_record.open()
    for _ in range(2):
        archive.put(Batch(photos=(CONES,), urgent=True))
        assert archive.flush(30)
    assert archive.photo(CONES.name) == CONES.jpeg
    assert archive.photo("b" * 32) is None
    any_record.close()


def test_a_backup_carries_it(record: "Record", tmp_path: "Path") -> None:
    archive = record.open()
    many = tuple(Photo(f"{n:032x}", bytes([n]) * 100_000) for n in range(40))  # more than one piece
    archive.put(Batch(photos=many, urgent=True))
    assert archive.flush(30)
    record.close()
    back_up(record.folder, tmp_path / "kept.zip", made_utc_ms=0, spyhole="0")
    restore(tmp_path / "kept.zip", tmp_path / "anew")
    with open_records(tmp_path / "anew") as records:
        assert all(records.photo(photo.name) == photo.jpeg for photo in many)
