"""Reading the record. Each call takes a read-only connection of its own and sees one instant of what is committed."""

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from operator import attrgetter
from statistics import fmean
from typing import Any, Self, TypeVar

from sqlalchemy import Connection, Engine, RowMapping, Select, func, literal, select, true, tuple_
from sqlalchemy.exc import SQLAlchemyError

from spyhole.core.drawn import Drawn
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Row, Undo
from spyhole.core.measured import Fitted, Measured, Tripped, Witnessed
from spyhole.core.outcome import AlarmOutcome, PromptOutcome
from spyhole.core.reading import Reading
from spyhole.services.archive import (
    ArchiveDamaged,
    ArchiveTrouble,
    Checkpoint,
    Course,
    CurvePoint,
    Firing,
    Mark,
    Message,
    PendingMessage,
    RingCourse,
    RingMinute,
)
from spyhole.services.desk import FiringSummary
from spyhole.services.people import Channel, People, Person, Rang, Role
from spyhole.store import tables
from spyhole.store.encoding import CELSIUS_STEPS, reading_of
from spyhole.store.payload import JOURNAL_KINDS, UnreadablePayload, journal_value, outcome_value
from spyhole.store.tables import IMPORTED, PROBES, SEQUENCE_BITS, place, sequence_of
from spyhole.store.troubles import DAMAGED, trouble_of

T = TypeVar("T")
_Steps = Sequence[float | None]
_PIECE = 2000
LAST_SEQUENCE = IMPORTED - 1
"""Of the watch's own journal. Imported firings are beyond it."""
LAST_OF_ALL = (1 << SEQUENCE_BITS) - 1

# Where a boot never said what the wall clock shows, its own beginning stands for 1970: visibly wrong, never hidden.
UTC_MS = func.coalesce(tables.boot.c.utc_offset_ms, 0)


@cache
def _readings(probes: int) -> Select[Any]:
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


_JOURNAL = select(
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

# Without the texts of plan and kiln, which are longer than all the rest.
_SUMMARIES = select(*(column for column in tables.firing.c if not column.name.endswith("_toml")))


class SqlRecords:
    """`services.archive.Records` on a database."""

    def __init__(self, engine: Engine) -> None:
        self._reader = engine

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close_reading()

    def close_reading(self) -> None:
        """Let go of the connections."""
        self._reader.dispose()

    def kilns(self) -> list[str]:
        with self._reading() as connection:
            return list(connection.scalars(select(tables.kiln.c.name).order_by(tables.kiln.c.id)))

    def last_sequence(self, kiln: str) -> int:
        with self._reading() as connection:
            return last_sequence(connection, _kiln(connection, kiln))

    def checkpoints(self, kiln: str) -> list[Checkpoint]:
        checkpoint = tables.checkpoint.c
        with self._reading() as connection:
            number = _kiln(connection, kiln)
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
            with self._reading() as connection:
                number = _kiln(connection, kiln)
                rows, full = _piece(connection, kiln, place(number, first), place(number, last))
            yield from rows
            if not full:
                return
            first = rows[-1].sequence + 1

    def told_between(self, kiln: str, first: int, last: int) -> Iterator[Row]:
        at = tables.journal.c.place
        while True:
            with self._reading() as connection:
                number = _kiln(connection, kiln)
                here = at.between(place(number, first), place(number, last))
                rows = [
                    Row(kiln, sequence_of(row.place), row.name, row.monotonic_ms, journal_value(row.kind, row.payload))
                    for row in connection.execute(_JOURNAL.where(here).order_by(at).limit(_PIECE))
                ]
            yield from rows
            if len(rows) < _PIECE:
                return
            first = rows[-1].sequence + 1

    def carried(self, kiln: str) -> int:
        journal = tables.journal.c
        with self._reading() as connection:
            number = _kiln(connection, kiln)
            here = journal.place.between(place(number, 0), place(number, LAST_SEQUENCE)), journal.kind == "carried"
            newest = connection.scalar(select(func.max(journal.place)).where(*here))
            return 0 if newest is None else sequence_of(newest)

    def outcomes_between(self, kiln: str, first: int, last: int) -> Iterator[tuple[int, AlarmOutcome | PromptOutcome]]:
        with self._reading() as connection:
            number = _kiln(connection, kiln)
            found = [
                (sequence_of(row.place), outcome_value(row.kind, row.payload))
                for row in connection.execute(_outcomes(place(number, first), place(number, last)))
            ]
        yield from found

    def firings(self, kiln: str, newest: int | None = None, before: int | None = None) -> list[FiringSummary]:
        """An imported firing stands where its day has it, not where its rows are."""
        firing = tables.firing.c
        order = firing.started_utc_ms, firing.place
        with self._reading() as connection:
            number = _kiln(connection, kiln)
            of_kiln = firing.place.between(place(number, 0), place(number, LAST_OF_ALL))
            found = _SUMMARIES.where(of_kiln)
            if before is not None:
                at = place(number, min(before, LAST_OF_ALL))
                started = select(firing.started_utc_ms).where(firing.place == at).scalar_subquery()
                found = found.where(tuple_(*order) < tuple_(started, at))
            lines = connection.execute(found.order_by(*(column.desc() for column in order)).limit(newest)).mappings()
            return [_summary(row) for row in lines]

    def firing_count(self, kiln: str) -> int:
        at = tables.firing.c.place
        with self._reading() as connection:
            number = _kiln(connection, kiln)
            of_kiln = at.between(place(number, 0), place(number, LAST_OF_ALL))
            return connection.scalar(select(func.count(at)).where(of_kiln)) or 0

    def firing(self, kiln: str, firing: int) -> Firing | None:
        with self._reading() as connection:
            at = place(_kiln(connection, kiln), firing)
            row = connection.execute(select(tables.firing).where(tables.firing.c.place == at)).mappings().first()
            return None if row is None else Firing(kiln, _summary(row), row["plan_toml"], row["kiln_toml"])

    def minutes(self, kiln: str, firing: int) -> list[CurvePoint]:
        return [_point(minute) for minute in self._minutes_of(kiln, firing)]

    def course(self, kiln: str, firing: int, points: int) -> Course:
        found = self._minutes_of(kiln, firing)
        if not found:
            return Course([], [], ())
        together = -(-len(found) // max(1, points))
        utc_ms, _, ceilings, *steps = zip(*found, strict=True)
        lasts = [*range(together - 1, len(found) - 1, together), len(found) - 1]
        return Course(
            [utc_ms[last] for last in lasts],
            _degrees([ceilings[last] for last in lasts]),
            tuple(
                _ring_course(lowest, mean, highest, together)
                for lowest, mean, highest in zip(steps[::3], steps[1::3], steps[2::3], strict=True)
            ),
        )

    def _minutes_of(self, kiln: str, firing: int) -> Sequence[Sequence[Any]]:
        minute = tables.minute.c
        with self._reading() as connection:
            first, last = _span(connection, _kiln(connection, kiln), firing)
            of_firing = minute.place.between(first, last), minute.firing == firing
            rings = connection.scalar(select(func.max(minute.rings)).where(*of_firing)) or 0
            return connection.execute(_minutes(rings).where(*of_firing).order_by(minute.place)).all()

    def readings_of(self, kiln: str, firing: int) -> Iterator[tuple[int, Reading]]:
        """(utc_ms, reading) from its start until the kiln was cold; none at all where some have been let go."""
        at, minute = tables.reading.c.place, tables.minute.c
        with self._reading() as connection:
            first, last = _span(connection, _kiln(connection, kiln), firing)
            of_firing = minute.place.between(first, last), minute.firing == firing
            begun, over = connection.execute(
                select(func.min(minute.place), func.max(minute.place)).where(*of_firing)
            ).one()
            oldest = connection.scalar(select(func.min(at)).where(at.between(first, last)))
        last = last if over is None else over
        if oldest is None or (begun is not None and oldest > begun):
            return
        piece = _readings(PROBES).add_columns((tables.reading.c.monotonic_ms + UTC_MS).label("utc_ms")).order_by(at)
        while True:
            with self._reading() as connection:
                found = connection.execute(piece.where(at.between(first, last)).limit(_PIECE)).all()
                kept = [
                    (utc_ms, reading_of(probes, faults, columns[:PROBES], columns[PROBES:]))
                    for _, _, _, probes, faults, *columns, utc_ms in found
                ]
            yield from kept
            if len(found) < _PIECE:
                return
            first = found[-1].place + 1

    def marks(self, kiln: str, firing: int) -> list[Mark]:
        journal = tables.journal.c
        with self._reading() as connection:
            first, last = _span(connection, _kiln(connection, kiln), firing)
            told = connection.execute(
                _JOURNAL.where(journal.place.between(first, last), journal.kind.in_(("entry", "undo")))
            )
            kept = [(sequence_of(row.place), row.utc_ms, journal_value(row.kind, row.payload)) for row in told]
            outcomes = [
                Mark(row.utc_ms, sequence_of(row.place), outcome_value(row.kind, row.payload))
                for row in connection.execute(_outcomes(first, last))
            ]
        undone = {value.sequence for _, _, value in kept if isinstance(value, Undo)}
        entries = [
            Mark(value.happened_utc_ms or utc_ms, sequence, value, sequence in undone)
            for sequence, utc_ms, value in kept
            if isinstance(value, Entry)
        ]
        return sorted(entries + outcomes, key=attrgetter("sequence"))

    def sketches(self, kiln: str, firings: Sequence[int], points: int) -> dict[int, list[tuple[int, float]]]:
        """One query for a page of the kiln book: a minute is looked up for each point, and no other row is read."""
        drawn: dict[int, list[tuple[int, float]]] = {firing: [] for firing in firings}
        if not firings or points < 2:
            return drawn
        with self._reading() as connection:
            number = _kiln(connection, kiln)
            for at, utc_ms, *means in connection.execute(_sketches(number, firings, points)):
                steps = [step for step in means if step is not None]
                if steps:
                    drawn[sequence_of(at)].append((utc_ms, max(steps) / CELSIUS_STEPS))
        return drawn

    def noted(self, kiln: str, words: str) -> list[int]:
        journal = tables.journal.c
        said = json.dumps(words.lower(), ensure_ascii=False)[1:-1]
        with self._reading() as connection:
            number = _kiln(connection, kiln)
            found = connection.scalars(
                select(journal.place).where(
                    journal.place.between(place(number, 0), place(number, LAST_OF_ALL)),
                    journal.kind == "entry",
                    func.lower(journal.payload).contains(said, autoescape=True),
                )
            )
            return [sequence_of(at) for at in found]

    def entries_of(self, kiln: str, kind: EntryKind) -> list[Mark]:
        """Chosen by the text they are kept as, so that ten years of other entries need not be understood."""
        journal = tables.journal.c
        of_kind = journal.payload.contains(f'"kind":"{kind}"', autoescape=True)
        with self._reading() as connection:
            number = _kiln(connection, kiln)
            here = journal.place.between(place(number, 0), place(number, LAST_OF_ALL))
            undone = {
                value.sequence
                for row in connection.execute(_JOURNAL.where(here, journal.kind == "undo"))
                if isinstance(value := journal_value(row.kind, row.payload), Undo)
            }
            return [
                Mark(value.happened_utc_ms or row.utc_ms, sequence_of(row.place), value)
                for row in connection.execute(
                    _JOURNAL.where(here, journal.kind == "entry", of_kind).order_by(journal.place)
                )
                if isinstance(value := journal_value(row.kind, row.payload), Entry)
                and value.kind is kind
                and sequence_of(row.place) not in undone
            ]

    def fitted(
        self, kiln: str, kinds: tuple[type[Fitted], ...] = (Measured, Witnessed, Tripped)
    ) -> list[tuple[int, Fitted]]:
        with self._reading() as connection:
            number = _kiln(connection, kiln)
            return _values(connection, place(number, 0), place(number, LAST_SEQUENCE), kinds)

    def drawn(self, kiln: str, firing: int) -> list[tuple[int, Drawn]]:
        with self._reading() as connection:
            first, last = _span(connection, _kiln(connection, kiln), firing)
            return _values(connection, first, last, (Drawn,))

    def photo(self, name: str) -> bytes | None:
        with self._reading() as connection:
            found: bytes | None = connection.scalar(select(tables.photo.c.jpeg).where(tables.photo.c.name == name))
        return found

    def pending_messages(self) -> list[PendingMessage]:
        message = tables.message
        with self._reading() as connection:
            return [
                PendingMessage(
                    Message(row.key, row.recipient, row.title, row.text, row.urgent, row.created_utc_ms),
                    row.attempts,
                    row.last_error,
                )
                for row in connection.execute(
                    select(message).where(message.c.state == "pending").order_by(message.c.id)
                )
            ]

    def told_keys(self, newest: int) -> list[str]:
        message = tables.message.c
        with self._reading() as connection:
            found = connection.scalars(select(message.key).order_by(message.id.desc()).limit(newest))
            return list(found)[::-1]

    def last_told(self) -> dict[str, int]:
        message = tables.message.c
        accepted = select(message.recipient, func.max(message.done_utc_ms)).where(message.done_utc_ms.is_not(None))
        with self._reading() as connection:
            return {row[0]: row[1] for row in connection.execute(accepted.group_by(message.recipient))}

    def people(self) -> People:
        person, channel = tables.person, tables.channel
        with self._reading() as connection:
            ways: dict[str, list[Channel]] = {}
            for row in connection.execute(select(channel).order_by(channel.c.ordinal)):
                way = Channel(row.name, row.address, row.loud, Rang(row.rang), row.rang_utc_ms)
                ways.setdefault(row.person, []).append(way)
            return People(
                tuple(
                    Person(
                        row.name,
                        Role(row.role),
                        tuple(ways.get(row.name, ())),
                        None if row.quiet_from is None else (row.quiet_from, row.quiet_to),
                        row.report,
                    )
                    for row in connection.execute(select(person).order_by(person.c.ordinal))
                )
            )

    def integrity_check(self) -> list[str]:
        if self._reader.dialect.name != "sqlite":
            return []  # a server looks after its own files
        with self._reading() as connection:
            found = [str(line) for line in connection.exec_driver_sql("PRAGMA integrity_check").scalars()]
            return [] if found == ["ok"] else found

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        try:
            with self._reader.begin() as connection:
                yield connection
        except SQLAlchemyError as problem:
            cause = getattr(problem, "orig", None) or problem
            raise (ArchiveDamaged if trouble_of(problem) == DAMAGED else ArchiveTrouble)(
                f"The record cannot be read just now ({cause}). The watch goes on; look at the disk."
            ) from problem
        except (UnreadablePayload, KeyError) as problem:
            raise ArchiveTrouble(
                f"The record holds something this spyhole cannot read ({problem}). A newer version wrote it, or it is "
                "damaged; the watch goes on from here."
            ) from problem


def last_sequence(connection: Connection, kiln: int) -> int:
    """Sequence of the last row of this kiln, 0 when there is none."""
    found = 0
    for at in (tables.reading.c.place, tables.journal.c.place):
        last = connection.scalar(select(func.max(at)).where(at.between(place(kiln, 0), place(kiln, LAST_SEQUENCE))))
        found = max(found, 0 if last is None else sequence_of(last))
    return found


def _values(connection: Connection, first: int, last: int, kinds: tuple[type[T], ...]) -> list[tuple[int, T]]:
    """(utc_ms, what was told) of these kinds from place to place, in order."""
    journal = tables.journal.c
    names = [name for name, kind in JOURNAL_KINDS.items() if kind in kinds]
    told = _JOURNAL.where(journal.place.between(first, last), journal.kind.in_(names)).order_by(journal.place)
    return [
        (row.utc_ms, value)
        for row in connection.execute(told)
        if isinstance(value := journal_value(row.kind, row.payload), kinds)
    ]


def _point(minute: Sequence[Any]) -> CurvePoint:
    utc_ms, stage, ceiling, *steps = minute
    rings = tuple(
        None if low is None else RingMinute(low / CELSIUS_STEPS, mean / CELSIUS_STEPS, high / CELSIUS_STEPS)
        for low, mean, high in zip(steps[::3], steps[1::3], steps[2::3], strict=True)
    )
    return CurvePoint(utc_ms, stage, None if ceiling is None else ceiling / CELSIUS_STEPS, rings)


def _ring_course(lowest: _Steps, mean: _Steps, highest: _Steps, together: int) -> RingCourse:
    """One ring's columns, so many neighbours joined; in integers until the last moment."""
    if together > 1:
        lowest, mean, highest = (
            [None if not (seen := [step for step in column[at : at + together] if step is not None]) else join(seen)
             for at in range(0, len(column), together)]
            for column, join in ((lowest, min), (mean, fmean), (highest, max))
        )  # fmt: skip
    return RingCourse(_degrees(lowest), _degrees(mean), _degrees(highest))


def _degrees(steps: _Steps) -> list[float | None]:
    return [None if step is None else step / CELSIUS_STEPS for step in steps]


def _kiln(connection: Connection, name: str) -> int:
    """Id of a kiln; 0, which none has, for one that is not in the record: all its queries find nothing."""
    return connection.scalar(select(tables.kiln.c.id).where(tables.kiln.c.name == name)) or 0


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
    here = select(tables.reading.c.probes).where(at.between(first, last)).order_by(at).limit(_PIECE).subquery()
    most = connection.scalar(select(func.max(here.c.probes))) or 0
    readings = connection.execute(_readings(most).where(at.between(first, last)).order_by(at).limit(_PIECE)).all()
    full = len(readings) == _PIECE
    until = readings[-1].place if full else last
    at = tables.journal.c.place
    journal = connection.execute(_JOURNAL.where(at.between(first, until)).order_by(at))
    seen = (
        Row(
            kiln,
            sequence_of(key),
            boot,
            monotonic_ms,
            reading_of(probes, faults, columns[:most], columns[most:]),
        )
        for key, boot, monotonic_ms, probes, faults, *columns in readings
    )
    told = (
        Row(kiln, sequence_of(key), boot, monotonic_ms, journal_value(kind, payload))
        for key, boot, monotonic_ms, kind, payload, _ in journal
    )
    return sorted((*seen, *told), key=attrgetter("sequence")), full


def _outcomes(first: int, last: int) -> Select[Any]:
    at = tables.outcome.c.place
    return _OUTCOMES.where(at.between(first, last)).order_by(at, tables.outcome.c.ordinal)


def _minutes(rings: int) -> Select[Any]:
    """Only the columns of the rings there are: a third of the time of a three-ring curve is in the others."""
    minute = tables.minute.c
    return select(
        (minute.monotonic_ms + UTC_MS).label("utc_ms"),
        minute.stage,
        minute.ceiling,
        *(minute[f"{what}_{n}"] for n in range(1, rings + 1) for what in ("lowest", "mean", "highest")),
    ).join(tables.boot)


def _sketches(kiln: int, firings: Sequence[int], points: int) -> Select[Any]:
    """The first minute from each of so many places on, evenly between a firing's first and its last."""
    minute, firing = tables.minute.alias("minute"), tables.firing.c
    later, within = tables.firing.alias("later"), tables.minute.alias("within")
    end = (
        select(func.coalesce(func.min(later.c.place), place(kiln, LAST_OF_ALL) + 1))
        .where(later.c.place > firing.place, later.c.place <= place(kiln, LAST_OF_ALL))
        .correlate(tables.firing)
        .scalar_subquery()
    )
    last = select(func.max(within.c.place)).where(within.c.place >= firing.place, within.c.place < end)
    spans = (
        select(firing.place.label("first"), last.correlate(tables.firing).scalar_subquery().label("last"))
        .where(firing.place.in_([place(kiln, each) for each in firings]))
        .cte("span")
    )
    step = select(literal(0).label("step")).cte("step", recursive=True)
    step = step.union_all(select(step.c.step + 1).where(step.c.step < points - 1))
    near = tables.minute.alias("near")
    wanted = (
        select(func.min(near.c.place))
        .where(
            near.c.place >= spans.c.first + (spans.c.last - spans.c.first) * step.c.step // (points - 1),
            near.c.place <= spans.c.last,
        )
        .correlate(spans, step)
        .scalar_subquery()
    )
    return (
        select(
            spans.c.first,
            (minute.c.monotonic_ms + UTC_MS).label("utc_ms"),
            *(minute.c[f"mean_{n}"] for n in range(1, PROBES + 1)),
        )
        .select_from(spans)
        .join(step, true())
        .join(minute, minute.c.place == wanted)
        .join(tables.boot, tables.boot.c.id == minute.c.boot)
        .order_by(spans.c.first, step.c.step)
    )


def _span(connection: Connection, kiln: int, firing: int) -> tuple[int, int]:
    """First and last place of a firing: up to the start of the next, because cones are read after it has cooled."""
    at = tables.firing.c.place
    first = place(kiln, firing)
    following = connection.scalar(select(func.min(at)).where(at > first, at <= place(kiln, LAST_OF_ALL)))
    return first, place(kiln, LAST_OF_ALL) if following is None else following - 1


def _summary(row: RowMapping) -> FiringSummary:
    return FiringSummary(
        id=sequence_of(row["place"]),
        plan=row["plan"],
        cone=row["cone"],
        started_utc_ms=row["started_utc_ms"],
        ended_utc_ms=row["ended_utc_ms"],
        tripped_utc_ms=row["tripped_utc_ms"],
        peak_celsius=row["peak_celsius"],
        cone_progress=row["cone_progress"],
        alarms=row["alarms"],
    )
