"""The heat ends, comes back, or does not end."""

from statistics import median

from spyhole.core.alarms.book import Judgement
from spyhole.core.curve.climb import since, value_at
from spyhole.core.entry import EntryKind
from spyhole.core.firing import Firing, Stopped, touched
from spyhole.core.kiln import Switch
from spyhole.core.outcome import Facts
from spyhole.core.view import View

SHORT_NEWS_MS = 2 * 3_600_000
BACK_NEWS_MS = 60 * 60_000
SETTLED_MS = 12 * 60_000
HELD_UP_SHARE = 0.4
HELD_UP_CELSIUS = 50.0
"""After an end the air goes on for a moment, and bricks share out what they hold."""


def heat_lost(view: View) -> Judgement:
    """The heat has ended though the plan says heating."""
    firing = view.firing
    facts: Facts = (("since_utc_ms", firing.off_utc_ms), ("peak", max(firing.peaks, default=None)))
    return Judgement("heat-lost", None, firing.stopped is Stopped.LOST and not firing.off, facts)


def fell_short(view: View) -> Judgement:
    """The heat ended before the firing cone was down."""
    firing = view.firing
    fresh = firing.off_ms is not None and view.now_ms - firing.off_ms < SHORT_NEWS_MS
    facts: Facts = (
        ("since_utc_ms", firing.off_utc_ms),
        ("peak", max(firing.peaks, default=None)),
        ("cone", firing.plan.cone),
        ("alpha", view.work.firing),
    )
    return Judgement("fell-short", None, firing.stopped is Stopped.SHORT and fresh, facts)


def power_back(view: View) -> Judgement:
    """It heats again after the heat was lost, and nobody wrote down that they saw to it."""
    firing = view.firing
    back_ms, lost_ms = firing.back_ms, firing.lost_ms
    if back_ms is None or lost_ms is None or firing.off or not firing.heating:
        return Judgement("power-back", None, False)
    fresh = view.now_ms - back_ms < BACK_NEWS_MS
    facts: Facts = (("minutes", round((back_ms - lost_ms) / 60_000)),)
    return Judgement("power-back", None, fresh and not touched(firing, lost_ms), facts)


def relit(firing: Firing) -> bool:
    """Whether a person switched it on again after it was over, so that only timer and person are left to end it."""
    return firing.off_ms is not None and any(
        w.entry.kind is EntryKind.SWITCH and w.entry.value != Switch.OFF and w.at_ms > firing.off_ms and not w.undone
        for w in firing.written
    )


def still_on(view: View) -> Judgement:
    """A ring climbs though the firing is over and nobody lit it again."""
    facts = () if relit(view.firing) else _rising_after_end(view)
    return Judgement("still-on", None, bool(facts), facts)


def no_cone_left(view: View) -> Judgement:
    """Lit again after the shut-off tripped: its cone is spent."""
    facts = _rising_after_end(view) if relit(view.firing) and view.firing.kiln.cone_shutoff else ()
    return Judgement("no-cone-left", None, bool(facts), facts)


def _rising_after_end(view: View) -> Facts:
    firing = view.firing
    if not firing.off or firing.off_ms is None or view.now_ms - firing.off_ms <= SETTLED_MS:
        return ()
    for i, fit in enumerate(view.fit):
        points = since(view.last(i, 15), firing.off_ms + SETTLED_MS)
        climb = view.tracks[i].climb
        if fit and len(points) >= 5 and climb is not None and points[-1][1] > 60.0:
            rise = points[-1][1] - min(c for _, c in points)
            if rise >= 8.0 and climb > 25.0:
                return (("hottest", view.ring_name(i)), ("celsius", points[-1][1]), ("climb", climb))
    return _held_up(view)


def _held_up(view: View) -> Facts:
    """One ring hardly falls while the others do, further apart than any packing leaves them: it still heats."""
    off_ms = view.firing.off_ms or 0
    good = [i for i, fit in enumerate(view.fit) if fit and view.tracks[i].climb is not None]
    then = {i: value_at(view.tracks[i].minutes, off_ms + SETTLED_MS) for i in good}
    good = [i for i in good if then[i] is not None]
    if len(good) < 2:
        return ()
    warmest = max(good, key=lambda i: view.tracks[i].climb or 0.0)
    others = [i for i in good if i != warmest]
    falls = median(view.tracks[i].climb or 0.0 for i in others)
    own = view.tracks[warmest].climb or 0.0
    gained = _since(view, warmest, then) - median(_since(view, i, then) for i in others)
    if falls < -60.0 and own > HELD_UP_SHARE * falls and gained > HELD_UP_CELSIUS:
        celsius = view.tracks[warmest].celsius
        return (("hottest", view.ring_name(warmest)), ("celsius", celsius), ("climb", own))
    return ()


def _since(view: View, probe: int, then: dict[int, float | None]) -> float:
    return (view.tracks[probe].celsius or 0.0) - (then[probe] or 0.0)
