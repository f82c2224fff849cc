"""The kiln book: firings, their curves, and what was written and concluded while they lasted."""

import json
from collections.abc import Iterator, Sequence
from operator import attrgetter
from statistics import fmean
from typing import Any

from sqlalchemy import RowMapping, Select, func, literal, select, true, tuple_

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Undo
from spyhole.core.reading import Reading
from spyhole.services.archive import Course, CurvePoint, Firing, Mark, RingCourse, RingMinute
from spyhole.services.desk import FiringSummary
from spyhole.store import tables
from spyhole.store.encoding import CELSIUS_STEPS, reading_of
from spyhole.store.journal_queries import JOURNAL, PIECE, outcomes_of, readings_with
from spyhole.store.payload import journal_value, outcome_value
from spyhole.store.reader import LAST_OF_ALL, UTC_MS, Reader, number_of, span
from spyhole.store.tables import PROBES, place, sequence_of

_Steps = Sequence[float | None]


# Without the texts of plan and kiln, which are longer than all the rest.
_SUMMARIES = select(*(column for column in tables.firing.c if not column.name.endswith("_toml")))


class FiringQueries(Reader):
    """Firings of a kiln, and one firing whole."""

    def firings(self, kiln: str, newest: int | None = None, before: int | None = None) -> list[FiringSummary]:
        """An imported firing stands where its day has it, not where its rows are."""
        firing = tables.firing.c
        order = firing.started_utc_ms, firing.place
        with self.reading() as connection:
            number = number_of(connection, kiln)
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
        with self.reading() as connection:
            number = number_of(connection, kiln)
            of_kiln = at.between(place(number, 0), place(number, LAST_OF_ALL))
            return connection.scalar(select(func.count(at)).where(of_kiln)) or 0

    def firing(self, kiln: str, firing: int) -> Firing | None:
        with self.reading() as connection:
            at = place(number_of(connection, kiln), firing)
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
        with self.reading() as connection:
            first, last = span(connection, number_of(connection, kiln), firing)
            of_firing = minute.place.between(first, last), minute.firing == firing
            rings = connection.scalar(select(func.max(minute.rings)).where(*of_firing)) or 0
            return connection.execute(_minutes(rings).where(*of_firing).order_by(minute.place)).all()

    def readings_of(self, kiln: str, firing: int) -> Iterator[tuple[int, Reading]]:
        """(utc_ms, reading) from its start until the kiln was cold; none at all where some have been let go."""
        at, minute = tables.reading.c.place, tables.minute.c
        with self.reading() as connection:
            first, last = span(connection, number_of(connection, kiln), firing)
            of_firing = minute.place.between(first, last), minute.firing == firing
            begun, over = connection.execute(
                select(func.min(minute.place), func.max(minute.place)).where(*of_firing)
            ).one()
            oldest = connection.scalar(select(func.min(at)).where(at.between(first, last)))
        last = last if over is None else over
        if oldest is None or (begun is not None and oldest > begun):
            return
        piece = readings_with(PROBES).add_columns((tables.reading.c.monotonic_ms + UTC_MS).label("utc_ms")).order_by(at)
        while True:
            with self.reading() as connection:
                found = connection.execute(piece.where(at.between(first, last)).limit(PIECE)).all()
                kept = [
                    (utc_ms, reading_of(probes, faults, columns[:PROBES], columns[PROBES:]))
                    for _, _, _, probes, faults, *columns, utc_ms in found
                ]
            yield from kept
            if len(found) < PIECE:
                return
            first = found[-1].place + 1

    def marks(self, kiln: str, firing: int) -> list[Mark]:
        journal = tables.journal.c
        with self.reading() as connection:
            first, last = span(connection, number_of(connection, kiln), firing)
            told = connection.execute(
                JOURNAL.where(journal.place.between(first, last), journal.kind.in_(("entry", "undo")))
            )
            kept = [(sequence_of(row.place), row.utc_ms, journal_value(row.kind, row.payload)) for row in told]
            outcomes = [
                Mark(row.utc_ms, sequence_of(row.place), outcome_value(row.kind, row.payload))
                for row in connection.execute(outcomes_of(first, last))
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
        with self.reading() as connection:
            number = number_of(connection, kiln)
            for at, utc_ms, *means in connection.execute(_sketches(number, firings, points)):
                steps = [step for step in means if step is not None]
                if steps:
                    drawn[sequence_of(at)].append((utc_ms, max(steps) / CELSIUS_STEPS))
        return drawn

    def noted(self, kiln: str, words: str) -> list[int]:
        journal = tables.journal.c
        said = json.dumps(words.lower(), ensure_ascii=False)[1:-1]
        with self.reading() as connection:
            number = number_of(connection, kiln)
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
        with self.reading() as connection:
            number = number_of(connection, kiln)
            here = journal.place.between(place(number, 0), place(number, LAST_OF_ALL))
            undone = {
                value.sequence
                for row in connection.execute(JOURNAL.where(here, journal.kind == "undo"))
                if isinstance(value := journal_value(row.kind, row.payload), Undo)
            }
            return [
                Mark(value.happened_utc_ms or row.utc_ms, sequence_of(row.place), value)
                for row in connection.execute(
                    JOURNAL.where(here, journal.kind == "entry", of_kind).order_by(journal.place)
                )
                if isinstance(value := journal_value(row.kind, row.payload), Entry)
                and value.kind is kind
                and sequence_of(row.place) not in undone
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
