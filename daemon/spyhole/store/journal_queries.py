"""What the watch was told and what it concluded, read back row by row."""

from collections.abc import Iterator
from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

from sqlalchemy import Connection, Select, func, select

from spyhole.core.drawn import Drawn
from spyhole.core.journal import Row
from spyhole.core.measured import Fitted, Measured, Tripped, Witnessed
from spyhole.core.outcome import AlarmOutcome, PromptOutcome
from spyhole.services.archive import Checkpoint
from spyhole.store import tables
from spyhole.store.encoding import reading_of
from spyhole.store.payload import JOURNAL_KINDS, journal_value, outcome_value
from spyhole.store.reader import LAST_SEQUENCE, UTC_MS, Reader, number_of, span
from spyhole.store.tables import place, sequence_of

T = TypeVar("T")
PIECE = 2000


@cache
def readings_with(probes: int) -> Select[Any]:
    """With the columns of so many probes: a start reads days of them, and most columns of most kilns are empty."""
    reading = tables.reading.c
    return select(
        reading.place,
        tables.boot.c.name,
        reading.monotonic_ms,
        reading.probes,
        reading.faults,
        *(reading[f"celsius_{n}"] for n in range(1, probes + 1)),
        *(reading[f"cold_junction_{n}"] for n in range(1, probes + 1)),
    ).join(tables.boot)


JOURNAL = select(
    tables.journal.c.place,
    tables.boot.c.name,
    tables.journal.c.monotonic_ms,
    tables.journal.c.kind,
    tables.journal.c.payload,
    (tables.journal.c.monotonic_ms + UTC_MS).label("utc_ms"),
).join(tables.boot)
_OUTCOMES = select(
    tables.outcome.c.place,
    (tables.outcome.c.monotonic_ms + UTC_MS).label("utc_ms"),
    tables.outcome.c.kind,
    tables.outcome.c.payload,
).join(tables.boot)


class JournalQueries(Reader):
    """Rows, checkpoints, outcomes."""

    def last_sequence(self, kiln: str) -> int:
        with self.reading() as connection:
            return last_sequence(connection, number_of(connection, kiln))

    def checkpoints(self, kiln: str) -> list[Checkpoint]:
        checkpoint = tables.checkpoint.c
        with self.reading() as connection:
            number = number_of(connection, kiln)
            kept = connection.execute(
                select(checkpoint.place, checkpoint.version, checkpoint.blob)
                .where(checkpoint.place.between(place(number, 0), place(number, LAST_SEQUENCE)))
                .order_by(checkpoint.place.desc())
            )
            return [Checkpoint(kiln, sequence_of(at), version, blob) for at, version, blob in kept]

    def rows_after(self, kiln: str, sequence: int) -> Iterator[Row]:
        return self.rows_between(kiln, sequence + 1, LAST_SEQUENCE)

    def rows_between(self, kiln: str, first: int, last: int) -> Iterator[Row]:
        """A piece is read in one transaction and let go before its rows are handed out: no reader holds up the log."""
        while True:
            with self.reading() as connection:
                number = number_of(connection, kiln)
                rows, full = _piece(connection, kiln, place(number, first), place(number, last))
            yield from rows
            if not full:
                return
            first = rows[-1].sequence + 1

    def told_between(self, kiln: str, first: int, last: int) -> Iterator[Row]:
        at = tables.journal.c.place
        while True:
            with self.reading() as connection:
                number = number_of(connection, kiln)
                here = at.between(place(number, first), place(number, last))
                rows = [
                    Row(kiln, sequence_of(row.place), row.name, row.monotonic_ms, journal_value(row.kind, row.payload))
                    for row in connection.execute(JOURNAL.where(here).order_by(at).limit(PIECE))
                ]
            yield from rows
            if len(rows) < PIECE:
                return
            first = rows[-1].sequence + 1

    def carried(self, kiln: str) -> int:
        journal = tables.journal.c
        with self.reading() as connection:
            number = number_of(connection, kiln)
            here = journal.place.between(place(number, 0), place(number, LAST_SEQUENCE)), journal.kind == "carried"
            newest = connection.scalar(select(func.max(journal.place)).where(*here))
            return 0 if newest is None else sequence_of(newest)

    def outcomes_between(self, kiln: str, first: int, last: int) -> Iterator[tuple[int, AlarmOutcome | PromptOutcome]]:
        with self.reading() as connection:
            number = number_of(connection, kiln)
            found = [
                (sequence_of(row.place), outcome_value(row.kind, row.payload))
                for row in connection.execute(outcomes_of(place(number, first), place(number, last)))
            ]
        yield from found

    def fitted(
        self, kiln: str, kinds: tuple[type[Fitted], ...] = (Measured, Witnessed, Tripped)
    ) -> list[tuple[int, Fitted]]:
        with self.reading() as connection:
            number = number_of(connection, kiln)
            return _values(connection, place(number, 0), place(number, LAST_SEQUENCE), kinds)

    def drawn(self, kiln: str, firing: int) -> list[tuple[int, Drawn]]:
        with self.reading() as connection:
            first, last = span(connection, number_of(connection, kiln), firing)
            return _values(connection, first, last, (Drawn,))


def last_sequence(connection: Connection, kiln: int) -> int:
    """Sequence of the last row of this kiln, 0 when there is none."""
    found = 0
    for at in (tables.reading.c.place, tables.journal.c.place):
        last = connection.scalar(select(func.max(at)).where(at.between(place(kiln, 0), place(kiln, LAST_SEQUENCE))))
        found = max(found, 0 if last is None else sequence_of(last))
    return found


def rows_of(connection: Connection, kiln: str, first: int, last: int) -> Iterator[Row]:
    """Rows from place to place, both included, in order, in the transaction of this connection."""
    full = True
    while full:
        rows, full = _piece(connection, kiln, first, last)
        yield from rows
        first += (rows[-1].sequence - sequence_of(first) + 1) if rows else 0


def _piece(connection: Connection, kiln: str, first: int, last: int) -> tuple[list[Row], bool]:
    """Rows from place to place in order, at most about a piece of them, and whether there may be more."""
    at = tables.reading.c.place
    here = select(tables.reading.c.probes).where(at.between(first, last)).order_by(at).limit(PIECE).subquery()
    most = connection.scalar(select(func.max(here.c.probes))) or 0
    readings = connection.execute(readings_with(most).where(at.between(first, last)).order_by(at).limit(PIECE)).all()
    full = len(readings) == PIECE
    until = readings[-1].place if full else last
    at = tables.journal.c.place
    journal = connection.execute(JOURNAL.where(at.between(first, until)).order_by(at))
    seen = (
        Row(kiln, sequence_of(key), boot, monotonic_ms, reading_of(probes, faults, columns[:most], columns[most:]))
        for key, boot, monotonic_ms, probes, faults, *columns in readings
    )
    told = (
        Row(kiln, sequence_of(key), boot, monotonic_ms, journal_value(kind, payload))
        for key, boot, monotonic_ms, kind, payload, _ in journal
    )
    return sorted((*seen, *told), key=attrgetter("sequence")), full


def outcomes_of(first: int, last: int) -> Select[Any]:
    """What was concluded from place to place, in order."""
    at = tables.outcome.c.place
    return _OUTCOMES.where(at.between(first, last)).order_by(at, tables.outcome.c.ordinal)


def _values(connection: Connection, first: int, last: int, kinds: tuple[type[T], ...]) -> list[tuple[int, T]]:
    """(utc_ms, what was told) of these kinds from place to place, in order."""
    journal = tables.journal.c
    names = [name for name, kind in JOURNAL_KINDS.items() if kind in kinds]
    told = JOURNAL.where(journal.place.between(first, last), journal.kind.in_(names)).order_by(journal.place)
    return [
        (row.utc_ms, value)
        for row in connection.execute(told)
        if isinstance(value := journal_value(row.kind, row.payload), kinds)
    ]
