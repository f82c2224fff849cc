"""The record on a PostgreSQL server: the same tables, queries and journal, for a studio that has one anyway.

One writer: its session holds an advisory lock of the server for as long as it lives, in the place of the folder's
lock. A server may see some seconds late that a session is dead, so a start waits for it. When the server goes away rows
are held in memory as for a full disk; a new session takes the lock again.
What is promised of damaged files, backups and power cuts is SQLite's alone: here it is for whoever runs the server.
"""

import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

from sqlalchemy import URL, Engine, create_engine, event, make_url, select
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.pool import ConnectionPoolEntry

from spyhole.core.refusal import Refusal
from spyhole.services.archive import ConditionTold
from spyhole.store import tables
from spyhole.store.archive import SqlArchive
from spyhole.store.database import schema_version
from spyhole.store.journal_queries import last_sequence
from spyhole.store.migrate import bring_up_to_date
from spyhole.store.queries import SqlRecords
from spyhole.store.tables import SCHEMA
from spyhole.store.writer import Pace, Writer

DRIVER = "postgresql+psycopg"
LOCK_KEY = 0x5350_5948  # "SPYH": any number would do, as long as every spyhole asks for the same
ANSWER_SECONDS = 5
LEAVES_SECONDS = 30.0
"""How long a start waits for the session of a run before it that was killed or lost its power: the server sees within
25 s that nobody is there any more."""

_LOCK_NOT_AVAILABLE = "55P03"
_URL = re.compile(rf"{re.escape(DRIVER)}://\S+")


class Taken(Exception):
    """Another spyhole writes to this database."""


def server_url(address: str, where: str) -> URL:
    """The address of a database on a server; Refusal, which never shows it, naming where it stands."""
    allowed = f"it reads {DRIVER}://USER:PASSWORD@HOST/DATABASE"
    if not _URL.fullmatch(address):
        raise Refusal(where, "this is no address of a PostgreSQL database", allowed)
    try:
        url = make_url(address)
        url.get_dialect().import_dbapi()
    except (ArgumentError, ValueError):
        raise Refusal(where, "this is no address of a PostgreSQL database", allowed) from None
    except (ImportError, NoSuchModuleError):
        raise Refusal(where, "the driver for PostgreSQL is not installed", "install spyhole[postgresql]") from None
    if not url.database:
        raise Refusal(where, "the address names no database", allowed)
    return url


def open_server_archive(
    url: URL, *, seconds: Callable[[], float], tell: ConditionTold, pace: Pace | None = None
) -> SqlArchive:
    """As `archive.open_archive`, on a server. Refusal when it cannot be used or another spyhole writes there."""
    with refusing(url), ExitStack() as half_open:
        engine = writing_engine(url)
        half_open.callback(engine.dispose)
        bring_up_to_date(engine, place_of(url))
        reader = reading_engine(url)
        half_open.callback(reader.dispose)
        with engine.connect() as connection:
            kilns = connection.execute(select(tables.kiln.c.name, tables.kiln.c.id)).all()
            last = {name: last_sequence(connection, number) for name, number in kilns}
        writer = Writer(engine, seconds, tell, pace or Pace())
        return SqlArchive(reader, writer, last, half_open.pop_all())


def open_server_records(url: URL) -> SqlRecords:
    """As `archive.open_records`, on a server."""
    with ExitStack() as half_open:
        engine = reading_engine(url)
        half_open.callback(engine.dispose)
        with refusing(url):
            version = schema_version(engine, place_of(url))
        if version is None:
            raise Refusal(place_of(url), "there is no record here", "name the database that spyhole watches with")
        if version != SCHEMA:
            raise Refusal(
                place_of(url),
                f"another version of spyhole wrote this record (its tables are at {version}, this one knows {SCHEMA})",
                "start this version's daemon on it once, or use the version that wrote it",
            )
        half_open.pop_all()
        return SqlRecords(engine)


def writing_engine(url: URL) -> Engine:
    """For the one writer: a single session, which holds the lock. The first one waits for it, `LEAVES_SECONDS`."""
    engine = create_engine(url, pool_size=1, max_overflow=0, pool_timeout=ANSWER_SECONDS, connect_args=_patience())
    waits_ms = [round(LEAVES_SECONDS * 1000)]

    @event.listens_for(engine, "connect")
    def lock(session: Any, _entry: ConnectionPoolEntry) -> None:
        patience_ms = waits_ms.pop() if waits_ms else 1
        try:
            with session.cursor() as cursor:
                for setting in ("idle = 10", "interval = 5", "count = 3"):
                    cursor.execute(f"SET tcp_keepalives_{setting}")
                cursor.execute(f"SET lock_timeout = {patience_ms}")
                cursor.execute("SELECT pg_advisory_lock(%s)", (LOCK_KEY,))
                cursor.execute("RESET lock_timeout")
            session.commit()
        except Exception as problem:
            session.close()
            if getattr(problem, "sqlstate", None) == _LOCK_NOT_AVAILABLE:
                raise Taken("another spyhole writes to this database") from None
            raise

    return engine


def reading_engine(url: URL) -> Engine:
    """For readers: cannot write, and sees one instant of the record throughout a transaction."""
    return create_engine(
        url,
        pool_size=2,
        max_overflow=8,
        pool_timeout=10,
        pool_pre_ping=True,
        connect_args=_patience(),
        execution_options={"isolation_level": "REPEATABLE READ", "postgresql_readonly": True},
    )


def upkeep_engine(url: URL) -> Engine:
    """For what is done beside the writer, a little at a time; it needs no lock, because it makes no rows."""
    return create_engine(url, pool_size=1, max_overflow=0, connect_args=_patience())


def place_of(url: URL) -> str:
    """The address without its secret, for a person."""
    return url.render_as_string(hide_password=True)


@contextmanager
def refusing(url: URL) -> Iterator[None]:
    """While a record is being opened: whatever the server answers becomes a Refusal."""
    try:
        yield
    except Taken:
        raise Refusal(
            place_of(url),
            "another spyhole is writing the record here, and two would spoil it",
            "stop that one first, or give this one a database of its own",
        ) from None
    except DBAPIError as problem:
        raise Refusal(
            place_of(url),
            f"this database cannot be used ({str(problem.orig).strip()})",
            "look that the server runs, that the database is there and that this user may make tables in it",
        ) from problem


def _patience() -> dict[str, object]:
    """A server that has gone without a word is given up in seconds, not in the quarter of an hour of TCP."""
    return {
        "connect_timeout": ANSWER_SECONDS,
        "keepalives_idle": 2 * ANSWER_SECONDS,
        "keepalives_interval": ANSWER_SECONDS,
        "keepalives_count": 3,
        "tcp_user_timeout": 4000 * ANSWER_SECONDS,
        "application_name": "spyhole",
    }
