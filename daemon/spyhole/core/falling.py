"""How the hottest ring has fallen since the heat went off, as long as nothing but the kiln itself cools it."""

from dataclasses import replace
from statistics import fmean

from spyhole.core.curve.climb import Minute
from spyhole.core.entry import EntryKind
from spyhole.core.feeding import long_fed
from spyhole.core.thermal.cooling_law import MOST_HOURS
from spyhole.core.thermal.fall import EACH_MS, Fall
from spyhole.core.thermal.model import whole_minute_ms
from spyhole.core.view import View

MINUTE_MS = 60_000
BEFORE_MS = 5 * MINUTE_MS
"""How long before the heat is found to have ended its ring was surely still heated."""
APART_MS = 20 * MINUTE_MS
"""Minutes that are missing are read off a straight line, if they are no more (chosen)."""
COOLED_CELSIUS = 30.0
"""So far below the firing's hottest it has cooled already when the heat ends, after a hold on the way down: its walls
have shared out what they held, and the law is of kilns that were still climbing (chosen)."""
AROUND = range(-2, 3)
"""Minutes that are taken together: the law lives by small differences."""


def falling(view: View) -> Fall | None:
    """The fall with what has passed since; None while the kiln is not off."""
    firing = view.firing
    if not firing.off or firing.off_ms is None:
        return None
    since_ms = whole_minute_ms(firing.off_ms + 2 * MINUTE_MS)
    fall = firing.fall
    if fall is None or fall.since_ms != since_ms:
        peak = _hottest(view, since_ms - BEFORE_MS)
        hottest = max((c for c, fit in zip(firing.peaks, view.fit, strict=True) if fit), default=0.0)
        fall = Fall(since_ms, peak or 0.0, view.fit, lost=peak is None or peak < hottest - COOLED_CELSIUS)
    if fall.lost or fall.hours >= MOST_HOURS:
        return fall
    if view.fit != fall.probes or _touched(view, since_ms) or long_fed(view) is not None:
        return replace(fall, celsius=(), lost=True)
    celsius = fall.celsius
    while (at_ms := since_ms + len(celsius) * EACH_MS) <= whole_minute_ms(view.now_ms) - AROUND[-1] * MINUTE_MS:
        here = _hottest(view, at_ms)
        if here is None:
            # What is missing now may be bridged once there are readings again.
            return replace(fall, celsius=(), lost=True) if view.now_ms - at_ms > APART_MS else _kept(fall, celsius)
        celsius = (*celsius, round(here, 2))
    return _kept(fall, celsius)


def _kept(fall: Fall, celsius: tuple[float, ...]) -> Fall:
    """The fall with this curve, itself where nothing is new."""
    return fall if celsius is fall.celsius else replace(fall, celsius=celsius)


def _hottest(view: View, at_ms: int) -> float | None:
    """The hottest trusted ring at this minute [degC]; None where one of them was not seen about then."""
    rings = []
    for track, fit in zip(view.tracks, view.fit, strict=True):
        if fit:
            seen = [_at(track.minutes, at_ms + minute * MINUTE_MS) for minute in AROUND]
            known = [c for c in seen if c is not None]
            if len(known) < len(seen):
                return None
            rings.append(fmean(known))
    return max(rings, default=None)


def _at(points: tuple[Minute, ...], at_ms: int) -> float | None:
    before = next((one for one in reversed(points) if one[0] <= at_ms), None)
    after = next((one for one in points if one[0] >= at_ms), None)
    if before is None or after is None or after[0] - before[0] > APART_MS:
        return None
    part = (at_ms - before[0]) / max(after[0] - before[0], 1)
    return before[1] * (1.0 - part) + after[1] * part


def _touched(view: View, since_ms: int) -> bool:
    """Whether anybody wrote down that they had a hand on lid or plugs since."""
    return any(
        w.entry.kind in (EntryKind.LID, EntryKind.PLUGS) and w.at_ms > since_ms and not w.undone
        for w in view.firing.written
    )
