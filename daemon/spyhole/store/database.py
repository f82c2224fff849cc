"""The file of the record: opened one way for the writer, another for readers, and by one daemon at a time."""

import errno
import fcntl
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, inspect
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import QueuePool

from spyhole.core.refusal import Refusal
from spyhole.store.troubles import LOCKED, trouble_of

DATABASE = "spyhole.db"
LOCK = "spyhole.lock"

_OF_THE_CARD = frozenset({errno.EROFS, errno.EIO, errno.ENOSPC, errno.EDQUOT})
"""What a card says of itself, and not of who may write to it."""

_CACHE_KIB = 512
"""Of each connection, where SQLite takes 2000 by itself: what else is asked for often the kernel keeps."""
_BUSY_MS = 1000
_VERSION = "SELECT version_num FROM alembic_version"

# Set once, when the file is made. A commit of ten readings fills half of it, and what a commit writes is whole pages:
# of the day's bytes (see `_OURS`) 2048 costs 23 MiB more, 512 saves 4 and makes every search deeper.
_PAGE_BYTES = 1024

_OURS = "unix-excl"
"""SQLite's way to open a file for the connections of one process alone: what they share of the log stays in memory.

Shared between processes it is a file of its own, mapped into memory, that the kernel writes out again and again: of a
day of firing at 1 Hz with three probes, a commit each 10 s and a checkpoint each minute, 135 MiB to the card
against 90. So no other process reads the record while a daemon has it; it asks the daemon, or waits until it ends.
"""


class FolderLock:
    """Held by the one process that writes in this folder; the kernel lets it go however that process ends."""

    def __init__(self, folder: Path) -> None:
        path = folder / LOCK
        try:
            self._file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as problem:
            card = problem.errno in _OF_THE_CARD
            raise Refusal(
                str(folder),
                f"spyhole cannot write here ({problem.strerror}), so nothing would be kept",
                "start the machine again or change its card"
                if card
                else "give it a folder that the user it runs as may write to",
                passing=card,
            ) from problem
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as problem:
            pid = os.pread(self._file, 20, 0).decode("ascii", "replace").strip()
            os.close(self._file)
            which = f"another spyhole (process {pid})" if pid else "another spyhole"
            raise Refusal(
                str(folder),
                f"{which} is writing the record here, and two would spoil it",
                "stop that one first, or give this one a folder of its own",
            ) from problem
        with suppress(OSError):  # who holds it is for a person; a card without room for that is watched on all the same
            os.ftruncate(self._file, 0)
            os.pwrite(self._file, f"{os.getpid()}\n".encode("ascii"), 0)

    def release(self) -> None:
        """Let go. The file stays: removing it could pull it from under another."""
        os.close(self._file)


def usable_folder(folder: Path) -> Path:
    """The folder, made if only its last part is missing; Refusal when it cannot be."""
    try:
        folder.mkdir(exist_ok=True)
    except OSError as problem:
        raise Refusal(
            str(folder),
            f"this folder for the record cannot be made or is not a folder ({problem.strerror})",
            "name a folder whose parent exists and that the user spyhole runs as may write to",
        ) from problem
    return folder


def sync_folder(folder: Path) -> None:
    """Have the card know which files there are. SQLite itself removes the journal of its very first page and leaves it
    at that: a power cut that brought it back would take the record with it."""
    sync_file(folder)


def sync_file(path: Path) -> None:
    """Have the card hold all that was written to it, by whomever."""
    written = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(written)
    finally:
        os.close(written)


_BLOCK_BYTES = 4096
LOG_BYTES = 300 * _BLOCK_BYTES
"""As long as the log gets before SQLite begins it again: a thousand pages, their heads, and the last commit."""


def grow_log(folder: Path) -> None:
    """Give the log its full length at once, with zeros, which SQLite reads as its end.

    A file that grows with each commit has its length written each time as well: on ext4 half of what a commit costs.
    Nothing depends on it, so a card that has little room is left as it is.
    """
    log = folder / f"{DATABASE}-wal"
    if shutil.disk_usage(folder).free < 20 * LOG_BYTES:
        return
    with suppress(OSError), log.open("r+b") as file:
        length = file.seek(0, os.SEEK_END)
        while length < LOG_BYTES:  # in one piece newer kernels would keep it, and write it out, as one
            length += os.write(file.fileno(), bytes(min(_BLOCK_BYTES, LOG_BYTES - length)))
        os.fsync(file.fileno())


def writing_engine(folder: Path) -> Engine:
    """For the one writer: WAL, each commit synced, each transaction taken from its first moment."""
    durable = (
        f"page_size={_PAGE_BYTES}",  # before the journal mode, which writes the first page
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
    )
    return _engine(folder, f"mode=rwc&vfs={_OURS}", durable, "BEGIN IMMEDIATE", pool_size=1)


def reading_engine(folder: Path, *, beside_writer: bool = False) -> Engine:
    """For readers: cannot write, and sees one instant of the record throughout a transaction.

    beside_writer: in the process that has it open for writing.
    """
    return _engine(folder, f"mode=ro&vfs={_OURS}" if beside_writer else "mode=ro", (), "BEGIN", pool_size=2)


def upkeep_engine(folder: Path) -> Engine:
    """For what is done beside the writer, in its process, a little at a time: it waits and makes no file."""
    durable = ("synchronous=FULL", "foreign_keys=ON")
    return _engine(folder, f"mode=rw&vfs={_OURS}", durable, "BEGIN IMMEDIATE", pool_size=1)


def _engine(folder: Path, how: str, pragmas: tuple[str, ...], begin: str, *, pool_size: int) -> Engine:
    uri = f"file:{quote(str((folder / DATABASE).absolute()))}?{how}"

    def connect() -> sqlite3.Connection:
        # isolation_level None: the driver begins nothing on its own, so that DDL too stands in a transaction.
        connection = sqlite3.connect(uri, uri=True, isolation_level=None, check_same_thread=False)
        try:
            for pragma in (f"busy_timeout={_BUSY_MS}", f"cache_size=-{_CACHE_KIB}", *pragmas):
                connection.execute(f"PRAGMA {pragma}")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    engine = create_engine(
        "sqlite+pysqlite://", creator=connect, poolclass=QueuePool, pool_size=pool_size, max_overflow=8, pool_timeout=10
    )

    @event.listens_for(engine, "begin")
    def take(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


@contextmanager
def refusing(folder: Path) -> Iterator[None]:
    """While a record is being opened: whatever the database answers becomes a Refusal."""
    try:
        yield
    except DBAPIError as problem:
        locked = trouble_of(problem) is LOCKED
        raise Refusal(
            str(folder / DATABASE),
            f"this database cannot be used ({problem.orig})",
            "a spyhole that watches keeps its record to itself: stop it, or close the other program that has it open"
            if locked
            else "put the last backup in its place, or move it away and spyhole begins a new record",
        ) from problem


def schema_version(engine: Engine, where: str) -> str | None:
    """Name of the newest migration applied, None where none was. Refusal for what is no record of ours."""
    with engine.connect() as connection:
        tables = inspect(connection).get_table_names()
        if "alembic_version" in tables:
            version = connection.exec_driver_sql(_VERSION).scalar()
            return None if version is None else str(version)
    if tables:
        raise Refusal(
            where,
            f"this is another program's database (it has a table {tables[0]})",
            "name another place for the record",
        )
    return None
