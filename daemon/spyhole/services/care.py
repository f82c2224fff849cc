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
from spyhole.core.learning import odd, overruled
from spyhole.core.measured import Measured, Witnessed
from spyhole.core.watch import State, view_of
from spyhole.core.witnesses import follow
from spyhole.core.words import Manner
from spyhole.services.archive import Mark, Records


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
        mended = tuple(
            Mended(mark.utc_ms, names.index(entry.subject) if entry.subject in names else None, Care(entry.value))
            for mark, entry in _entries(marks)
            if entry.value in list(Care) and (not entry.subject or entry.subject in names)
        )
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
        spoken = [(utc_ms, each) for utc_ms, each in fitted if isinstance(each, Witnessed)]
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
            shutoff=care_words.shutoff(learned.shutoff_late, learned.firings, self._manner)
            if self._kiln.cone_shutoff
            else "",
            taught=lesson_words.taught(learned),
            lesson=lesson,
            teaches=teaches,
            marks=[CareMark(mark.utc_ms, entry.subject, entry.value, entry.who) for mark, entry in _entries(marks)][
                ::-1
            ],
            may=list(Care),
        )

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
        new = max((m.utc_ms for m in mended if m.what is Care.PROBE and m.ring in (None, ring)), default=0)
        said = [
            (utc_ms, offset)
            for utc_ms, each in spoken
            if utc_ms > new and (offset := each.offsets[probe] if probe < len(each.offsets) else None) is not None
        ]
        drift = follow([offset for _, offset in said])
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
