"""One probe's believed curve: a spike never gets in, a step only when it stays.

A bin further from where the curve was going than a kiln can move is kept aside; it is believed once
the next one agrees with it, and then it is a jump, which `trust` judges.
"""

from dataclasses import dataclass
from statistics import median

from spyhole.core.curve.climb import Minute, since, theil_sen
from spyhole.core.quick import changed
from spyhole.core.reading import Fault

GATE_CELSIUS = 8.0
GATE_CELSIUS_PER_SECOND = 0.2
WIDEST_GATE_CELSIUS = 150.0
MOST_ROUGH_CELSIUS = 25.0
"""More than this counts as this: one spike, however high, is not noise."""
BREAKS = 4
"""So many breaks are remembered: by then it is a loose wire and no chance."""
HISTORY_MINUTES = 150
CLIMB_MINUTES = 10


@dataclass(frozen=True, slots=True)
class Jump:
    """A step that stayed: from where, over how long, when it was believed."""

    at_ms: int
    from_celsius: float
    to_celsius: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Track:
    """at_ms, celsius: the last believed bin (axis time; probe offset applied). None until the first two agree.

    minutes: medians of past minutes, oldest first. climb: degC per hour over ten minutes.
    fault: what the probe says instead of a number, since when. moved_ms: when the number last changed at all.
    broke: when the last few faults began, and which.
    rough_celsius: how unsteady the bins are (half their second difference, a running mean), believed or not.
    """

    at_ms: int | None = None
    celsius: float | None = None
    aside_at_ms: int | None = None
    aside_celsius: float | None = None
    jump: Jump | None = None
    fault: Fault | None = None
    fault_since_ms: int | None = None
    cold_celsius: float | None = None
    filling_minute: int = 0
    filling: tuple[float, ...] = ()
    minutes: tuple[Minute, ...] = ()
    climb: float | None = None
    moved_ms: int | None = None
    said_celsius: float | None = None
    said_step: float = 0.0
    rough_celsius: float = 0.0
    broke: tuple[tuple[int, Fault], ...] = ()
    first_celsius: float | None = None


def take(track: Track, at_ms: int, celsius: float | None, fault: Fault | None, cold: float | None) -> Track:
    """The track after one bin."""
    track = _note_fault(track, at_ms, fault, cold)
    if celsius is None:
        return _turn_minute(track, at_ms)
    said = _said(track, celsius)
    if track.celsius is not None and track.at_ms is not None:
        seconds = (at_ms - track.at_ms) / 1000
        going_to = track.celsius + (track.climb or 0.0) * min(seconds, 600) / 3600
        if abs(celsius - going_to) <= _gate(seconds):
            return _believe(track, at_ms, celsius, said)
    if track.aside_celsius is not None and track.aside_at_ms is not None:
        aside_seconds = (at_ms - track.aside_at_ms) / 1000
        if abs(celsius - track.aside_celsius) <= _gate(aside_seconds):
            if track.celsius is not None and track.at_ms is not None:
                jump = Jump(at_ms, track.celsius, celsius, (at_ms - track.at_ms) / 1000)
                track = changed(track, jump=jump)
            return _believe(track, at_ms, celsius, said)
    return _turn_minute(changed(track, aside_at_ms=at_ms, aside_celsius=celsius, **said), at_ms)


def _gate(seconds: float) -> float:
    return min(GATE_CELSIUS + GATE_CELSIUS_PER_SECOND * seconds, WIDEST_GATE_CELSIUS)


def _note_fault(track: Track, at_ms: int, fault: Fault | None, cold: float | None) -> Track:
    if fault != track.fault or cold != track.cold_celsius:
        since_ms = track.fault_since_ms if fault == track.fault else (at_ms if fault else None)
        begins = fault is not None and track.fault is None
        broke = (*track.broke, (at_ms, fault))[-BREAKS:] if fault is not None and begins else track.broke
        return changed(
            track, fault=fault, fault_since_ms=since_ms, cold_celsius=cold or track.cold_celsius, broke=broke
        )
    return track


def _said(track: Track, celsius: float) -> dict[str, float]:
    """Fields of the track that say how unsteady its bins are, this one included."""
    step = 0.0 if track.said_celsius is None else celsius - track.said_celsius
    # A probe pulled out falls far but smoothly; only what turns back and forth is rough.
    turned = min(abs(step - track.said_step) / 2, MOST_ROUGH_CELSIUS) if step * track.said_step < 0.0 else 0.0
    rough = track.rough_celsius + 0.05 * (turned - track.rough_celsius)
    return {"said_celsius": celsius, "said_step": step, "rough_celsius": rough}


def _believe(track: Track, at_ms: int, celsius: float, said: dict[str, float]) -> Track:
    still = track.celsius is not None and abs(celsius - track.celsius) < 1 / 100
    track = _turn_minute(track, at_ms)
    return changed(
        track,
        at_ms=at_ms,
        celsius=celsius,
        aside_at_ms=None,
        aside_celsius=None,
        filling=(*track.filling, celsius),
        moved_ms=track.moved_ms if still else at_ms,
        first_celsius=celsius if track.first_celsius is None else track.first_celsius,
        **said,
    )


def _turn_minute(track: Track, at_ms: int) -> Track:
    minute = at_ms // 60_000
    if minute == track.filling_minute:
        return track
    if not track.filling:
        return changed(track, filling_minute=minute)
    point = (track.filling_minute * 60_000 + 30_000, median(track.filling))
    minutes = (*track.minutes, point)[-HISTORY_MINUTES:]
    climb = theil_sen(since(minutes, point[0] - CLIMB_MINUTES * 60_000))
    return changed(track, filling_minute=minute, filling=(), minutes=minutes, climb=climb)
