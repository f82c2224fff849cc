"""The kiln over the years: what its elements lost, what its cones say of its probes, and what was done to it."""

from collections.abc import Callable
from dataclasses import dataclass

from spyhole.core import care_words, lesson_words
from spyhole.core.ageing import Mended, Seen, Trend, judge, percent_lost
from spyhole.core.care import Care
from spyhole.core.cones.doubt import EIGHTY_PERCENT
from spyhole.core.element_share import open_elements
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.kiln import Kiln
from spyhole.core.learned import Belief
from spyhole.core.learning import odd, overruled, witnessed
from spyhole.core.measured import Fitted, Lesson, Measured, Tripped, Witnessed
from spyhole.core.state import State, view_of
from spyhole.core.witnesses import Drift, follow
from spyhole.core.words import Manner
from spyhole.services.archive import ArchiveTrouble, Mark, Records

MOST_TRIPS = 100
"""So many of the latest are shown."""


@dataclass(frozen=True, slots=True)
class ElementsView:
    """A ring's elements. lost_low_percent, lost_high_percent: of its power, at 80 %. weak: somebody has to look.

    utc_ms, strength_percent: each firing since they were new, 100 as at first. due_*: firings, null out of sight.
    """

    ring: str
    words: str
    weak: bool
    new_utc_ms: int | None
    firings: int
    lost_low_percent: float
    lost_high_percent: float
    due_low: int | None
    due_about: int | None
    due_high: int | None
    utc_ms: list[int]
    strength_percent: list[float]


@dataclass(frozen=True, slots=True)
class ProbeCareView:
    """A probe by its cones. offset_celsius: to add to what it reads, give or take off_celsius eight times in ten.

    utc_ms, celsius: what the cones of each firing said alone, since the probe was new.
    """

    ring: str
    words: str
    drifts: bool
    offset_celsius: float | None
    off_celsius: float | None
    utc_ms: list[int]
    celsius: list[float]


@dataclass(frozen=True, slots=True)
class TripView:
    """A trip of the shut-off. late_celsius: past its cone's number. taught: whether the next firing goes by it too.

    gap_millimetres: of the trigger, null where nobody measured. words: of all of it.
    """

    utc_ms: int
    late_celsius: float
    gap_millimetres: float | None
    taught: bool
    words: str


@dataclass(frozen=True, slots=True)
class Drifting:
    """A probe that reads otherwise than it did. since_utc_ms: when it was new, 0 where nobody wrote that down."""

    ring: str
    since_utc_ms: int
    words: str


@dataclass(frozen=True, slots=True)
class CareMark:
    """Something renewed, mended or found. ring: empty for the whole kiln."""

    utc_ms: int
    ring: str
    what: str
    who: str


@dataclass(frozen=True, slots=True)
class CareView:
    """rings: their names from the bottom up. open: of an element of two that is open; together: of all rings in the
    last firing; both empty where there is nothing to say. taught: of the kiln; lesson: of the firing that is over, and
    whether it teaches the next, null where there is none.
    """

    rings: list[str]
    firings: int
    elements: list[ElementsView]
    together: str
    open: str
    probes: list[ProbeCareView]
    shutoff: str
    trips: list[TripView]
    taught: str
    lesson: str
    teaches: bool | None
    marks: list[CareMark]
    may: list[str]


class CareBook:
    """Of one kiln. state: of the watch now."""

    def __init__(self, records: Records, kiln: Kiln, manner: Manner, state: Callable[[], State]) -> None:
        self._records = records
        self._kiln = kiln
        self._manner = manner
        self._state = state

    def view(self) -> CareView:
        """All of it, out of the record."""
        names = [ring.name for ring in self._kiln.rings]
        fitted = self._records.fitted(self._kiln.name)
        marks = self._records.entries_of(self._kiln.name, EntryKind.MAINTENANCE)
        mended = _mended(marks, names)
        seen = [
            Seen(utc_ms, each)
            for utc_ms, each in fitted
            if isinstance(each, Measured) and len(each.apart) == len(names)  # a kiln described anew begins anew
        ]
        found = judge(seen, mended)
        elements: list[ElementsView] = []
        if found is not None:
            for trend in found.rings:
                name = names[trend.ring]
                elements.append(_elements(name, trend, care_words.elements(name, trend, found, mended, self._manner)))
        shared = None if found is None else found.together
        state = self._state()
        learned = state.learned
        lesson, teaches = self._lesson(state)
        spoken = self._spoken(fitted, state)
        return CareView(
            rings=names,
            firings=len(seen),
            elements=elements,
            open=care_words.one_open([names[ring] for ring in open_elements(self._kiln, seen[-1].measured.shares)])
            if seen
            else "",
            together="" if shared is None else care_words.together(shared),
            probes=[
                self._probe(probe, ring, learned.offset(probe), spoken, mended)
                for probe, ring in enumerate(self._kiln.probe_rings)
            ],
            shutoff=care_words.shutoff(learned, self._manner) if self._kiln.cone_shutoff else "",
            trips=[
                TripView(
                    utc_ms=utc_ms,
                    late_celsius=each.late_celsius,
                    gap_millimetres=each.gap_millimetres,
                    taught=each.lesson is Lesson.TAUGHT,
                    words=care_words.trip(each, self._manner),
                )
                for utc_ms, each in fitted
                if isinstance(each, Tripped)
            ][-MOST_TRIPS:],
            taught=lesson_words.taught(learned),
            lesson=lesson,
            teaches=teaches,
            marks=[CareMark(mark.utc_ms, entry.subject, entry.value, entry.who) for mark, entry in _entries(marks)][
                ::-1
            ],
            may=list(Care),
        )

    def drifting(self) -> tuple[Drifting, ...]:
        """The probes that drift by their cones, those of a firing that is over among them."""
        state = self._state()
        spoken = self._spoken(self._records.fitted(self._kiln.name, (Witnessed,)), state)
        if not spoken:
            return ()
        names = [ring.name for ring in self._kiln.rings]
        mended = _mended(self._records.entries_of(self._kiln.name, EntryKind.MAINTENANCE), names)
        found = []
        for probe, ring in enumerate(self._kiln.probe_rings):
            new, drift = _followed(probe, ring, spoken, mended)[1:]
            if drift.drifts:
                found.append(Drifting(names[ring], new, care_words.drifts(names[ring], drift, self._manner)))
        return tuple(found)

    def before_lighting(self) -> tuple[str, ...]:
        """What has to be seen to before the next firing, in sentences. A record that cannot be read holds up nobody."""
        try:
            return tuple(one.words for one in self.drifting())
        except ArchiveTrouble:
            return ()

    def _spoken(self, fitted: list[tuple[int, Fitted]], state: State) -> list[tuple[int, Witnessed]]:
        """What cones said, firing by firing; of the last one too, which is taken down when the next is lit."""
        spoken = [(utc_ms, each) for utc_ms, each in fitted if isinstance(each, Witnessed)]
        last = view_of(state)
        if last is None or not last.firing.off or any(each.firing == last.firing.id for _, each in spoken):
            return spoken
        said = witnessed(last)
        return spoken if said is None else [*spoken, (state.line.utc_ms, said)]

    def _lesson(self, state: State) -> tuple[str, bool | None]:
        """What the firing that is over will teach the next, and whether it will; None where there is none."""
        last = view_of(state)
        if last is None or not last.firing.ended:
            return "", None
        found, said = odd(last), overruled(last.firing)
        return lesson_words.lesson(found, said), found is None if said is None else said

    def _probe(
        self,
        probe: int,
        ring: int,
        learned: Belief | None,
        spoken: list[tuple[int, Witnessed]],
        mended: tuple[Mended, ...],
    ) -> ProbeCareView:
        said, _, drift = _followed(probe, ring, spoken, mended)
        name = self._kiln.rings[ring].name
        return ProbeCareView(
            ring=name,
            words=care_words.probe(name, learned if said else None, drift, self._manner),
            drifts=drift.drifts,
            offset_celsius=None if learned is None else round(learned.value, 1),
            off_celsius=None if learned is None else round(EIGHTY_PERCENT * learned.deviation, 1),
            utc_ms=[utc_ms for utc_ms, _ in said],
            celsius=[round(offset.value, 1) for _, offset in said],
        )


def _mended(marks: list[Mark], names: list[str]) -> tuple[Mended, ...]:
    return tuple(
        Mended(mark.utc_ms, names.index(entry.subject) if entry.subject in names else None, Care(entry.value))
        for mark, entry in _entries(marks)
        if entry.value in list(Care) and (not entry.subject or entry.subject in names)
    )


def _followed(
    probe: int, ring: int, spoken: list[tuple[int, Witnessed]], mended: tuple[Mended, ...]
) -> tuple[list[tuple[int, Belief]], int, Drift]:
    """What cones said of a probe since it was new, when that was [UTC ms, 0 where nobody wrote it down], its drift."""
    new = max((m.utc_ms for m in mended if m.what is Care.PROBE and m.ring in (None, ring)), default=0)
    said = [
        (utc_ms, offset)
        for utc_ms, each in spoken
        if utc_ms > new and (offset := each.offsets[probe] if probe < len(each.offsets) else None) is not None
    ]
    return said, new, follow([offset for _, offset in said])


def _entries(marks: list[Mark]) -> list[tuple[Mark, Entry]]:
    return [(mark, mark.what) for mark in marks if isinstance(mark.what, Entry)]


def _elements(name: str, trend: Trend, words: str) -> ElementsView:
    low, high = care_words.between(trend)
    return ElementsView(
        ring=name,
        words=words,
        weak=trend.weak,
        new_utc_ms=trend.new_utc_ms,
        firings=trend.firings,
        lost_low_percent=round(low, 1),
        lost_high_percent=round(high, 1),
        due_low=None if trend.due is None else trend.due.low,
        due_about=None if trend.due is None else trend.due.about,
        due_high=None if trend.due is None else trend.due.high,
        utc_ms=[utc_ms for utc_ms, _ in trend.seen],
        strength_percent=[round(100.0 - percent_lost(-value), 2) for _, value in trend.seen],
    )
