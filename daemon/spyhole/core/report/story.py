"""What a report is made from: the minutes of a firing and what people and the watch said in it."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from spyhole.core.drawn import Drawn
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.outcome import Action, AlarmOutcome, PromptOutcome
from spyhole.core.plan import Plan

SETTLED_CELSIUS = 5.0
BEYOND_NOISE_MS = 10 * 60_000
COOLED_CELSIUS = 50.0
HOT_END_CELSIUS = 200.0
LOST_MINUTES = 20


@dataclass(frozen=True, slots=True)
class Point:
    """One minute. utc_ms: its middle. celsius (the mean), lowest, highest: one a ring, None where there was none.

    ceiling_celsius: what no ring should have passed then.
    """

    utc_ms: int
    stage: str
    ceiling_celsius: float | None
    celsius: tuple[float | None, ...]
    lowest: tuple[float | None, ...]
    highest: tuple[float | None, ...]


class Minute(NamedTuple):
    """One minute of one ring: its middle, and degC. A tuple: a firing has thousands."""

    utc_ms: int
    lowest: float
    celsius: float
    highest: float


@dataclass(frozen=True, slots=True)
class Happening:
    """An entry that was not taken back, an alarm or a prompt. utc_ms: when it happened."""

    utc_ms: int
    sequence: int
    what: Entry | AlarmOutcome | PromptOutcome


@dataclass(frozen=True)  # without slots, so that what is asked often is worked out once
class Story:
    """One firing as the record has it. points and happenings in the order of time.

    tripped_utc_ms: when the shut-off dropped, as the watch took it down. drawn: (utc_ms, currents from then on), where
    they are measured.
    """

    id: int
    kiln: Kiln
    plan: Plan
    started_utc_ms: int
    ended_utc_ms: int | None
    tripped_utc_ms: int | None
    points: tuple[Point, ...]
    happenings: tuple[Happening, ...]
    drawn: tuple[tuple[int, Drawn], ...] = ()

    def entries(self, *kinds: EntryKind) -> Iterator[tuple[int, Entry]]:
        """(utc_ms, entry) of these kinds."""
        for one in self.happenings:
            if isinstance(one.what, Entry) and one.what.kind in kinds:
                yield one.utc_ms, one.what

    def alarms(self) -> Iterator[AlarmOutcome]:
        """Every alarm that came, not those that went."""
        for one in self.happenings:
            if isinstance(one.what, AlarmOutcome) and one.what.action is Action.RAISE:
                yield one.what

    def prompts(self, tag: str) -> Iterator[PromptOutcome]:
        """Every prompt of this tag."""
        for one in self.happenings:
            if isinstance(one.what, PromptOutcome) and one.what.tag == tag:
                yield one.what

    def seen(self, ring: int) -> list[tuple[int, float]]:
        """(utc_ms, degC) of this ring, where believed."""
        return [(p.utc_ms, p.celsius[ring] or 0.0) for p in self.points if _has(p.celsius, ring)]

    def minutes(self, ring: int) -> list[Minute]:
        """Every minute of this ring in which something was believed."""
        return [
            Minute(p.utc_ms, p.lowest[ring] or 0.0, p.celsius[ring] or 0.0, p.highest[ring] or 0.0)
            for p in self.points
            if _has(p.celsius, ring)
        ]

    @cached_property
    def reference(self) -> int:
        """The ring whose cone decides, or the nearest whose probe saw the heat of it."""
        rings = [ring for ring in self.kiln.probe_rings if ring not in self.lost] or self.kiln.probe_rings
        return min(rings, key=lambda ring: abs(ring - self.plan.reference_ring))

    @cached_property
    def lost(self) -> frozenset[int]:
        """Rings not believed for a good part of the hot end: their peak, times and heat work are unknown."""
        hottest = max((celsius for p in self.points for celsius in p.celsius if celsius is not None), default=0.0)
        hot = [p for p in self.points if any(c is not None and c > hottest - HOT_END_CELSIUS for c in p.celsius)]
        rings = range(len(self.kiln.rings))
        return frozenset(ring for ring in rings if sum(not _has(p.celsius, ring) for p in hot) > LOST_MINUTES)


def _has(values: tuple[float | None, ...], ring: int) -> bool:
    return ring < len(values) and values[ring] is not None


@dataclass(frozen=True, slots=True)
class Ending:
    """When the heating ended and how that is known: `tripped`, `seen` (by the curve), `by hand`, `curve`."""

    utc_ms: int
    how: str


def ending(story: Story) -> Ending | None:
    """The end of the heating; None while it goes on, or where nothing shows it."""
    found: list[Ending] = []
    if story.tripped_utc_ms is not None:
        found.append(Ending(story.tripped_utc_ms, "tripped"))
    for prompt in story.prompts("shut-off-seen"):
        found += _ending(dict(prompt.facts).get("off_utc_ms"), "seen")
    for alarm in story.alarms():
        if alarm.tag == "fell-short":
            found += _ending(dict(alarm.facts).get("since_utc_ms"), "seen")
    off = _all_off(story)
    if off is not None:
        found.append(Ending(off, "by hand"))
    for one in found:
        if not _climbs_after(story, one.utc_ms):
            return one
    return _by_curve(story)


def _ending(utc_ms: float | str | int | None, how: str) -> list[Ending]:
    return [Ending(utc_ms, how)] if isinstance(utc_ms, int) else []


def _all_off(story: Story) -> int | None:
    settings: dict[str, str] = {}
    for utc_ms, entry in story.entries(EntryKind.SWITCH):
        settings[entry.subject] = entry.value
        if len(settings) == len(story.kiln.rings) and set(settings.values()) == {Switch.OFF}:
            return utc_ms
    return None


def _climbs_after(story: Story, utc_ms: int) -> bool:
    """Whether a ring got clearly hotter once this was past: then it was an interruption."""
    for ring in story.kiln.probe_rings:
        seen = story.seen(ring)
        before = [celsius for at, celsius in seen if at <= utc_ms + BEYOND_NOISE_MS]
        after = [celsius for at, celsius in seen if at > utc_ms + BEYOND_NOISE_MS]
        if before and after and max(after) > max(before) + SETTLED_CELSIUS:
            return True
    return False


def _by_curve(story: Story) -> Ending | None:
    """The peak of the reference ring, once the kiln has cooled well below it."""
    seen = story.seen(story.reference)
    if not seen:
        return None
    at, peak = max(seen, key=lambda one: one[1])
    return Ending(at, "curve") if seen[-1][1] < peak - COOLED_CELSIUS else None
