"""A firing from another logger's file, as the record keeps it: its rows, and what the watch concludes from them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.services import keeping as fold
from spyhole.services.archive import Batch, Firing, Minute, Step
from spyhole.services.desk import FiringSummary

PIECE = 2000


@dataclass(frozen=True, slots=True)
class Studio:
    """The kiln and plan of the firing, and their texts for the kiln book."""

    kiln: Kiln
    plan: Plan
    kiln_toml: str
    plan_toml: str


def told_rows(studio: Studio, first_utc_ms: int, entries: Iterable[tuple[int, Entry]]) -> list[tuple[int, Told]]:
    """What was told beside the readings, in order: clock, settings, and entries. Nobody wrote the start: it began then.

    first_utc_ms: of the first reading.
    """
    kept = sorted(entries, key=lambda entry: entry[0])
    began = min(first_utc_ms, kept[0][0]) if kept else first_utc_ms
    settings = Settings(studio.kiln, studio.plan)
    told: list[tuple[int, Told]] = [(began, Clock(began, synchronised=True)), (began, settings)]
    if not any(entry.kind is EntryKind.START for _, entry in kept):
        told.append((began, Entry(EntryKind.START, "", studio.plan.cone)))
    return [*told, *kept]


def conclude(studio: Studio, rows: Iterable[Row]) -> Iterator[Batch]:
    """Outcomes, minutes and lines of the kiln book, as a watch would have made them; a firing that the file leaves
    under way has ended with it."""
    keeping = fold.begin()
    steps: list[Step] = []
    minutes: list[Minute] = []
    for row in rows:
        keeping, kept = fold.keep(keeping, row)
        if kept.minute is not None:
            minutes.append(kept.minute)
        if kept.outcomes:
            steps.append(Step(row, kept.outcomes))
        if kept.summary is not None or len(minutes) >= PIECE:
            yield Batch(tuple(steps), tuple(minutes), _book(studio, kept.summary))
            steps, minutes = [], []
    last = fold.line_of_the_book(keeping)
    if last is not None and last.ended_utc_ms is None:
        last = replace(last, ended_utc_ms=keeping.state.line.utc_ms)
    yield Batch(tuple(steps), tuple(minutes), _book(studio, last))


def _book(studio: Studio, line: FiringSummary | None) -> tuple[Firing, ...]:
    return () if line is None else (Firing(studio.kiln.name, line, studio.plan_toml, studio.kiln_toml),)
