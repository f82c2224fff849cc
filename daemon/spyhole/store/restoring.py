"""A backup made a record again, in place of the one that is there: all of it or nothing, whenever it is killed.

It is built in a folder of its own and looked over; the old record gets a second name; then one rename puts the new
one in its place. Until that rename the old one stands, from it on the new one.
"""

import hashlib
import json
import os
import shutil
import sqlite3
import zipfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.exc import DBAPIError

from spyhole.core.refusal import Refusal
from spyhole.store.backup import FEW, PIECE, Manifest, TableKept, columns_of, lines_of, opened, tables_of, verify
from spyhole.store.database import DATABASE, FolderLock, sync_file, sync_folder, usable_folder, writing_engine
from spyhole.store.migrate import bring_up_to_date
from spyhole.store.tables import channel

BESIDE = "restoring"
ASIDE = f"{DATABASE}.before-restore"

Value = str | int | float | bytes | None


@dataclass(frozen=True, slots=True)
class Restored:
    """manifest: of the backup. aside: the name of the record that was there, None where there was none.

    ways: whose channels have lost their address, as (person, channel).
    """

    manifest: Manifest
    aside: str | None
    ways: tuple[tuple[str, str], ...] = ()


def restore(file: Path, folder: Path, progress: Callable[[int], None] = lambda rows: None) -> Restored:
    """Put the record of this backup into this folder. progress: rows so far.

    Refusal, and nothing changed, for a folder in use, a file that is damaged or of a newer spyhole, and no room.
    """
    with opened(file) as (manifest, archive):
        verify(archive, manifest, str(file))
        usable_folder(folder)
        lock = FolderLock(folder)
        beside = folder / BESIDE
        try:
            shutil.rmtree(beside, ignore_errors=True)
            _refuse_full(archive, folder)
            beside.mkdir()
            ways = _build(archive, manifest, beside, str(file), progress)
            return Restored(manifest, put_in_place(folder, beside), ways)
        finally:
            shutil.rmtree(beside, ignore_errors=True)
            lock.release()


def _refuse_full(archive: zipfile.ZipFile, folder: Path) -> None:
    """Integers take less room in the record than as text, and keys a little more."""
    needed = sum(member.file_size for member in archive.infolist())
    free = shutil.disk_usage(folder).free
    if free < needed:
        raise Refusal(
            str(folder),
            f"there is no room: {needed >> 20} MiB are needed and {free >> 20} are free",
            "make room, or restore on a larger card",
        )


def _build(
    archive: zipfile.ZipFile, manifest: Manifest, beside: Path, file: str, progress: Callable[[int], None]
) -> tuple[tuple[str, str], ...]:
    engine = writing_engine(beside)
    try:
        bring_up_to_date(engine, file, manifest.schema)
        engine.dispose()
        with closing(sqlite3.connect(beside / DATABASE, isolation_level=None)) as connection:
            _fill(connection, archive, manifest, file, progress)
        bring_up_to_date(engine, file)
        with engine.connect() as record:
            ways = record.execute(select(channel.c.person, channel.c.name).order_by(channel.c.person)).all()
    finally:
        engine.dispose()
    sync_file(beside / DATABASE)
    sync_folder(beside)
    return tuple((person, name) for person, name in ways)


def _fill(
    connection: sqlite3.Connection,
    archive: zipfile.ZipFile,
    manifest: Manifest,
    file: str,
    progress: Callable[[int], None],
) -> None:
    """Nobody minds if this one is lost half-way: it is synced as a whole when it is done."""
    connection.execute("PRAGMA journal_mode=DELETE")
    connection.execute("PRAGMA journal_mode=OFF")
    connection.execute("PRAGMA synchronous=OFF")
    connection.execute("PRAGMA foreign_keys=OFF")  # rows go in as they came out, whatever their order
    there = {name: columns_of(connection, name) for name in tables_of(connection)}
    if {name: tuple(column for column, _ in columns) for name, columns in there.items()} != {
        table.name: table.columns for table in manifest.tables
    }:
        raise Refusal(file, f"its tables are not those of schema {manifest.schema}", "spyhole did not make this file")
    done = 0
    connection.execute("BEGIN")
    for table in manifest.tables:
        kinds = [kind for _, kind in there[table.name]]
        connection.execute(f'DELETE FROM "{table.name}"')  # noqa: S608  (our own names)
        insert = f'INSERT INTO "{table.name}" VALUES ({", ".join("?" * len(kinds))})'  # noqa: S608
        with archive.open(f"{table.name}.jsonl") as member:
            while lines := list(islice(member, FEW.get(table.name, PIECE))):
                connection.executemany(insert, _values(lines, kinds))
                done += len(lines)
                progress(done)
    connection.execute("COMMIT")
    _compare(connection, manifest.tables, file)


def _values(lines: Sequence[bytes], kinds: Sequence[str]) -> Iterator[Sequence[Value]]:
    rows: list[list[Value]] = json.loads(b"[" + b",".join(lines) + b"]")
    odd = [(at, _ODD[kind]) for at, kind in enumerate(kinds) if kind in _ODD]
    for row in rows if odd else ():
        for at, made in odd:
            if row[at] is not None:
                row[at] = made(str(row[at]))
    return iter(rows)


_ODD: dict[str, Callable[[str], Value]] = {"FLOAT": float, "BLOB": bytes.fromhex}


def _compare(connection: sqlite3.Connection, tables: Sequence[TableKept], file: str) -> None:
    """The new record, read back, is the backup; and it is sound."""
    for table in tables:
        digest, rows = hashlib.sha256(), 0
        for text, count in lines_of(connection, table.name):
            digest.update(text.encode())
            rows += count
        if (rows, digest.hexdigest()) != (table.rows, table.sha256):
            raise Refusal(file, f"its table {table.name} did not come back as it was", "look at the card; try again")
    found = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        raise Refusal(file, f"the record made of it is not sound ({found})", "look at the card; try again")


def put_in_place(folder: Path, beside: Path) -> str | None:
    """The record in `beside` into the folder; returns the second name of the one that was there."""
    database = folder / DATABASE
    aside = None
    if database.exists():
        _forget_half_done(folder)
        aside = _free_name(folder)
        _second_name(folder, aside)
    os.replace(beside / DATABASE, database)
    sync_folder(folder)
    return aside


def _forget_half_done(folder: Path) -> None:
    """A second name that an earlier restore gave before it was killed is still this very record."""
    for name in folder.glob(f"{ASIDE}-*"):
        if name.samefile(folder / DATABASE):
            name.unlink()


def _free_name(folder: Path) -> str:
    number = 1
    while (folder / f"{ASIDE}-{number}").exists() or (folder / f"{ASIDE}-{number}-wal").exists():
        number += 1
    return f"{ASIDE}-{number}"


def _second_name(folder: Path, aside: str) -> None:
    """Its log is folded in first; a record too damaged for that keeps it under the second name. No log may be left
    where the new record will stand: it would be read as that one's."""
    log = folder / f"{DATABASE}-wal"
    if log.exists():
        engine = writing_engine(folder)
        try:
            with engine.connect() as connection:
                connection.exec_driver_sql("SELECT count(*) FROM sqlite_schema")
        except DBAPIError:
            pass  # it is moved aside as it is
        finally:
            engine.dispose()
    try:
        if log.exists():
            os.link(log, folder / f"{aside}-wal")
        os.link(folder / DATABASE, folder / aside)
    except OSError as problem:
        raise Refusal(
            str(folder),
            f"the record that is there cannot be kept beside the new one ({problem.strerror})",
            "restore into a new folder instead",
        ) from None
    sync_folder(folder)
    if log.exists():
        log.unlink()
        sync_folder(folder)
