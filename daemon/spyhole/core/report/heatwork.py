"""Heat work of a firing per ring, said as cones: which is down, and how far the next has bent."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

from spyhole.core.cones.correction import Sighting, corrected, degrees_seen
from spyhole.core.cones.doubt import alpha_between, corrected_alpha, offset_prior
from spyhole.core.cones.kinetics import Cone, bend_degrees, cone, cone_names, guard_of, guide_of, heat_work, whole_cones
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.learned import Belief
from spyhole.core.plan import Body
from spyhole.core.report.story import Minute, Story
from spyhole.core.sighting import FIRING_LOOK_MINUTES, LOOK_MINUTES

GAP_MS = 180_000
BRIDGED_SECONDS = 90.0
LOOKED_FOR_MINUTES = 10


@dataclass(frozen=True, slots=True)
class Standing:
    """One cone of the pack beside a probe. role: guide, firing, guard. alpha: corrected, 1 is down."""

    role: str
    cone: str
    alpha: float

    @property
    def bend_degrees(self) -> float:
        """From 8, upright, to 90, down."""
        return bend_degrees(self.alpha)


@dataclass(frozen=True, slots=True)
class Work:
    """Heat work of the firing cone at one ring that has a probe; 1 is down.

    alpha, low, high: corrected by the cones that were seen, low and high at 80 %. down: the hardest whole cone that is
    down, None where not even the softest is. following: the next whole one, with its heat work. offset: what the cones
    seen say has to be added to this probe [degC]; None where none was seen there. pack: guide, firing and guard cone,
    as far as the chart has them. bridged: part of it lies over a gap in the readings. doubted: sequences of entries
    that cannot be true.
    """

    ring: int
    raw: float
    alpha: float
    low: float
    high: float
    down: str | None
    following: str | None
    following_alpha: float | None
    offset: Belief | None
    pack: tuple[Standing, ...]
    bridged: bool
    doubted: tuple[int, ...]

    @property
    def following_bend(self) -> float | None:
        """How far the next whole cone has bent [degrees]."""
        return None if self.following_alpha is None else bend_degrees(self.following_alpha)


@dataclass(frozen=True, slots=True)
class Down:
    """When the firing cone went down by heat work, all utc_ms; low and high at 80 %, high None for perhaps never."""

    utc_ms: int
    low: int | None
    high: int | None


def gained(one: Cone, minutes: Sequence[Minute]) -> list[float]:
    """alpha [-] of a cone by the middle of each of these minutes.

    A cone does not mind in which order it meets the temperatures of a minute, only how long each lasts. So a minute has
    the mean rate of what it held, which its lowest, mean and highest tell by Simpson's rule. A straight ramp is taken
    over a gap.
    """
    total, course, before, rate_before = 0.0, [], None, 0.0
    for minute in minutes:
        rate = _mean_rate(one, minute)
        if before is not None:
            seconds = (minute.utc_ms - before.utc_ms) / 1000.0
            if seconds > BRIDGED_SECONDS:
                total += heat_work(one, before.celsius, minute.celsius, seconds)
            else:
                total += 0.5 * (rate_before + rate) * seconds
        course.append(total)
        before, rate_before = minute, rate
    return course


def _mean_rate(one: Cone, minute: Minute) -> float:
    _, low, mean, high = minute
    if high < one.idle_celsius:
        return 0.0
    middle = min(max((6.0 * mean - low - high) / 4.0, low), high)
    return (one.rate_per_second(low) + 4.0 * one.rate_per_second(middle) + one.rate_per_second(high)) / 6.0


def work_of(story: Story, ring: int) -> Work | None:
    """The heat work at this ring; None without a probe, or where it was not believed when it mattered."""
    probe, seen = story.kiln.rings[ring].probe, story.minutes(ring)
    if probe is None or not seen or ring in story.lost:
        return None
    peak = max(minute.celsius for minute in seen)
    body = story.plan.body
    firing = cone(story.plan.cone, body)
    sightings = _sightings(story, ring, seen)
    believed = corrected(offset_prior(probe, peak), sightings)
    taught, any_seen = believed.offset, len(sightings) > len(believed.doubted)
    shift = taught.value if any_seen else 0.0
    raw = gained(firing, seen)[-1]
    alpha = corrected_alpha(firing, raw, peak, shift)
    low, high = alpha_between(firing, alpha, peak, taught.deviation)
    down, following, following_alpha = _cones(body, seen, peak, shift)
    bridged = any(
        b.utc_ms - a.utc_ms > GAP_MS and max(a.celsius, b.celsius) > firing.idle_celsius for a, b in pairwise(seen)
    )
    return Work(
        ring=ring,
        raw=raw,
        alpha=alpha,
        low=low,
        high=high,
        down=down,
        following=following,
        following_alpha=following_alpha,
        offset=taught if any_seen else None,
        pack=_pack(firing, seen, peak, shift),
        bridged=bridged,
        doubted=believed.doubted,
    )


def _pack(firing: Cone, seen: Sequence[Minute], peak: float, shift: float) -> tuple[Standing, ...]:
    pack = (("guide", guide_of(firing)), ("firing", firing), ("guard", guard_of(firing)))
    return tuple(
        Standing(role, one.name, corrected_alpha(one, gained(one, seen)[-1], peak, shift))
        for role, one in pack
        if one is not None
    )


def _cones(
    body: Body, seen: Sequence[Minute], peak: float, shift: float
) -> tuple[str | None, str | None, float | None]:
    """The hardest whole cone down, the next one and its heat work."""
    down: str | None = None
    for name in whole_cones(body):
        one = cone(name, body)
        if one.end_60_celsius < peak + shift - 120.0:  # down for any climb a kiln can do: no need to count
            down = name
            continue
        alpha = corrected_alpha(one, gained(one, seen)[-1], peak, shift)
        if alpha < 1.0:
            return down, name, alpha
        down = name
    return down, None, None


def down_of(story: Story, work: Work | None) -> Down | None:
    """When the firing cone at this ring went down; None where it did not, or nobody can tell."""
    if work is None or work.raw <= 0.0:
        return None
    seen = story.minutes(work.ring)
    course = gained(cone(story.plan.cone, story.plan.body), seen)
    reached = partial(_reached, seen, course)
    median = reached(work.raw / work.alpha)
    if median is None:
        return None
    return Down(median, reached(work.raw / work.high), reached(work.raw / work.low))


def _reached(seen: Sequence[Minute], course: list[float], alpha: float) -> int | None:
    for number in range(1, len(course)):
        if course[number] >= alpha:
            before, after = course[number - 1], course[number]
            share = 1.0 if after == before else (alpha - before) / (after - before)
            began = seen[number - 1].utc_ms
            return round(began + share * (seen[number].utc_ms - began))
    return None


def _sightings(story: Story, ring: int, seen: Sequence[Minute]) -> tuple[Sighting, ...]:
    found = []
    for happening in story.happenings:
        entry = happening.what
        if not isinstance(entry, Entry) or entry.kind is not EntryKind.CONE:
            continue
        if story.kiln.ring_index(entry.subject) != ring:
            continue
        name, bend = degrees_seen(entry.value)
        body = story.plan.body if name in cone_names(story.plan.body) else Body.ORDINARY
        one = cone(name, body)
        before = [minute for minute in seen if minute.utc_ms <= happening.utc_ms]
        if not before:
            continue
        minutes = FIRING_LOOK_MINUTES if name == story.plan.cone else LOOK_MINUTES
        climbed = before[-1].celsius - before[max(0, len(before) - 1 - LOOKED_FOR_MINUTES)].celsius
        look = climbed / LOOKED_FOR_MINUTES * minutes if climbed > 0.0 else None
        peak = max(minute.celsius for minute in before)
        alpha = gained(one, before)[-1]
        found.append(
            Sighting(happening.sequence, story.kiln.probe_rings.index(ring), name, body, bend, alpha, peak, look)
        )
    return tuple(found)
