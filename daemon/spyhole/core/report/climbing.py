"""Climbs, times above a figure, soak, evenness and cooling, from the minutes of a firing.

Figures that matter: water boils at 100 degC; quartz changes at 573 degC and cristobalite near 226 degC (published, as
in any handbook of ceramics; from memory); clay gives off its bound water between about 450 and 600 degC (from memory).
The others are round numbers.
"""

import itertools
from dataclasses import dataclass

from spyhole.core.report.story import Story

Seen = list[tuple[int, float]]

CLIMB_FIGURES = (100.0, 200.0, 450.0, 573.0, 700.0, 900.0)
LAST_CELSIUS = 100.0
APART_CELSIUS = 60.0
"""A shorter range than this before the last one says nothing."""
ABOVE_FIGURES = (573.0, 800.0, 1000.0, 1100.0, 1200.0)
NEAR_PEAK_CELSIUS = 50.0
SOAK_CELSIUS = 5.0
COOLING_BANDS = (("quartz", 623.0, 523.0), ("cristobalite", 276.0, 176.0))
COOLED_TO = (200.0, 100.0, 50.0)
FASTEST_OVER_MS = 10 * 60_000
EVEN_ABOVE_CELSIUS = 600.0
"""Where the plan says nothing: above it the spread between rings counts (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Range:
    """The climb [degC per hour] of each ring between two temperatures [degC]; None where it was not all seen."""

    from_celsius: float
    to_celsius: float
    rings: tuple[float | None, ...]
    last: bool = False


@dataclass(frozen=True, slots=True)
class Above:
    """Hours each ring was above this [degC]. below_peak: counted from each ring's own peak downwards."""

    celsius: float
    rings: tuple[float | None, ...]
    below_peak: bool = False


@dataclass(frozen=True, slots=True)
class Evenness:
    """Difference between the hottest and the coolest ring [degC]; None with fewer than two probes.

    at_end: when the heating ended. widest, widest_utc_ms: the most while the hottest was above `above_celsius`.
    """

    at_end: float | None
    widest: float | None
    widest_utc_ms: int | None
    above_celsius: float


@dataclass(frozen=True, slots=True)
class Cooling:
    """How a band was cooled through. celsius_per_hour: the whole band; fastest: its fastest ten minutes, both positive.

    limit: of the plan, None where it sets none. name: "" for a band of the plan.
    """

    name: str
    from_celsius: float
    to_celsius: float
    celsius_per_hour: float | None
    fastest: float | None
    limit: float | None


def rising(seen: Seen, celsius: float) -> int | None:
    """utc_ms at which this was first passed upwards, straight between readings; None where that was not seen."""
    for (a, ca), (b, cb) in itertools.pairwise(seen):
        if ca < celsius <= cb:
            return round(a + (b - a) * (celsius - ca) / (cb - ca))
    return None


def falling(seen: Seen, celsius: float) -> int | None:
    """utc_ms at which this was last passed downwards; None where that was not seen."""
    for (a, ca), (b, cb) in zip(seen[-2::-1], seen[:0:-1], strict=False):
        if ca >= celsius > cb:
            return round(a + (b - a) * (ca - celsius) / (ca - cb))
    return None


def ranges(story: Story) -> tuple[Range, ...]:
    """Climb by range, up to the peak of the reference ring."""
    seen = {ring: story.seen(ring) for ring in story.kiln.probe_rings}
    reference = seen[story.reference]
    if not reference:
        return ()
    peak = max(celsius for _, celsius in reference)
    start = reference[0][1]
    edges = [figure for figure in CLIMB_FIGURES if start + 20.0 < figure < peak - LAST_CELSIUS - APART_CELSIUS]
    steps = [start, *edges, *([peak - LAST_CELSIUS] if peak - LAST_CELSIUS > start else []), peak]
    made = []
    for low, high in itertools.pairwise(steps):
        climbs: list[float | None] = []
        for ring in range(len(story.kiln.rings)):
            own = seen.get(ring, [])
            last = high == peak and len(steps) > 2
            top = max((celsius for _, celsius in own), default=0.0)
            climbs.append(_climb(own, top - LAST_CELSIUS, top) if last else _climb(own, low, high))
        made.append(Range(low, high, tuple(climbs), high == peak and len(steps) > 2))
    return tuple(made)


def _climb(seen: Seen, low: float, high: float) -> float | None:
    if not seen:
        return None
    began = seen[0][0] if seen[0][1] >= low and seen[0][1] < low + 10.0 else rising(seen, low)
    ended = rising(seen, high)
    if began is None or ended is None or ended <= began:
        return None
    return (high - low) / ((ended - began) / 3_600_000)


def hours_above(seen: Seen, celsius: float) -> float:
    """Hours above this, straight between readings."""
    total = 0.0
    for (a, ca), (b, cb) in itertools.pairwise(seen):
        if ca >= celsius and cb >= celsius:
            total += b - a
        elif (ca >= celsius) != (cb >= celsius):
            total += (b - a) * (max(ca, cb) - celsius) / abs(cb - ca)
    return total / 3_600_000


def above(story: Story) -> tuple[Above, ...]:
    """Hours above the figures that this firing passed, and near each ring's peak."""
    seen = [[] if ring in story.lost else story.seen(ring) for ring in range(len(story.kiln.rings))]
    top = max((celsius for own in seen for _, celsius in own), default=0.0)
    lines = [
        Above(figure, tuple(hours_above(own, figure) if own else None for own in seen))
        for figure in ABOVE_FIGURES
        if figure < top
    ]
    near = tuple(hours_above(own, max(c for _, c in own) - NEAR_PEAK_CELSIUS) if own else None for own in seen)
    return (*lines, Above(NEAR_PEAK_CELSIUS, near, below_peak=True)) if top else ()


def soak_minutes(story: Story) -> float | None:
    """Minutes the reference ring stayed within 5 degC of its peak; None without a reading."""
    seen = story.seen(story.reference)
    return hours_above(seen, max(c for _, c in seen) - SOAK_CELSIUS) * 60.0 if seen else None


def evenness(story: Story, end_utc_ms: int | None) -> Evenness:
    """How far the rings were apart while they were heated."""
    floor = story.plan.spread.above_celsius if story.plan.spread is not None else EVEN_ABOVE_CELSIUS
    at_end = widest = None
    widest_utc_ms = None
    for point in story.points:
        if end_utc_ms is not None and point.utc_ms > end_utc_ms:
            break
        known = [celsius for celsius in point.celsius if celsius is not None]
        if len(known) < 2:
            continue
        spread = max(known) - min(known)
        at_end = spread
        if max(known) > floor and (widest is None or spread > widest):
            widest, widest_utc_ms = spread, point.utc_ms
    return Evenness(at_end if end_utc_ms is not None else None, widest, widest_utc_ms, floor)


def cooling(story: Story, end_utc_ms: int | None) -> tuple[Cooling, ...]:
    """Through the inversions, and the bands the plan limits, by the reference ring."""
    if end_utc_ms is None:
        return ()
    seen = [one for one in story.seen(story.reference) if one[0] >= end_utc_ms]
    bands = [(name, high, low, None) for name, high, low in COOLING_BANDS]
    planned = [
        ("", max(one.from_celsius, one.to_celsius), min(one.from_celsius, one.to_celsius), one.celsius_per_hour)
        for one in story.plan.cooling.limits
    ]
    peak = max((celsius for _, celsius in seen), default=0.0)
    return tuple(
        Cooling(name, high, low, *_fall(seen, high, low), limit)
        for name, high, low, limit in (*bands, *planned)
        if peak > high
    )


def _fall(seen: Seen, high: float, low: float) -> tuple[float | None, float | None]:
    began, ended = falling(seen, high), falling(seen, low)
    if began is None or ended is None or ended <= began:
        return None, None
    whole = (high - low) / ((ended - began) / 3_600_000)
    inside = [one for one in seen if began <= one[0] <= ended]
    fastest = whole
    first = 0
    for at, celsius in inside:
        while at - inside[first][0] > FASTEST_OVER_MS:
            first += 1
        apart = at - inside[first][0]
        if apart >= FASTEST_OVER_MS * 0.9:
            fastest = max(fastest, (inside[first][1] - celsius) / (apart / 3_600_000))
    return whole, fastest


def cooled(story: Story, end_utc_ms: int | None) -> tuple[tuple[float, int | None], ...]:
    """(degC, utc_ms) when the hottest ring fell below it for good; None where that was not seen."""
    if end_utc_ms is None:
        return ()
    hottest = [
        (p.utc_ms, max(c for c in p.celsius if c is not None))
        for p in story.points
        if p.utc_ms >= end_utc_ms and any(c is not None for c in p.celsius)
    ]
    return tuple((celsius, falling(hottest, celsius)) for celsius in COOLED_TO)
