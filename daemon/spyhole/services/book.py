"""The kiln book to leaf through: a page of it with sketches, one firing opened, several laid over one another."""

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from spyhole.core import words
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.forms.kiln_toml import kiln_from_toml
from spyhole.core.outcome import Action, AlarmOutcome, PromptOutcome
from spyhole.core.overlay import MOST, By, Laid, against_first, grid, lay, spans
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.archive import CurvePoint, Mark, Records
from spyhole.services.desk import FiringSummary

SKETCH_POINTS = 60
OVERLAY_POINTS = 300
MS_PER_HOUR = 3_600_000
COOLING = "cooling"
NOT_THERE = "the book itself lists those there are"


@dataclass(frozen=True, slots=True)
class Sketch:
    """A firing's curve in a few points, of its hottest ring [degC]. Both lists are of one length."""

    utc_ms: list[int]
    celsius: list[float]


@dataclass(frozen=True, slots=True)
class BookLine:
    """A firing on a page of the book."""

    firing: FiringSummary
    sketch: Sketch


@dataclass(frozen=True, slots=True)
class BookPage:
    """found: how many fit what was searched. total: how many are in the book."""

    lines: list[BookLine]
    found: int
    total: int


@dataclass(frozen=True, slots=True)
class StageView:
    """A stage as it was. hours: how long it took."""

    stage: str
    began_utc_ms: int
    hours: float


@dataclass(frozen=True, slots=True)
class BookMark:
    """Something written down, or told. kind: entry, alarm, prompt. photo: its name, where it shows one."""

    utc_ms: int
    kind: str
    words: str
    who: str
    photo: str | None


@dataclass(frozen=True, slots=True)
class Opened:
    """One firing of the book, but for its curve."""

    firing: FiringSummary
    stages: list[StageView]
    marks: list[BookMark]


@dataclass(frozen=True, slots=True)
class Over:
    """One firing of an overlay. celsius, against_first: as long as the overlay's hours; None where not known.

    against_first: how much hotter than the first firing there [degC].
    """

    firing: FiringSummary
    celsius: list[float | None]
    against_first: list[float | None]
    stages: list[StageView]


@dataclass(frozen=True, slots=True)
class Overlay:
    """Firings laid over one another. hours: since lighting; by stage, those of the first firing. ring: whose curve."""

    by: By
    ring: str
    hours: list[float]
    firings: list[Over]


class Book:
    """Of one kiln. now: the line of the firing under way or the last, None before any."""

    def __init__(self, records: Records, kiln: str, manner: Manner, now: Callable[[], FiringSummary | None]) -> None:
        self._records = records
        self._kiln = kiln
        self._manner = manner
        self._now = now

    def page(self, newest: int, before: int | None = None, searched: str = "") -> BookPage:
        """So many, newest first, of those begun before the firing of this id, in which every word is found."""
        total = self._records.firing_count(self._kiln)
        sought = searched.lower().split()
        if sought:
            fit = self._found(sought)
            first = 0
            if before is not None:
                first = next((place + 1 for place, line in enumerate(fit) if line.id == before), len(fit))
            lines, found = fit[first : first + newest], len(fit)
        else:
            lines, found = self._records.firings(self._kiln, newest, before), total
        now = self._now()
        lines = [now if now is not None and now.id == line.id else line for line in lines]
        drawn = self._records.sketches(self._kiln, [line.id for line in lines], SKETCH_POINTS)
        return BookPage([BookLine(line, _sketch(drawn[line.id])) for line in lines], found, total)

    def opened(self, firing: int) -> Opened:
        """One firing. Refusal where there is none."""
        line = self._line(firing)
        return Opened(line, _stages(line, self._records.minutes(self._kiln, firing)), self._marks(firing))

    def overlay(self, firings: Sequence[int], by: By, ring: str) -> Overlay:
        """Two to four firings; ring "": the reference ring of the first, as its plan has it. Refusal."""
        if not 2 <= len(set(firings)) == len(firings) <= MOST:
            raise Refusal("firing", "these cannot be laid over one another", f"two to {MOST} different firings can")
        lines = [self._line(each) for each in firings]
        kept = self._records.firing(self._kiln, firings[0])
        kiln = kiln_from_toml(kept.kiln_toml if kept else "", "the kiln of this firing")
        names = [each.name for each in kiln.rings]
        probed = [names[index] for index in kiln.probe_rings]
        if ring and ring not in probed:
            raise Refusal("ring", "no ring with a probe is called this", f"there are {', '.join(probed)}")
        ring = ring or probed[len(probed) // 2]
        curves = [self._records.minutes(self._kiln, each) for each in firings]
        laid = [_laid(line, points, names.index(ring)) for line, points in zip(lines, curves, strict=True)]
        hours = grid(laid, by, OVERLAY_POINTS)
        over = lay(laid, by, hours)
        apart = against_first(over)
        return Overlay(
            by,
            ring,
            [round(hour, 4) for hour in hours],
            [
                Over(line, _rounded(celsius), _rounded(difference), _stages(line, points))
                for line, celsius, difference, points in zip(lines, over, apart, curves, strict=True)
            ],
        )

    def _line(self, firing: int) -> FiringSummary:
        now = self._now()
        if now is not None and now.id == firing:
            return now
        kept = self._records.firing(self._kiln, firing)
        if kept is None:
            raise Refusal("firing", "there is no such firing in the kiln book", NOT_THERE)
        return kept.summary

    def _found(self, sought: list[str]) -> list[FiringSummary]:
        lines = self._records.firings(self._kiln)
        starts = sorted(line.id for line in lines)
        for word in sought:
            noted = {_firing_of(starts, sequence) for sequence in self._records.noted(self._kiln, word)}
            lines = [line for line in lines if line.id in noted or word in self._said(line)]
        return lines

    def _said(self, line: FiringSummary) -> str:
        """What can be searched of a line besides what was written down."""
        began = datetime.fromtimestamp(line.started_utc_ms / 1000, UTC).astimezone(self._manner.zone)
        down = (line.cone_progress or 0.0) >= 1.0
        outcome = "under way" if line.ended_utc_ms is None else "cone down" if down else "cone not down"
        ended = "shut off tripped" if line.tripped_utc_ms is not None else ""
        alarms = "no alarms" if line.alarms == 0 else "alarms"
        return f"{line.plan} cone {line.cone} {began:%Y %B %Y-%m-%d %A} {outcome} {ended} {alarms}".lower()

    def _marks(self, firing: int) -> list[BookMark]:
        return [
            BookMark(mark.utc_ms, _kind(mark), words.mark(mark.what, self._manner), _who(mark), _photo(mark))
            for mark in self._records.marks(self._kiln, firing)
            if not mark.undone and not (isinstance(mark.what, AlarmOutcome) and mark.what.action is not Action.RAISE)
        ]


def _firing_of(starts: list[int], sequence: int) -> int:
    """The firing this row belongs to: the last that began before it; 0 for none."""
    place = bisect_right(starts, sequence)
    return starts[place - 1] if place else 0


def _sketch(points: list[tuple[int, float]]) -> Sketch:
    return Sketch([utc_ms for utc_ms, _ in points], [round(celsius) for _, celsius in points])


def _laid(line: FiringSummary, points: Sequence[CurvePoint], ring: int) -> Laid:
    """What follows the end of heating is a stage of its own: the minutes keep the name of the last one.

    Where no trip was seen, heating has ended at its hottest: that a firing is over may be known hours later.
    """
    hours: list[float] = []
    stages: list[str] = []
    celsius: list[float | None] = []
    off = line.tripped_utc_ms
    if off is None and line.ended_utc_ms is not None and points:
        off = max(points, key=_hottest).utc_ms
    for point in points:
        hour = (point.utc_ms - line.started_utc_ms) / MS_PER_HOUR
        if hour < 0 or (hours and hour <= hours[-1]):
            continue  # before lighting, or the clock was set back there
        seen = point.rings[ring] if ring < len(point.rings) else None
        hours.append(hour)
        stages.append(point.stage if off is None or point.utc_ms <= off else COOLING)
        celsius.append(None if seen is None else seen.mean_celsius)
    return Laid(tuple(hours), tuple(stages), tuple(celsius))


def _hottest(point: CurvePoint) -> float:
    return max((ring.mean_celsius for ring in point.rings if ring is not None), default=0.0)


def _stages(line: FiringSummary, points: Sequence[CurvePoint]) -> list[StageView]:
    return [
        StageView(span.stage, line.started_utc_ms + round(span.begin * MS_PER_HOUR), round(span.hours, 3))
        for span in spans(_laid(line, points, 0))
    ]


def _rounded(column: Sequence[float | None]) -> list[float | None]:
    return [None if value is None else round(value, 1) for value in column]


def _kind(mark: Mark) -> str:
    if isinstance(mark.what, AlarmOutcome):
        return "alarm"
    return "prompt" if isinstance(mark.what, PromptOutcome) else "entry"


def _who(mark: Mark) -> str:
    return mark.what.who if isinstance(mark.what, Entry) else ""


def _photo(mark: Mark) -> str | None:
    return mark.what.value if isinstance(mark.what, Entry) and mark.what.kind is EntryKind.PHOTO else None
