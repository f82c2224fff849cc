"""The whole record in one file: a ZIP of JSON lines, a member a table, and a manifest by which it is verified.

Strategy: rows, not pages. All of them are read in one transaction, which holds up nobody who writes; SQLite makes the
text, outside of Python's lock; and only the compressed file goes to the card, a tenth of a copy of the pages.
What was overwritten or taken back lies about in pages for years, and secrets with it: rows leave that behind.

A file is written beside and gets its name when it has been read back and found equal to what the transaction saw.
"""

import hashlib
import json
import os
import shutil
import sqlite3
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError

from spyhole.core.moment import utc_text
from spyhole.core.refusal import Refusal
from spyhole.services.archive import ArchiveTrouble
from spyhole.store.database import reading_engine, sync_file, sync_folder

FORM = 1
MANIFEST = "manifest.json"
PART = ".part"
PIECE = 2000
"""Rows between two pauses: some milliseconds of work."""

FEW = {"photo": 16}
"""Rows between two pauses where each is large: a piece is in memory as a whole."""

COMPRESSION = 3
RESERVE_BYTES = 128 * 1024 * 1024
"""Always left to the record: a year of firings, and more than a day of single readings."""

LEFT_OUT = {"channel": ("address",)}
"""Secrets, by table: an empty text stands in their place, because a backup lies about where the record does not."""

LINKS = {"message": ("text",)}
"""Texts with a signed link on a line of its own, that lets whoever has it act for a night: without that line."""

_CHUNK = 1 << 20
_BEFORE_ALL = -(1 << 63)
_BROKEN = (zipfile.BadZipFile, zlib.error, struct.error, OSError, EOFError, KeyError, TypeError, ValueError,
           NotImplementedError, RuntimeError)  # fmt: skip


class BackupStopped(ArchiveTrouble):
    """The daemon ends, and nobody waits for a backup."""


@dataclass(frozen=True, slots=True)
class TableKept:
    """One table in a backup. sha256: of its lines."""

    name: str
    columns: tuple[str, ...]
    rows: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says of itself. schema: the newest migration applied.

    left_out: table.column that were blanked, or had their links taken out.
    """

    form: int
    what: str
    made: str
    spyhole: str
    schema: str
    left_out: tuple[str, ...]
    tables: tuple[TableKept, ...]

    @property
    def rows(self) -> int:
        """In all tables."""
        return sum(table.rows for table in self.tables)


def back_up(
    folder: Path,
    out: Path,
    *,
    made_utc_ms: int,
    spyhole: str,
    beside_writer: bool = False,
    pause: Callable[[], None] = lambda: None,
) -> Manifest:
    """Write the record in this folder into a new file, verified.

    made_utc_ms, spyhole: when, and by which version. beside_writer: in the process that has it open for writing.
    pause: between two pieces; it may raise `BackupStopped`.
    ArchiveTrouble when there is no room, or the record is damaged: then there is no such file, and others stay.
    """
    part = out.with_name(out.name + PART)
    engine = reading_engine(folder, beside_writer=beside_writer)
    try:
        with closing(engine.raw_connection()) as session:
            connection = session.driver_connection
            assert isinstance(connection, sqlite3.Connection)
            with _one_instant(connection):
                _refuse_damaged(connection, pause)
                manifest = _write(connection, part, _head(connection, made_utc_ms, spyhole), pause)
        with opened(part) as (again, archive):
            if again != manifest:
                raise ArchiveTrouble("The backup says something else than was written. The card may be worn out.")
            verify(archive, again, str(part), pause)
        sync_file(part)
        os.replace(part, out)
        sync_folder(out.parent)
    except (sqlite3.Error, SQLAlchemyError) as problem:
        raise ArchiveTrouble(f"The record could not be read for a backup ({problem}).") from problem
    except OSError as problem:
        raise ArchiveTrouble(f"The backup could not be written ({problem.strerror}).") from problem
    except Refusal as problem:
        raise ArchiveTrouble(f"The backup is not what was written ({problem}). The card may be worn out.") from problem
    finally:
        engine.dispose()
        part.unlink(missing_ok=True)
    return manifest


@contextmanager
def _one_instant(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("BEGIN")
    try:
        yield
    finally:
        connection.set_progress_handler(None, 0)
        connection.execute("ROLLBACK")


def _refuse_damaged(connection: sqlite3.Connection, pause: Callable[[], None]) -> None:
    """A backup of a damaged record would push out those of a sound one."""

    def stopped() -> int:
        try:
            pause()
        except BackupStopped:
            return 1
        return 0

    connection.set_progress_handler(stopped, 200_000)
    try:
        found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    finally:
        connection.set_progress_handler(None, 0)
    if found != "ok":
        raise ArchiveTrouble(f"The record is damaged ({found}), so no backup was made; the earlier ones stay.")


def _head(connection: sqlite3.Connection, made_utc_ms: int, spyhole: str) -> Manifest:
    schema = connection.execute("SELECT version_num FROM alembic_version").fetchone()[0]
    left_out = tuple(f"{table}.{column}" for table, columns in LEFT_OUT.items() for column in columns)
    left_out += tuple(f"links in {table}.{column}" for table, columns in LINKS.items() for column in columns)
    what = "the record of spyhole: JSON lines, a file a table"
    return Manifest(FORM, what, utc_text(made_utc_ms), spyhole, schema, left_out, ())


def _write(connection: sqlite3.Connection, part: Path, head: Manifest, pause: Callable[[], None]) -> Manifest:
    tables = []
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=COMPRESSION) as archive:
        for name in tables_of(connection):
            digest, rows = hashlib.sha256(), 0
            with archive.open(f"{name}.jsonl", "w", force_zip64=True) as member:
                for text, count in lines_of(connection, name, links=False):
                    piece = text.encode()
                    digest.update(piece)
                    member.write(piece)
                    rows += count
                    _refuse_full(part)
                    pause()
            (there,) = connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()  # noqa: S608  (our own names)
            if there != rows:
                raise ArchiveTrouble(f"The table {name} has {there} rows and gave {rows}: the record is damaged.")
            columns = tuple(column for column, _ in columns_of(connection, name))
            tables.append(TableKept(name, columns, rows, digest.hexdigest()))
        manifest = Manifest(head.form, head.what, head.made, head.spyhole, head.schema, head.left_out, tuple(tables))
        archive.writestr(MANIFEST, json.dumps(asdict(manifest), indent=1))
    return manifest


def _refuse_full(part: Path) -> None:
    if shutil.disk_usage(part.parent).free < RESERVE_BYTES:
        raise ArchiveTrouble(
            f"There is no room for a backup in {part.parent}: {RESERVE_BYTES >> 20} MiB are left to the record."
        )


def tables_of(connection: sqlite3.Connection) -> list[str]:
    """Names of the tables, in order."""
    found = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
    return sorted(name for (name,) in found)


def columns_of(connection: sqlite3.Connection, table: str) -> list[tuple[str, str]]:
    """(name, declared type) of the columns, in order."""
    return [(row[1], row[2].upper()) for row in connection.execute(f'PRAGMA table_info("{table}")')]


def lines_of(connection: sqlite3.Connection, table: str, *, links: bool = True) -> Iterator[tuple[str, int]]:
    """The rows of a table as lines of JSON, a piece at a time, and how many they are; in the order they were written.

    links: False leaves out those of `LINKS`.
    A float is the text Python makes of it, a blob is in hexadecimal: both come back exactly.
    """
    connection.create_function("exactly", 1, lambda value: None if value is None else repr(value), deterministic=True)
    connection.create_function("without_links", 1, _without_links, deterministic=True)
    values = ", ".join(_said(table, column, kind, links=links) for column, kind in columns_of(connection, table))
    rows = f'SELECT rowid AS at, json_array({values}) AS line FROM "{table}"'  # noqa: S608  (our own names)
    piece = (
        "SELECT group_concat(line, char(10)) || char(10), count(*), max(at) "  # noqa: S608
        f"FROM ({rows} WHERE rowid > ? ORDER BY rowid LIMIT {FEW.get(table, PIECE)})"
    )
    after = _BEFORE_ALL
    while True:
        text, count, last = connection.execute(piece, (after,)).fetchone()
        if not count:
            return
        yield text, count
        after = last


def _said(table: str, column: str, kind: str, *, links: bool) -> str:
    if column in LEFT_OUT.get(table, ()):
        return "''"
    if not links and column in LINKS.get(table, ()):
        return f'without_links("{column}")'
    if kind == "FLOAT":
        return f'exactly("{column}")'
    if kind == "BLOB":
        return f'CASE WHEN "{column}" IS NULL THEN NULL ELSE hex("{column}") END'
    return f'"{column}"'


def _without_links(text: str) -> str:
    return "\n".join(line for line in text.split("\n") if "://" not in line)


@contextmanager
def opened(file: Path) -> Iterator[tuple[Manifest, zipfile.ZipFile]]:
    """A backup with what it says of itself. Refusal for what is none, or is cut short."""
    try:
        archive = zipfile.ZipFile(file)
    except FileNotFoundError:
        raise Refusal(str(file), "there is no such file", "name a backup that spyhole made") from None
    except _BROKEN as problem:
        raise _no_backup(file, problem) from None
    with archive:
        try:
            manifest = _manifest(json.loads(archive.read(MANIFEST)))
        except _BROKEN as problem:
            raise _no_backup(file, problem) from None
        if manifest.form != FORM:
            raise Refusal(
                str(file),
                f"this backup has a form of its own (number {manifest.form}, this spyhole knows {FORM})",
                f"use the version that made it, {manifest.spyhole}, or a newer one",
            )
        yield manifest, archive


def _manifest(said: dict[str, object]) -> Manifest:
    tables = said["tables"]
    assert isinstance(tables, list)
    kept = tuple(
        TableKept(str(one["name"]), tuple(one["columns"]), int(one["rows"]), str(one["sha256"])) for one in tables
    )
    left_out = said["left_out"]
    assert isinstance(left_out, list)
    return Manifest(
        int(str(said["form"])), str(said["what"]), str(said["made"]), str(said["spyhole"]), str(said["schema"]),
        tuple(map(str, left_out)), kept,
    )  # fmt: skip


def _no_backup(file: Path, problem: Exception) -> Refusal:
    return Refusal(
        str(file),
        f"this is no whole backup: it is cut short, damaged or something else ({problem})",
        "take another one; the record here was left as it is",
    )


def verify(archive: zipfile.ZipFile, manifest: Manifest, file: str, pause: Callable[[], None] = lambda: None) -> None:
    """Read every row. Refusal, naming the table, where it is not what the manifest says."""
    for table in manifest.tables:
        digest, rows = hashlib.sha256(), 0
        try:
            with archive.open(f"{table.name}.jsonl") as member:
                while piece := member.read(_CHUNK):
                    digest.update(piece)
                    rows += piece.count(b"\n")
                    pause()
        except _BROKEN as problem:
            raise _no_backup(Path(file), problem) from None
        if (rows, digest.hexdigest()) != (table.rows, table.sha256):
            raise Refusal(
                file,
                f"this backup is damaged: its table {table.name} is not what was written",
                "take another one; the record here was left as it is",
            )
