"""An imported firing into the record: all of it or nothing, beside the journal of the watch.

Its rows have sequences that no watch gives (`tables.IMPORTED`), so that a recovery never folds them. Its readings go
in by the driver's own hands, column by column: through objects a row each they take six times as long.
"""

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import repeat

from sqlalchemy import Connection, Engine, func, insert, select

from spyhole.core.journal import Row, Told
from spyhole.core.refusal import Refusal
from spyhole.services.archive import Batch
from spyhole.store import tables
from spyhole.store.held import held_of
from spyhole.store.journal_queries import rows_of
from spyhole.store.payload import journal_payload
from spyhole.store.tables import IMPORT_ROWS, IMPORTED, place, sequence_of
from spyhole.store.transaction import Names, write

Conclude = Callable[[Iterable[Row]], Iterator[Batch]]
"""What the watch concludes from these rows, a piece at a time."""


def put_import(
    engine: Engine,
    kiln: str,
    told: Sequence[tuple[int, Told]],
    utc_ms: Sequence[int],
    columns: Sequence[Sequence[int | None]],
    conclude: Conclude,
    *,
    stored: Callable[[int], None] = lambda rows: None,
) -> int:
    """Store these rows and what is concluded from them; returns the first sequence.

    told: (utc_ms, what) in order; one of the same instant as a reading stands before it. columns: one a probe, as
    long as utc_ms, in 1/128 degC, None for nothing read. stored: called once the rows are in, before they are judged.
    Refusal, and nothing kept, where the kiln book has a firing in this time already.
    """
    rows = len(told) + len(utc_ms)
    if rows >= IMPORT_ROWS:
        raise Refusal(kiln, f"{rows:,} rows are more than one firing has", f"it is at most {IMPORT_ROWS:,}")
    with engine.begin() as connection:
        number = Names(connection).kiln(connection, kiln)
        _refuse_again(connection, number, kiln, utc_ms[0], utc_ms[-1])
        first = _free(connection, number)
        boot = _boot(connection, first)
        _put_rows(connection, place(number, first), boot, told, utc_ms, columns)
        stored(rows)
        names = Names(connection)
        for batch in conclude(rows_of(connection, kiln, place(number, first), place(number, first + rows - 1))):
            write(connection, held_of(batch), names)
    return first


def _refuse_again(connection: Connection, kiln: int, name: str, first_ms: int, last_ms: int) -> None:
    firing = tables.firing.c
    of_kiln = firing.place.between(place(kiln, 0), place(kiln + 1, 0) - 1)
    there = connection.execute(
        select(firing.plan).where(of_kiln, firing.started_utc_ms.between(first_ms - 60_000, last_ms)).limit(1)
    ).first()
    if there is not None:
        problem = f"the kiln book has a firing in this time already ({there.plan})"
        raise Refusal(name, problem, "it was imported before, or the zone is another than was said")


def _free(connection: Connection, kiln: int) -> int:
    """The first sequence of the next import."""
    at = tables.journal.c.place
    last = connection.scalar(select(func.max(at)).where(at.between(place(kiln, IMPORTED), place(kiln + 1, 0) - 1)))
    return IMPORTED if last is None else (sequence_of(last) // IMPORT_ROWS + 1) * IMPORT_ROWS


def _boot(connection: Connection, first: int) -> int:
    """A boot whose monotonic clock is UTC, its id below all others: a boot without a clock hangs on the next one."""
    lowest = connection.scalar(select(func.min(tables.boot.c.id))) or 0
    number = min(lowest, 0) - 1
    connection.execute(
        insert(tables.boot).values(id=number, name=f"import {number} {first}", utc_offset_ms=0, synchronised=True)
    )
    return number


def _put_rows(
    connection: Connection,
    at: int,
    boot: int,
    told: Sequence[tuple[int, Told]],
    utc_ms: Sequence[int],
    columns: Sequence[Sequence[int | None]],
) -> None:
    """Readings between two things told are one stretch of sequences."""
    done = 0
    for told_ms, what in (*told, (None, None)):
        until = len(utc_ms) if told_ms is None else bisect_left(utc_ms, told_ms, done)
        if until > done:
            _put_readings(connection, at, boot, utc_ms[done:until], [column[done:until] for column in columns])
            at += until - done
            done = until
        if told_ms is not None and what is not None:
            kind, payload = journal_payload(what)
            connection.execute(
                insert(tables.journal).values(place=at, boot=boot, monotonic_ms=told_ms, kind=kind, payload=payload)
            )
            at += 1


def _put_readings(
    connection: Connection, at: int, boot: int, utc_ms: Sequence[int], columns: Sequence[Sequence[int | None]]
) -> None:
    names = ["place", "boot", "monotonic_ms", "probes", "faults", *(f"celsius_{n + 1}" for n in range(len(columns)))]
    mark = "?" if connection.dialect.name == "sqlite" else "%s"
    line = f"INSERT INTO reading ({', '.join(names)}) VALUES ({', '.join([mark] * len(names))})"  # noqa: S608  (our own names)
    rows = zip(
        range(at, at + len(utc_ms)), repeat(boot), utc_ms, repeat(len(columns)), repeat(0), *columns, strict=False
    )
    cursor = connection.connection.cursor()
    try:
        cursor.executemany(line, rows)  # type: ignore[arg-type]  # both drivers take what can be iterated
    finally:
        cursor.close()
