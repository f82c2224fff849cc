"""The tables are made by migrations that a command runs: all of those due, or none."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import event

from spyhole.core.refusal import Refusal
from spyhole.store import tables
from spyhole.store.archive import open_records
from spyhole.store.database import DATABASE, writing_engine
from spyhole.store.migrate import bring_up_to_date

if TYPE_CHECKING:
    from conftest import Record


def made(folder: Path) -> set[str]:
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        return {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}


def test_from_nothing_the_migrations_make_the_tables_the_queries_use(tmp_path: Path) -> None:
    engine = writing_engine(tmp_path)
    assert bring_up_to_date(engine, str(tmp_path))
    assert not bring_up_to_date(engine, str(tmp_path)), "the second time there is nothing to do"
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), tables.metadata) == []
    engine.dispose()


def test_the_schema_the_code_asks_for_is_that_of_the_newest_migration() -> None:
    config = Config()
    config.set_main_option("script_location", str(files("spyhole.store") / "migrations"))
    assert ScriptDirectory.from_config(config).get_current_head() == tables.SCHEMA


def test_the_record_is_durable(tmp_path: Path) -> None:
    engine = writing_engine(tmp_path)
    with engine.connect() as connection:
        asked = [connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in ("journal_mode", "synchronous")]
    engine.dispose()
    assert asked == ["wal", 2], "2 is FULL"


MIGRATE_AND_DIE = """
import os, signal, sys
from pathlib import Path
from sqlalchemy import Engine, event
from spyhole.store.database import writing_engine
from spyhole.store.migrate import bring_up_to_date

left = int(sys.argv[2])

def count(*_):
    global left
    left -= 1
    if left == 0:
        os.kill(os.getpid(), signal.SIGKILL)

folder = Path(sys.argv[1])
engine = writing_engine(folder)
event.listen(Engine, "after_cursor_execute", count)
bring_up_to_date(engine, str(folder))
"""


def test_killed_after_any_of_its_statements_a_migration_leaves_old_or_new(tmp_path: Path) -> None:
    statements = []
    whole = tmp_path / "whole"
    whole.mkdir()
    engine = writing_engine(whole)
    event.listen(engine, "after_cursor_execute", lambda _c, _u, statement, *_: statements.append(statement))
    bring_up_to_date(engine, str(whole))
    engine.dispose()
    changing = [n for n, statement in enumerate(statements, 1) if statement.lstrip().startswith(("CREATE", "INSERT"))]
    assert len(changing) > 8
    # The first change, one in the middle, and the last, when all but the commit is done.
    for last in (changing[0], changing[len(changing) // 2], len(statements)):
        folder = tmp_path / f"killed after {last}"
        folder.mkdir()
        died = subprocess.run([sys.executable, "-c", MIGRATE_AND_DIE, folder, str(last)], check=False)
        assert died.returncode == -9
        assert made(folder) == set()
        engine = writing_engine(folder)
        assert bring_up_to_date(engine, str(folder))
        engine.dispose()
        assert made(folder) == made(whole)


def test_a_newer_spyhole_s_record_is_refused_and_left_alone(record: "Record") -> None:
    record.open().close(30)
    with closing(sqlite3.connect(record.folder / DATABASE)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()
    before = (record.folder / DATABASE).read_bytes()
    with pytest.raises(Refusal, match=r"spyhole\.db: a newer spyhole wrote this record .*9999.*; install that version"):
        record.open()
    with pytest.raises(Refusal, match="another version of spyhole wrote this record"):
        open_records(record.folder)
    assert (record.folder / DATABASE).read_bytes() == before


def test_another_program_s_database_is_refused_and_left_alone(record: "Record") -> None:
    with closing(sqlite3.connect(record.folder / DATABASE)) as connection:
        connection.execute("CREATE TABLE recipes (name)")
        connection.commit()
    with pytest.raises(Refusal, match=r"another program's database \(it has a table recipes\); name another place"):
        record.open()
    assert made(record.folder) == {"recipes"}


def test_what_is_no_database_is_moved_aside_whole_and_the_watch_begins(record: "Record") -> None:
    (record.folder / DATABASE).write_text("time,bottom\n" * 400)
    archive = record.open()
    assert archive.kilns() == []
    ((code, words),) = record.told
    assert code == "watch-store"
    assert f"moved aside as {DATABASE}.damaged-1" in str(words)
    assert (record.folder / f"{DATABASE}.damaged-1").read_text() == "time,bottom\n" * 400


def test_a_current_record_is_opened_without_alembic_or_the_orm(record: "Record") -> None:
    record.open().close(30)
    script = (
        "import sys, time; from pathlib import Path; from spyhole.store.archive import open_archive;"
        "archive = open_archive(Path(sys.argv[1]), seconds=time.monotonic, tell=print); archive.close(30);"
        "print([name for name in ('alembic', 'sqlalchemy.orm') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script, record.folder], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
