"""Faults 3 and 23 for a restore: the power goes between any two of its steps, and the old or the new record is there.

What a step did to the folder may or may not be on the card until the folder is synced, each step by itself; a file
that was not synced before it got its name holds any first part of itself. SEED fixes the parts.
"""

import itertools
import os
import random
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from spyhole.core.journal import Row
from spyhole.core.reading import ProbeReading, Reading
from spyhole.core.refusal import Refusal
from spyhole.services.archive import ArchiveTrouble, Batch, Step
from spyhole.store import restoring
from spyhole.store.archive import open_archive
from spyhole.store.backup import back_up
from spyhole.store.database import DATABASE
from spyhole.store.restoring import BESIDE, restore

SEED = 20311101
OLD, NEW = 40, 90

Names = dict[str, bytes]
"""What a folder holds, by name; files in folders below it as well."""


def write(folder: Path, rows: int) -> None:
    archive = open_archive(folder, seconds=time.monotonic, tell=lambda code, words: None)
    made = (Row("Puffin", n, "boot", n, Reading((ProbeReading(n / 128),))) for n in range(1, rows + 1))
    archive.put(Batch(tuple(map(Step, made))))
    assert archive.flush(30)
    cut_off = held(folder)  # its log is not folded back yet
    assert archive.close(30)
    for name, content in cut_off.items():
        (folder / name).write_bytes(content)


def held(folder: Path) -> Names:
    found = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in found}


@dataclass
class Card:
    """durable: what is on it for certain. steps: what was done to its names since, oldest first."""

    folder: Path
    durable: Names
    steps: list[Callable[[Names], None]] = field(default_factory=list)
    unsynced: set[str] = field(default_factory=set)
    parts: random.Random = field(default_factory=lambda: random.Random(SEED))

    def images(self) -> Iterator[Names]:
        for kept in itertools.product((False, True), repeat=len(self.steps)):
            image = dict(self.durable)
            for step, really in zip(self.steps, kept, strict=True):
                if really:
                    step(image)
            yield image

    def content(self, name: str) -> bytes:
        whole = (self.folder / name).read_bytes()
        return whole[: self.parts.randrange(len(whole))] if name in self.unsynced else whole

    def named(self, source: str, target: str, *, gone: bool) -> Callable[[Names], None]:
        content = self.content(source)

        def step(image: Names) -> None:
            image[target] = content
            if gone:
                image.pop(source, None)

        return step

    def folded_back(self) -> None:
        """SQLite folds a log back by itself: what it then writes it syncs, and the log's name goes like any other."""
        log, now = f"{DATABASE}-wal", held(self.folder)
        whole = dict(self.durable)
        for step in self.steps:
            step(whole)
        if log in whole and log not in now:
            self.durable[DATABASE] = now[DATABASE]
            self.steps.append(self.removed(log))

    def removed(self, name: str) -> Callable[[Names], None]:
        return lambda image: image.pop(name, None) and None


@dataclass
class Cuts:
    """boundaries: how often the power could go. images: what may have been on the card then, each once."""

    boundaries: int = 0
    images: list[Names] = field(default_factory=list)


def cuts_of(backup: Path, folder: Path, patch: pytest.MonkeyPatch, *, honest: bool = True) -> Cuts:
    """Restore into this folder, cut at each step. honest: False is a restore that forgets to sync its file."""
    card, found = Card(folder, held(folder)), Cuts()
    link, rename, unlink, fsync, sync_folder = os.link, os.replace, Path.unlink, os.fsync, restoring.sync_folder

    def name_of(path: str | Path) -> str | None:
        path = Path(path)
        return str(path.relative_to(folder)) if path.is_relative_to(folder) else None

    def cut() -> None:
        found.boundaries += 1
        for image in card.images():
            if image not in found.images:
                found.images.append(image)

    def linking(source: Path, target: Path) -> None:
        card.folded_back()
        card.steps.append(card.named(str(name_of(source)), str(name_of(target)), gone=False))
        link(source, target)
        cut()

    def renaming(source: Path, target: Path) -> None:
        card.folded_back()
        card.steps.append(card.named(str(name_of(source)), str(name_of(target)), gone=True))
        rename(source, target)
        cut()

    def removing(path: Path, *, missing_ok: bool = False) -> None:
        name = name_of(path)
        if name is not None and path.exists():
            card.steps.append(card.removed(name))
        unlink(path, missing_ok=missing_ok)
        cut()

    def syncing(number: int) -> None:
        name = name_of(os.readlink(f"/proc/self/fd/{number}"))
        if name is not None and honest:
            card.unsynced.discard(name)
            fsync(number)
        cut()

    def folder_syncing(there: Path) -> None:
        card.folded_back()
        sync_folder(there)
        if there == folder:
            for step in card.steps:
                step(card.durable)
            card.steps.clear()
        cut()

    card.unsynced.add(f"{BESIDE}/{DATABASE}")
    patch.setattr(os, "link", linking)
    patch.setattr(os, "replace", renaming)
    patch.setattr(Path, "unlink", removing)
    patch.setattr(os, "fsync", syncing)
    patch.setattr(restoring, "sync_folder", folder_syncing)
    restore(backup, folder)
    patch.undo()
    return found


def started(image: Names, folder: Path) -> tuple[int, bool]:
    """As the daemon starts next: how many rows there are, and whether the record is whole and nothing is left about."""
    for name, content in image.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    (folder / BESIDE).mkdir(exist_ok=True)
    told: list[str] = []
    try:
        archive = open_archive(folder, seconds=time.monotonic, tell=lambda code, words: told.append(code))
    except (Refusal, ArchiveTrouble):
        return 0, False
    try:
        rows = sum(1 for _ in archive.rows_after("Puffin", 0))
        return rows, not told and archive.integrity_check() == [] and not (folder / BESIDE).exists()
    except ArchiveTrouble:
        return 0, False
    finally:
        archive.close(30)


@pytest.fixture
def scene(tmp_path: Path) -> tuple[Path, Path]:
    """A backup of one record, and the folder of another, whose last commit is still in its log."""
    write(tmp_path / "source", NEW)
    back_up(tmp_path / "source", tmp_path / "b.zip", made_utc_ms=0, spyhole="0")
    write(tmp_path / "data", OLD)
    assert (tmp_path / "data" / f"{DATABASE}-wal").stat().st_size
    return tmp_path / "b.zip", tmp_path / "data"


def test_the_power_goes_at_each_step_of_a_restore_and_the_old_or_the_new_record_is_there(
    scene: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cuts = cuts_of(*scene, monkeypatch)
    seen = set()
    for number, image in enumerate(cuts.images):
        rows, whole = started(image, tmp_path / f"cut-{number}")
        assert whole, f"image {number} has {rows} rows"
        assert rows in (OLD, NEW)
        seen.add(rows)
    assert seen == {OLD, NEW}
    assert cuts.boundaries >= 6


def test_this_would_see_a_restore_that_forgets_to_sync_its_file(
    scene: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cuts = cuts_of(*scene, monkeypatch, honest=False)
    assert not all(
        started(image, tmp_path / f"cut-{n}") in ((OLD, True), (NEW, True)) for n, image in enumerate(cuts.images)
    )
