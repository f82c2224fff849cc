"""An upgrade of the record can be undone: it is kept as it was, and put back by one rename."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from spyhole.core.refusal import Refusal
from spyhole.store import tables
from spyhole.store.before import BEFORE, keep_before, put_back
from spyhole.store.database import DATABASE, FolderLock, writing_engine
from spyhole.store.migrate import bring_up_to_date

OLDER = "0002"


def version(file: Path) -> str:
    with closing(sqlite3.connect(file)) as connection:
        return str(connection.execute("SELECT version_num FROM alembic_version").fetchone()[0])


@pytest.fixture
def upgraded(tmp_path: Path) -> Path:
    engine = writing_engine(tmp_path)
    bring_up_to_date(engine, "here", OLDER)
    with engine.begin() as connection:
        connection.exec_driver_sql("INSERT INTO kiln (id, name) VALUES (1, 'Puffin')")
    bring_up_to_date(engine, "here", before=lambda: keep_before(tmp_path, engine))
    engine.dispose()
    return tmp_path


def test_the_record_from_before_is_whole_and_closed_to_others(upgraded: Path) -> None:
    assert version(upgraded / DATABASE) == tables.SCHEMA
    assert version(upgraded / BEFORE) == OLDER
    assert (upgraded / BEFORE).stat().st_mode & 0o077 == 0
    with closing(sqlite3.connect(upgraded / BEFORE)) as connection:
        assert connection.execute("SELECT name FROM kiln").fetchall() == [("Puffin",)]


def test_a_new_record_has_nothing_before_it(tmp_path: Path) -> None:
    engine = writing_engine(tmp_path)
    asked: list[str] = []
    bring_up_to_date(engine, "here", before=lambda: asked.append("kept"))
    bring_up_to_date(engine, "here", before=lambda: asked.append("kept"))
    engine.dispose()
    assert asked == []


def test_it_is_put_back_and_what_was_there_is_kept_aside(upgraded: Path) -> None:
    aside = put_back(upgraded)
    assert version(upgraded / DATABASE) == OLDER
    assert version(upgraded / aside) == tables.SCHEMA
    with pytest.raises(Refusal, match="from before an upgrade"):
        put_back(upgraded)


def test_killed_after_the_rename_it_is_done_when_asked_again(upgraded: Path) -> None:
    (upgraded / DATABASE).unlink()
    (upgraded / DATABASE).hardlink_to(upgraded / BEFORE)
    assert put_back(upgraded) == ""
    assert version(upgraded / DATABASE) == OLDER
    assert not (upgraded / BEFORE).exists()


def test_not_while_a_daemon_has_it(upgraded: Path) -> None:
    lock = FolderLock(upgraded)
    try:
        with pytest.raises(Refusal, match="another spyhole"):
            put_back(upgraded)
    finally:
        lock.release()
    assert version(upgraded / DATABASE) == tables.SCHEMA


def test_without_room_the_upgrade_goes_on_without(upgraded: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (upgraded / BEFORE).unlink()
    monkeypatch.setattr("spyhole.store.before.RESERVE_BYTES", 1 << 60)
    engine = writing_engine(upgraded)
    keep_before(upgraded, engine)
    engine.dispose()
    assert not (upgraded / BEFORE).exists()
