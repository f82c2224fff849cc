"""What the record needs now and then, beside the one who writes it: query plans, the log, and readings that are old.

Each piece is a transaction of its own, so that a commit of readings waits some milliseconds at most. What is let go is
not given back to the disk: SQLite keeps the pages and the next readings fill them, so a record grows to the size of
its kept days and stays there. A vacuum would write the whole file again, on the card that is to be spared.
"""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass

from sqlalchemy import Connection, Engine, delete, func, select
from sqlalchemy.exc import SQLAlchemyError

from spyhole.services.archive import ArchiveTrouble
from spyhole.store import tables
from spyhole.store.journal_queries import last_sequence
from spyhole.store.reader import LAST_SEQUENCE, UTC_MS
from spyhole.store.tables import place

PIECE = 2000
"""Readings let go in one transaction."""

PIECES = 200
"""In one pass at most: four days of readings at one a second, a few seconds of work."""

DAY_MS = 86_400_000
SECONDS_A_DAY = 86_400


@dataclass(frozen=True, slots=True)
class Upkeep:
    """open: a connection for one run, because the file may be another by the next. pause: between two pieces."""

    open: Callable[[], Engine]
    pause: Callable[[], None]

    def tidy(self) -> None:
        """Let SQLite look over its query plans, and fold the write-ahead log back. A server does so by itself."""
        with self._engine() as engine:
            if engine.dialect.name != "sqlite":
                return
            with closing(engine.raw_connection()) as session:
                session.execute("PRAGMA analysis_limit=400")
                session.execute("PRAGMA optimize")
                session.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def forget_readings(self, days: int, now_utc_ms: int | None) -> int:
        """Let go of readings older than so many days; returns how many. Minutes, journal and outcomes stay for ever.

        Never of the firing under way, nor of what a recovery folds after the oldest checkpoint.
        now_utc_ms: None where the clock is not set; then by their number, as if there was one each second.
        """
        gone = 0
        with self._engine() as engine:
            with engine.begin() as connection:
                kilns = connection.scalars(select(tables.kiln.c.id)).all()
            for kiln in kilns:
                for _ in range(PIECES):
                    with engine.begin() as connection:
                        done = _forget(connection, kiln, days, now_utc_ms)
                    gone += done
                    if done < PIECE:
                        break
                    self.pause()
        return gone

    @contextmanager
    def _engine(self) -> Iterator[Engine]:
        engine = self.open()
        try:
            yield engine
        except (SQLAlchemyError, sqlite3.Error) as problem:  # the second from a session of its own, in `tidy`
            cause = getattr(problem, "orig", None) or problem
            words = f"The record could not be tidied ({cause}). Nothing is lost; it is tried again."
            raise ArchiveTrouble(words) from problem
        finally:
            engine.dispose()


def _forget(connection: Connection, kiln: int, days: int, now_utc_ms: int | None) -> int:
    at = tables.reading.c.place
    until = _untouched(connection, kiln)
    if now_utc_ms is None:
        until = min(until, place(kiln, max(0, last_sequence(connection, kiln) - days * SECONDS_A_DAY)))
    oldest = connection.execute(
        select(at, (tables.reading.c.monotonic_ms + UTC_MS).label("utc_ms"))
        .join(tables.boot)
        .where(at >= place(kiln, 0), at < until)
        .order_by(at)
        .limit(PIECE)
    ).all()
    old = len(oldest) if now_utc_ms is None else _leading(oldest, now_utc_ms - days * DAY_MS)
    if old:
        connection.execute(delete(tables.reading).where(at.between(oldest[0].place, oldest[old - 1].place)))
    return old


def _leading(rows: Sequence[tuple[int, int]], before_utc_ms: int) -> int:
    """How many are older before the first that is not: in the order of the rows, whatever a clock once said."""
    return next((n for n, (_, utc_ms) in enumerate(rows) if utc_ms >= before_utc_ms), len(rows))


def _untouched(connection: Connection, kiln: int) -> int:
    """The place from which on every reading stays."""
    first, last = place(kiln, 0), place(kiln, LAST_SEQUENCE)
    checkpoint, firing = tables.checkpoint.c.place, tables.firing.c
    tail = connection.scalar(select(func.min(checkpoint)).where(checkpoint.between(first, last)))
    newest = connection.execute(
        select(firing.place, firing.ended_utc_ms)
        .where(firing.place.between(first, last))
        .order_by(firing.place.desc())
        .limit(1)
    ).first()
    running = None if newest is None or newest.ended_utc_ms is not None else newest.place
    return min((at for at in (tail, running) if at is not None), default=last)
