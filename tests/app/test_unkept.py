"""A card that takes no writes from the start on: watched in memory, and said. The card's mount is the fake here; a real
one is in tests/appliance/card.py."""

import errno
import json
import os
import threading
import time
import urllib.request
from contextlib import closing, suppress
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from spyhole.app import watching
from spyhole.app.build import Daemon
from spyhole.app.commands import main
from spyhole.app.unkept import place_of
from spyhole.core.entry import EntryKind
from spyhole.services.desk import Done
from spyhole.store.archive import open_records
from spyhole.store.troubles import UNKEPT


class Card:
    """Read-only or not, as the kernel says when somebody wants to write."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.read_only = True
        opened = os.open

        def opening(path: Any, flags: int, *more: Any, **named: Any) -> int:
            if self.read_only and flags & (os.O_RDWR | os.O_WRONLY) and Path(path).is_relative_to(folder):
                raise OSError(errno.EROFS, os.strerror(errno.EROFS), path)
            return opened(path, flags, *more, **named)

        monkeypatch.setattr(os, "open", opening)


@pytest.fixture
def folder(files: Any) -> Path:
    assert main(["record", "upgrade", "--config", str(files.settings)]) == 0
    made: Path = files.folder / "record"
    (made / "keys.json").write_text("[]")
    (made / "backups").mkdir()
    (made / "spyhole.db.before-upgrade").write_text("long")
    return made


@pytest.fixture
def card(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Card:
    return Card(folder, monkeypatch)


@pytest.fixture
def memory(tmp_path: Path) -> Path:
    made = tmp_path / "memory"
    made.mkdir()
    return made


def test_the_record_and_the_keys_are_taken_into_memory(folder: Path, card: Card, memory: Path) -> None:
    place, said = place_of(folder, str(memory))
    assert said is UNKEPT
    assert place.is_relative_to(memory)
    assert (place / "spyhole.db").read_bytes() == (folder / "spyhole.db").read_bytes()
    assert (place / "keys.json").is_file()
    assert not (place / "backups").exists()
    assert not (place / "spyhole.db.before-upgrade").exists()


def test_after_a_kill_it_goes_on_with_what_it_had_in_memory(folder: Path, card: Card, memory: Path) -> None:
    place, _ = place_of(folder, str(memory))
    (place / "since").touch()
    assert place_of(folder, str(memory)) == (place, UNKEPT)
    assert (place / "since").exists()


def test_killed_within_the_copy_it_is_made_afresh(folder: Path, card: Card, memory: Path) -> None:
    (memory / "record.part").mkdir()
    (memory / "record.part" / "spyhole.db").write_text("half")
    place, _ = place_of(folder, str(memory))
    assert (place / "spyhole.db").read_bytes() == (folder / "spyhole.db").read_bytes()


def test_a_card_that_takes_writes_is_written_to(folder: Path, card: Card, memory: Path) -> None:
    place_of(folder, str(memory))
    card.read_only = False
    assert place_of(folder, str(memory)) == (folder, None)
    assert list(memory.iterdir()) == [], "an old copy is not gone on with another time"


def test_without_a_place_in_memory_or_without_room_the_start_is_as_ever(
    folder: Path, card: Card, memory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("RUNTIME_DIRECTORY", raising=False)
    assert place_of(folder) == (folder, None)
    monkeypatch.setattr("shutil.disk_usage", lambda path: SimpleNamespace(free=1000))
    assert place_of(folder, str(memory)) == (folder, None)
    assert list(memory.iterdir()) == []


def test_the_watch_begins_says_it_on_its_page_and_writes_nothing_to_the_card(
    files: Any, folder: Path, card: Card, memory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(memory))
    before = {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}
    seen: list[dict[str, Any]] = []
    notes: list[Done] = []

    def look(daemon: Daemon) -> None:
        def ask() -> None:
            end = time.monotonic() + 240
            while not seen and time.monotonic() < end:
                with suppress(OSError), closing(urllib.request.urlopen(f"{daemon.address}/api/now")) as answer:
                    seen.append(json.load(answer))
            notes.append(daemon.watchkeeper.enter(EntryKind.NOTE.value, "", "plugs are out", "Ruth"))
            daemon.lifecycle.end()

        threading.Thread(target=ask).start()

    monkeypatch.setattr(watching, "say_first_code", look)
    assert watching.watch(files.settings, None) == 0
    told = {one["code"]: one["words"] for one in seen[0]["conditions"]} | {
        one["tag"]: one["seen"] for one in seen[0]["alarms"]
    }
    assert "No record is kept" in told["watch-disk"]
    assert not notes[0].stored, "no card keeps it"
    assert {path.name: path.stat().st_mtime_ns for path in folder.iterdir()} == before
    with open_records(memory / "record") as records:
        assert records.last_sequence("Puffin") >= 1, "all goes on as ever, on the copy"
