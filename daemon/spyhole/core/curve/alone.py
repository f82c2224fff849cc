"""A step of the only probe there is: nobody votes, but no kiln changes by so much in seconds and goes on as before.

A lid that is opened, a supply that is lost or an element that gives out changes how the curve goes on; one that is shut
again gives back what it took. So it has to have gone evenly before, and to go on evenly after, at another level.
"""

from spyhole.core.curve.climb import Minute, since, theil_sen
from spyhole.core.curve.track import Jump, Track

MINUTE_MS = 60_000
SECONDS = 65.0
"""A step takes no longer; readings may be thirty seconds apart."""
STEPS_CELSIUS, STEPS_SHARE = 20.0, 0.02
"""A step of less is not told from a look through the plug (chosen; the share is of what it stands above the room)."""
BEFORE_MINUTES, FEWEST_BEFORE = 15, 10
EVEN_CELSIUS, EVEN_SHARE = 2.5, 0.1
"""How far a minute strays from the line before, at most: in itself, or of the step (chosen)."""
DOWN_MINUTES, UP_MINUTES = 9, 5
"""How long it has to go on: a lid or plug takes heat at once, and shows by then whether it gives it back; nothing adds
so much in seconds but its own closing."""
JUDGED_MINUTES = 6
"""For so many minutes more it is looked at."""
STAYS = 0.3
"""By what part of the step the level after it may be off (chosen)."""
SLOPE_CELSIUS, SLOPE_SHARE = 18.0, 0.18
"""By how much the climb after it may be another: a curve bends by itself (chosen) [degC/h, and a share of it]."""


def stepped_alone(track: Track, now_ms: int, room_celsius: float) -> float | None:
    """By how much the only probe, whose ring has been on for long, reads wrongly since its step [degC]; None where it
    has not stepped, or that may have been the kiln."""
    jump = track.jump
    if jump is None or jump.seconds > SECONDS:
        return None
    moved = jump.to_celsius - jump.from_celsius
    wait_ms = (UP_MINUTES if moved > 0.0 else DOWN_MINUTES) * MINUTE_MS
    if not wait_ms <= now_ms - jump.at_ms < wait_ms + JUDGED_MINUTES * MINUTE_MS:
        return None
    before, after = _around(track, jump)
    was, is_ = theil_sen(before), theil_sen(after)
    if was is None or is_ is None or len(before) < FEWEST_BEFORE or was <= 0.0:
        return None
    moved -= was * jump.seconds / 3600.0
    if abs(moved) < max(STEPS_CELSIUS, STEPS_SHARE * (jump.from_celsius - room_celsius)):
        return None
    level = sum(celsius - _line(was, at, jump) for at, celsius in before) / len(before)
    strays = max(abs(celsius - level - _line(was, at, jump)) for at, celsius in before)
    off = [celsius - level - _line(was, at, jump) for at, celsius in after]
    stays = all(abs(one - moved) <= STAYS * abs(moved) for one in off)
    even = strays <= max(EVEN_CELSIUS, EVEN_SHARE * abs(moved))
    as_before = abs(is_ - was) <= SLOPE_CELSIUS + SLOPE_SHARE * was
    return off[-1] if stays and even and as_before else None


def is_back(track: Track, now_ms: int, since_ms: int, stepped: float) -> bool:
    """Whether a probe that went off by so much, alone [degC], has stepped back, long enough ago that this is no step to
    be judged. That it is right again once it is cold helps nobody in the firing in which it went wrong."""
    jump = track.jump
    long_ago_ms = now_ms - (DOWN_MINUTES + JUDGED_MINUTES) * MINUTE_MS
    return jump is not None and since_ms < jump.at_ms <= long_ago_ms and _goes_back(jump, stepped)


def _goes_back(jump: Jump, stepped: float) -> bool:
    return abs(jump.to_celsius - jump.from_celsius + stepped) <= STAYS * abs(stepped)


def _around(track: Track, jump: Jump) -> tuple[tuple[Minute, ...], tuple[Minute, ...]]:
    """Its minutes just before the step, and since."""
    fell_ms = jump.at_ms - round(jump.seconds * 1000) - MINUTE_MS // 2
    earlier = since(track.minutes, fell_ms - BEFORE_MINUTES * MINUTE_MS)
    before = tuple(point for point in earlier if point[0] < fell_ms)
    return before, since(track.minutes, jump.at_ms + MINUTE_MS // 2)


def _line(climb: float, at_ms: int, jump: Jump) -> float:
    """degC by which a steady climb [degC/h] is past the step."""
    return climb * (at_ms - jump.at_ms) / 3_600_000
