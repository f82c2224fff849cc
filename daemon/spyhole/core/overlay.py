"""Firings laid over one another: from lighting by the clock, or stage upon stage. Pure.

By the clock each firing keeps its own hours. By stage each stage of a firing is stretched to the hours the first
firing gave it, so that like stands over like; a stage the first firing has not is left out.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

MOST = 4
"""More lines than this nobody tells apart."""

LARGEST_GAP_HOURS = 0.5
"""Between two readings further apart than this there is no line."""


class By(StrEnum):
    """What is laid upon what."""

    CLOCK = "clock"
    STAGE = "stage"


@dataclass(frozen=True, slots=True)
class Laid:
    """One firing as it was. hours: since lighting, rising. celsius: of one ring, None where nothing was believed."""

    hours: tuple[float, ...]
    stages: tuple[str, ...]
    celsius: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Span:
    """A stage of a firing: from, to [h since lighting]."""

    stage: str
    begin: float
    end: float

    @property
    def hours(self) -> float:
        """How long it took."""
        return self.end - self.begin


def spans(laid: Laid) -> tuple[Span, ...]:
    """Its stages in order, each once: a stage that was left and taken up again is one.

    >>> spans(Laid((0.0, 1.0, 2.0), ("low", "low", "high"), (20.0, 60.0, 90.0)))
    (Span(stage='low', begin=0.0, end=2.0), Span(stage='high', begin=2.0, end=2.0))
    """
    found: dict[str, Span] = {}
    runs = [(stage, [at for at, _ in run]) for stage, run in groupby(enumerate(laid.stages), key=lambda each: each[1])]
    for stage, places in runs:
        after = min(places[-1] + 1, len(laid.hours) - 1)
        begin = found[stage].begin if stage in found else laid.hours[places[0]]
        found[stage] = Span(stage, begin, laid.hours[after])
    return tuple(found.values())


def grid(firings: Sequence[Laid], by: By, points: int) -> tuple[float, ...]:
    """Hours at which all of them are looked at [h]: of the first firing by stage, of the longest by the clock."""
    until = max((laid.hours[-1] for laid in firings if laid.hours), default=0.0)
    if by is By.STAGE and firings and firings[0].hours:
        until = firings[0].hours[-1]
    if until <= 0.0 or points < 2:
        return ()
    return tuple(min(until, until * at / (points - 1)) for at in range(points))


def lay(firings: Sequence[Laid], by: By, hours: Sequence[float]) -> tuple[tuple[float | None, ...], ...]:
    """Each firing's temperature at these hours [degC], None where it has none."""
    if not firings:
        return ()
    first = spans(firings[0])
    laid_over: list[tuple[float | None, ...]] = []
    for laid in firings:
        if by is By.CLOCK:
            places: Sequence[float | None] = hours
        else:
            own = {span.stage: span for span in spans(laid)}
            places = [_place(hour, first, own) for hour in hours]
        laid_over.append(tuple(None if place is None else _at(laid, place) for place in places))
    return tuple(laid_over)


def against_first(laid: Sequence[Sequence[float | None]]) -> tuple[tuple[float | None, ...], ...]:
    """How much hotter each is than the first [degC], None where either has no number."""
    return tuple(
        tuple(None if one is None or first is None else one - first for one, first in zip(each, laid[0], strict=True))
        for each in laid
    )


def _place(hour: float, first: Sequence[Span], own: dict[str, Span]) -> float | None:
    """Where in a firing the same part of the same stage is."""
    for span in first:
        if span.begin <= hour <= span.end and span.hours > 0:
            if span.stage not in own:
                return None
            share = (hour - span.begin) / span.hours
            return own[span.stage].begin + share * own[span.stage].hours
    return None


def _at(laid: Laid, hour: float) -> float | None:
    """Between the two readings around this hour."""
    hours = laid.hours
    if not hours or hour < hours[0] or hour > hours[-1]:
        return None
    high = min(bisect_right(hours, hour), len(hours) - 1)
    low = max(high - 1, 0)
    before, after = laid.celsius[low], laid.celsius[high]
    apart = hours[high] - hours[low]
    if apart <= 0:
        return before
    if before is None or after is None or apart > LARGEST_GAP_HOURS:
        return None
    return before + (after - before) * (hour - hours[low]) / apart
