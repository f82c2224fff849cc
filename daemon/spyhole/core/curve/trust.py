"""Is this probe wrong, or is this kiln? Asked before any alarm about the kiln.

The rings vote: what several probes do together the kiln did; what one does alone, faster than bricks and
ware can, the probe did. With one probe less can be known, and only the plainly impossible is doubted.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from statistics import mean

from spyhole.core.curve.alone import is_back, stepped_alone
from spyhole.core.curve.climb import since, value_at
from spyhole.core.curve.track import Jump, Track

FRESH_MS = 120_000
FAULT_GRACE_MS = 20_000
BACK_MS = 300_000
TOGETHER_MS = 240_000
STUCK_MS = 30 * 60_000
SURELY_STUCK_MS = 12 * 60_000
SURELY_STUCK_CELSIUS = 8.0
"""No ring that is on keeps the last digit so long while others move so far."""
STEPPED_MS = 180_000
STEPPED_CELSIUS = 15.0
STEPPED_SHARE = 0.015
"""A step of one probe alone that lasts so long is the probe's: bricks and ware cannot, and a plug that was pulled for
a look is back in."""
BESIDE_CELSIUS = 8.0
BESIDE_SHARE = 0.01
NEVER_ROSE_CELSIUS = 3.0
STEEPER_TIMES, STEEPER_CELSIUS = 1.4, 3.0
"""A ring beside an open lid falls by so much more than it did before; by the latter no noise makes it (chosen)."""
CLIMBS = 10.0
"""Of a ring beside it, what shows that it is lit [degC/h] (chosen)."""
MIRROR_MS = 40 * 60_000
MIRROR_FALLS_CELSIUS, MIRROR_CLIMB = 5.0, -5.0
MIRROR_RISE_CELSIUS = 12.0
MIRROR_NEAR_CELSIUS, MIRROR_BELOW_CELSIUS = 12.0, 2.0
"""A probe that stood so near its amplifier had nothing to cool from: where it has fallen so far since, to below the
amplifier, and goes on falling [degC/h] while another has risen by so much, it shows its ring's rise as a fall (chosen:
a cold ring of the proving ground fell by 2 at most)."""
COLDER_ALONE_CELSIUS = 25.0
"""Below all that it can have cooled to, where no other shows that the kiln is lit (chosen)."""
LEAVES_CELSIUS = 6.0
"""A probe that has never been anywhere but near its amplifier, and now leaves it (chosen)."""
ROUGH_CELSIUS = 6.0
NOT_ROUGH_CELSIUS = 3.0
"""Back and forth from bin to bin: more than elements that click on and off make a probe do (chosen)."""


class Reason(StrEnum):
    """Why a number is not believed; each is the end of an alarm's tag (`probe-out`)."""

    OUT = "out"
    SHORTED = "shorted"
    STUCK = "stuck"
    REVERSED = "reversed"
    DOUBTFUL = "doubtful"
    NOISY = "noisy"


@dataclass(frozen=True, slots=True)
class Doubt:
    """since_ms: axis time. from_celsius: the last number believed before. well_since_ms: looking right again.

    beside: where it last stood rightly against the mean of the others [degC]; None where that is not what was wrong.
    alone: by how much it went off [degC] where there was no other to stand beside.
    """

    reason: Reason
    since_ms: int
    from_celsius: float
    well_since_ms: int | None = None
    beside: float | None = None
    alone: float | None = None


Doubts = tuple[Doubt | None, ...]


def trusted(tracks: tuple[Track, ...], doubts: Doubts, now_ms: int) -> tuple[bool, ...]:
    """Which probes may speak for the kiln now."""
    return tuple(
        doubt is None
        and track.celsius is not None
        and track.at_ms is not None
        and now_ms - track.at_ms <= FRESH_MS
        and (track.fault is None or now_ms - (track.fault_since_ms or 0) < FAULT_GRACE_MS)
        for track, doubt in zip(tracks, doubts, strict=True)
    )


def as_lit(doubts: Doubts) -> Doubts:
    """The doubts as a firing begins: what a probe alone was off by in another is over, it has been seen to or is as it
    now is."""
    return tuple(None if doubt is not None and doubt.alone is not None else doubt for doubt in doubts)


def hottest(tracks: tuple[Track, ...], fit: tuple[bool, ...]) -> float | None:
    """The highest temperature [degC] of the probes that may speak; None when none may."""
    return max((t.celsius for t, ok in zip(tracks, fit, strict=True) if ok and t.celsius is not None), default=None)


def judge(
    tracks: tuple[Track, ...],
    doubts: Doubts,
    now_ms: int,
    room_celsius: float,
    on: tuple[bool, ...],
    out: tuple[bool, ...],
) -> Doubts:
    """The doubts after one bin. Per probe, on: its ring is believed to be switched on; out: it is out of service.

    One out of service is judged like the others, and has no voice on them.
    """
    fit = tuple(good and not gone for good, gone in zip(trusted(tracks, doubts, now_ms), out, strict=True))
    judged: list[Doubt | None] = []
    for i, (track, doubt) in enumerate(zip(tracks, doubts, strict=True)):
        heard = [j for j in range(len(tracks)) if j != i and fit[j]]
        others = tuple(tracks[j] for j in heard)
        if doubt is None:
            lit = tuple(tracks[j] for j in heard if on[j])
            under_lid = not any(on) and i == len(tracks) - 1
            judged.append(_doubt(track, others, now_ms, room_celsius, lit if on[i] else None, under_lid=under_lid))
        else:
            judged.append(_recover(track, doubt, others, now_ms, room_celsius))
    return tuple(judged)


def _doubt(
    track: Track,
    others: tuple[Track, ...],
    now_ms: int,
    room: float,
    lit: tuple[Track, ...] | None,
    *,
    under_lid: bool,
) -> Doubt | None:
    """lit: those of the others whose ring is on; None where this one's own is not.

    under_lid: the topmost, and nothing heats. It falls first where a lid is opened, and the others show it minutes
    later: until then nobody knows which it is.
    """
    on = lit is not None
    if track.celsius is None or track.at_ms is None or now_ms - track.at_ms > FRESH_MS:
        return None
    jump = track.jump
    if jump is not None and jump.at_ms == track.at_ms:
        reason = _of_jump(track, others, room)
        lid_or_wire = under_lid and reason is Reason.DOUBTFUL and jump.to_celsius < jump.from_celsius
        if reason is not None and not lid_or_wire:
            beside = jump.from_celsius - mean(o.celsius or 0.0 for o in others) if others else None
            return Doubt(reason, now_ms, jump.from_celsius, beside=beside if reason is Reason.DOUBTFUL else None)
    if jump is not None and STEPPED_MS <= now_ms - jump.at_ms < 3 * STEPPED_MS and others:
        stepped = _stays_stepped(track, jump, others, room)
        if stepped is not None and not (under_lid and stepped < 0.0 and _steepen(others, jump, now_ms)):
            near = mean(o.celsius or 0.0 for o in others)
            return Doubt(Reason.DOUBTFUL, now_ms, track.celsius - stepped, beside=track.celsius - stepped - near)
    alone = stepped_alone(track, now_ms, room) if on and not others else None
    if alone is not None:
        return Doubt(Reason.DOUBTFUL, now_ms, track.celsius - alone, alone=alone)
    for reason, found in (
        (Reason.SHORTED, _reads_the_amplifier(track, others, lit)),
        (Reason.OUT, _never_rises(track, others, room, on)),
        (Reason.REVERSED, _falls_in_the_heat(track, others, room, on)),
        (Reason.STUCK, _does_not_move(track, others, now_ms, on)),
        (Reason.NOISY, track.rough_celsius > ROUGH_CELSIUS),
    ):
        if found:
            return Doubt(reason, now_ms, track.celsius)
    return None


def _of_jump(track: Track, others: tuple[Track, ...], room: float) -> Reason | None:
    jump = track.jump
    if jump is None:
        return None
    moved = jump.to_celsius - jump.from_celsius
    if any(
        o.jump is not None
        and jump.at_ms - o.jump.at_ms < TOGETHER_MS
        and (o.jump.to_celsius - o.jump.from_celsius) * moved > 0
        for o in others
    ):
        return None
    above_room = max(jump.from_celsius - room, 1.0)
    if moved < -30.0 and jump.to_celsius < room + max(25.0, 0.12 * above_room):
        cold = track.cold_celsius
        at_once = cold is not None and abs(jump.to_celsius - cold) < 2.0 and jump.seconds <= 65.0
        return Reason.SHORTED if at_once else Reason.OUT
    # One probe alone cannot tell a lid opened from a probe that slipped: only what no lid does is doubted.
    alone = not others
    if abs(moved) > (max(100.0, 0.3 * above_room) if alone else max(25.0, 0.06 * above_room)):
        return Reason.DOUBTFUL
    return None


def _stays_stepped(track: Track, jump: Jump, others: tuple[Track, ...], room: float) -> float | None:
    """By how much this probe still stands off since its jump, against what the others have done [degC]."""
    before_ms = jump.at_ms - round(jump.seconds * 1000) - 60_000
    own = value_at(track.minutes, before_ms)
    known = [(o, then) for o in others if (then := value_at(o.minutes, before_ms)) is not None]
    if own is None or not known or jump.seconds > STEPPED_MS / 1000 or track.celsius is None:
        return None
    off = track.celsius - own - mean((o.celsius or then) - then for o, then in known)
    moved = jump.to_celsius - jump.from_celsius
    large = abs(off) > max(STEPPED_CELSIUS, STEPPED_SHARE * (own - room))
    return off if large and off * moved > 0.0 and abs(off) > 0.6 * abs(moved) else None


def _steepen(others: tuple[Track, ...], jump: Jump, now_ms: int) -> bool:
    """Whether another falls faster since this jump than it did in as many minutes before it."""
    fell_ms = jump.at_ms - round(jump.seconds * 1000) - 60_000
    for one in others:
        before, then = (value_at(one.minutes, ms) for ms in (2 * fell_ms - now_ms, fell_ms))
        if before is None or then is None or one.celsius is None:
            continue
        if then - one.celsius > STEEPER_TIMES * max(before - then, 0.0) + STEEPER_CELSIUS:
            return True
    return False


def _reads_the_amplifier(track: Track, others: tuple[Track, ...], lit: tuple[Track, ...] | None) -> bool:
    """Though its ring is on. Where that of no other is, all of them have to be hot: one alone may be changed over."""
    if track.cold_celsius is None or track.celsius is None or not others or lit is None or len(track.minutes) < 10:
        return False
    hottest = max(o.celsius or 0.0 for o in lit) if lit else min(o.celsius or 0.0 for o in others)
    flat = max(c for _, c in track.minutes[-10:]) - min(c for _, c in track.minutes[-10:]) < 2.0
    return flat and abs(track.celsius - track.cold_celsius) < 1.5 and hottest > track.cold_celsius + 60.0


def _never_rises(track: Track, others: tuple[Track, ...], room: float, on: bool) -> bool:
    """Reads the room from the start, though its ring is on and the others are hot."""
    if track.celsius is None or not others or not on or track.climb is None:
        return False
    heat = mean(o.celsius or 0.0 for o in others) - room
    return heat > 150.0 and track.celsius - room < 0.1 * heat and abs(track.climb) < 6.0


def _falls_in_the_heat(track: Track, others: tuple[Track, ...], room: float, on: bool) -> bool:
    if track.celsius is None or track.climb is None or len(track.minutes) < 10:
        return False
    if others and max(o.celsius or 0.0 for o in others) > room + 50.0 and track.celsius < room - 12.0:
        return True  # colder than the room beside a warm ring: no kiln is
    if _mirrors(track, others):
        return True
    if not on:
        # Nor is one alone so far below room, amplifier and its own first number, whatever its switch.
        lowest = min(room, track.cold_celsius or room, track.first_celsius or room)
        return not others and track.celsius < lowest - COLDER_ALONE_CELSIUS and track.climb < 2.0
    climbing = [o for o in others if (o.climb or 0.0) > CLIMBS]
    far_below = track.celsius < min(room, track.first_celsius or room) - (8.0 if climbing else COLDER_ALONE_CELSIUS)
    return far_below and track.climb < 2.0


def _mirrors(track: Track, others: tuple[Track, ...]) -> bool:
    """Whether it falls away from its amplifier, from where nothing can have cooled, as others rise: switched on or not,
    for a ring that is off is warmed by its neighbours too."""
    cold, minutes = track.cold_celsius, track.minutes
    if cold is None or track.celsius is None or (track.climb or 0.0) > MIRROR_CLIMB:
        return False
    if track.celsius >= cold - MIRROR_BELOW_CELSIUS:
        return False
    highest_ms, highest = max(since(minutes, minutes[-1][0] - MIRROR_MS), key=lambda one: one[1])
    return (
        highest - track.celsius > MIRROR_FALLS_CELSIUS
        and highest < cold + MIRROR_NEAR_CELSIUS
        and any(
            (o.climb or 0.0) > CLIMBS and then is not None and o.celsius - then > MIRROR_RISE_CELSIUS
            for o in others
            if o.celsius is not None
            for then in (value_at(o.minutes, highest_ms),)
        )
    )


def _does_not_move(track: Track, others: tuple[Track, ...], now_ms: int, on: bool) -> bool:
    if track.moved_ms is None or track.celsius is None:
        return False
    still_ms = now_ms - track.moved_ms
    if on and still_ms >= SURELY_STUCK_MS and _moved(others, now_ms - SURELY_STUCK_MS, SURELY_STUCK_CELSIUS):
        return True
    if still_ms < STUCK_MS:
        return False
    return _moved(others, now_ms - STUCK_MS, 15.0) or (not others and track.celsius > 60.0)


def _moved(others: tuple[Track, ...], since_ms: int, celsius: float) -> bool:
    """Whether one of them has moved by more than this since then."""
    return any(
        before is not None and o.celsius is not None and abs(o.celsius - before) > celsius
        for o in others
        for before in (value_at(o.minutes, since_ms),)
    )


def _recover(track: Track, doubt: Doubt, others: tuple[Track, ...], now_ms: int, room: float) -> Doubt | None:
    if not _looks_right(track, doubt, others, now_ms, room):
        return replace(doubt, well_since_ms=None) if doubt.well_since_ms else doubt
    if doubt.well_since_ms is None:
        return replace(doubt, well_since_ms=now_ms)
    return None if now_ms - doubt.well_since_ms >= BACK_MS else doubt


def _looks_right(track: Track, doubt: Doubt, others: tuple[Track, ...], now_ms: int, room: float) -> bool:
    if (
        track.celsius is None
        or track.at_ms is None
        or now_ms - track.at_ms > FRESH_MS
        or track.rough_celsius > NOT_ROUGH_CELSIUS
    ):
        return False
    if doubt.reason is Reason.STUCK:
        return track.moved_ms is not None and now_ms - track.moved_ms < FRESH_MS
    cold = track.cold_celsius
    if doubt.reason is Reason.SHORTED and cold is not None and abs(doubt.from_celsius - cold) < NEVER_ROSE_CELSIUS:
        return track.celsius > cold + LEAVES_CELSIUS  # what is shorted stays with its amplifier
    if doubt.reason is Reason.REVERSED and cold is not None and track.celsius < cold + LEAVES_CELSIUS:
        return False  # a cold kiln reads the same both ways round
    if others:
        near = mean(o.celsius or 0.0 for o in others)
        if doubt.beside is not None:
            return abs(track.celsius - near - doubt.beside) < max(BESIDE_CELSIUS, BESIDE_SHARE * (near - room))
        return abs(track.celsius - near) < max(25.0, 0.08 * (near - room))
    if doubt.alone is not None:
        return is_back(track, now_ms, doubt.since_ms, doubt.alone)
    return track.celsius > room + 0.8 * (doubt.from_celsius - room)
