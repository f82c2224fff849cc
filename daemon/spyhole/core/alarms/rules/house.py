"""What is judged whether or not anything is lit: the amplifier box, the watch itself, and heat that nobody claims."""

from dataclasses import dataclass

from spyhole.core.alarms.book import Judgement
from spyhole.core.curve.climb import theil_sen
from spyhole.core.curve.track import Track
from spyhole.core.duty import Duty
from spyhole.core.outcome import Facts

BOX_CELSIUS = 65.0
BOX_BACK_CELSIUS = 60.0
"""The amplifier is made for 125 degC, but its board, the plugs and the Pi beside it are not (common practice, no
source); a box this hot stands too near the kiln."""
UNSYNCHRONISED_MS = 3_600_000
NEWS_MS = 600_000
CLAIM_MS = 15 * 60_000
"""Who took the watch this shortly before has come to fire."""
UNPLANNED_CELSIUS = 60.0
UNPLANNED_CELSIUS_PER_HOUR = 25.0
FAULTS = ("watch-disk", "watch-store", "watch-alerts", "watch-late")


@dataclass(frozen=True, slots=True)
class House:
    """What is remembered beside any firing. faults: tags of what ails the watch itself. read_ms: of the last reading.

    gap: when the last stretch without readings ended and how long it was [ms]. stepped_ms: when the wall clock last
    stepped. heats_ms: since when the kiln heats without a firing.
    """

    faults: frozenset[str] = frozenset()
    read_ms: int | None = None
    gap: tuple[int, int] | None = None
    stepped_ms: int | None = None
    heats_ms: int | None = None


def house(
    names: tuple[str, ...], tracks: tuple[Track, ...], told: House, now_ms: int, unset_since_ms: int | None
) -> tuple[Judgement, ...]:
    """names: of the rings with a probe. unset_since_ms: since when no source has set the clock, None where one has."""
    stepped = told.stepped_ms is not None and now_ms - told.stepped_ms < NEWS_MS
    unset = unset_since_ms is not None and now_ms - unset_since_ms > UNSYNCHRONISED_MS
    clock = stepped or unset or "watch-clock" in told.faults
    gap = told.gap if told.gap is not None and now_ms - told.gap[0] < NEWS_MS else None
    facts: Facts = () if gap is None else (("minutes", round(gap[1] / 60_000)),)
    return (
        _box(names, tracks, told.faults),
        *(Judgement(tag, None, tag in told.faults) for tag in FAULTS),
        Judgement("watch-clock", None, clock, (("stepped", int(stepped)),)),
        Judgement("watch-gap", None, gap is not None, facts),
    )


def _box(names: tuple[str, ...], tracks: tuple[Track, ...], faults: frozenset[str]) -> Judgement:
    seen = [(t.cold_celsius, name) for name, t in zip(names, tracks, strict=True) if t.cold_celsius is not None]
    if not seen:
        return Judgement("box-hot", None, "box-hot" in faults or None)
    cold, name = max(seen)
    holds = True if cold > BOX_CELSIUS or "box-hot" in faults else None if cold > BOX_BACK_CELSIUS else False
    return Judgement("box-hot", None, holds, (("hottest", name), ("celsius", cold)))


def heats(tracks: tuple[Track, ...], fit: tuple[bool, ...]) -> int | None:
    """The probe by which a kiln heats that nobody lit; None for none."""
    for i, (track, good) in enumerate(zip(tracks, fit, strict=True)):
        climb = theil_sen(track.minutes[-20:]) if len(track.minutes) >= 8 else None
        warm = track.celsius is not None and track.celsius > UNPLANNED_CELSIUS
        if good and warm and climb is not None and climb > UNPLANNED_CELSIUS_PER_HOUR:
            return i
    return None


def unplanned(
    names: tuple[str, ...], tracks: tuple[Track, ...], fit: tuple[bool, ...], duty: Duty, since_ms: int | None
) -> Judgement:
    """The kiln heats, no firing is on, and nobody has claimed it. since_ms: when that heating was first seen."""
    probe = heats(tracks, fit)
    if probe is None or since_ms is None:
        return Judgement("unplanned-heat", None, False)
    claimed = any(ms is not None and ms >= since_ms - CLAIM_MS for ms in (duty.reached_ms, duty.taken_ms))
    track = tracks[probe]
    facts: Facts = (("hottest", names[probe]), ("celsius", track.celsius), ("climb", track.climb))
    return Judgement("unplanned-heat", None, not claimed, facts)
