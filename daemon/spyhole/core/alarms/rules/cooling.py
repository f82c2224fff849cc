"""Falling too fast: for a band of the plan, or as a kiln does whose lid is opened hot."""

from spyhole.core.alarms.book import Judgement
from spyhole.core.curve.climb import since
from spyhole.core.entry import EntryKind
from spyhole.core.firing import Firing, logs_switches, surely_off_ms
from spyhole.core.outcome import Facts
from spyhole.core.view import View

HOUR_MS = 60 * 60_000
SETTLED_MS = 20 * 60_000
LIMIT_GRACE = 1.25
"""A band's limit is for the ware; what a probe shows runs ahead of it (common practice, no source)."""
OPENED_TIMES = 1.25
JUST_OPENED_TIMES = 2.2
"""The same in the first hour, in which a model has yet to learn how fast this kiln loses its heat (chosen; light kilns
fell 1.8 and 1.9 times as fast as expected half an hour after their end, and an open lid makes it three times)."""
ODD_TIMES = 2.0
"""As much after a firing in which the kiln did not do as its model had it: what that learned of losses may be lost
watts. An open lid makes it fall three times as fast (chosen)."""
OPENED_CELSIUS_PER_HOUR = 25.0
"""What no kiln that is as shut as it is believed to be falls beyond its model (healthy kilns of the proving ground)."""
JUST_MS = HOUR_MS
SHUT_TIMES = 1.15
"""For so long after its end a shut kiln falls fastest, and the model has not learned anything else; by so much more it
may (chosen)."""
LEAST_FALL = 0.15
"""Of its heat above the room, what any shut kiln falls in an hour just after its end (common practice, no source). A
model that was told the wrong switches may expect less."""
HELD_TIMES, HELD_HOURS = 1.25, 0.75
"""For how much longer than planned, and how long after, a hold that nobody wrote down may be what is seen (chosen)."""
HOT_CELSIUS = 200.0
BREAKS_TIMES, BREAKS_CELSIUS_PER_HOUR = 1.15, 12.0
BREAKS_WITHIN_MINUTES, BREAKS_FROM_MINUTES = 90, 10
"""What a shut kiln loses of its heat above the room grows less and less; where a lid is opened, that breaks: it is more
than it was in any ten minutes of the last hour and a half (chosen)."""


def cooling_fast(view: View) -> Judgement:
    """A ring falls faster than its band of the plan, or the kiln faster than it does while it is shut."""
    firing = view.firing
    if not firing.off or firing.off_ms is None or view.now_ms - surely_off_ms(firing) < SETTLED_MS:
        return Judgement("cooling-fast", None, False)
    falling = {
        i: (t.celsius, -t.climb)
        for i, (t, fit) in enumerate(zip(view.tracks, view.fit, strict=True))
        if fit and t.celsius is not None and t.climb is not None
    }
    banded = [i for i, (c, fall) in falling.items() if fall > _band(firing, c) and not _falls_shut(view, i, c, fall)]
    again = firing.memory is not None and firing.memory.again
    shut = {i: float("inf") if again else _shut(view, i, celsius) for i, (celsius, _) in falling.items()}
    beyond = {i for i, (_, fall) in falling.items() if fall > shut[i]}
    opened = _shows_open(beyond, sorted(falling)) and any(_breaks(view, i, *falling[i]) for i in beyond)
    opened = opened and not _may_be_held(view)
    if not banded and not opened:
        return Judgement("cooling-fast", None, False)
    probe = banded[0] if banded else max(falling, key=lambda i: falling[i][1] - shut[i])
    celsius, fall = falling[probe]
    limit = _band(firing, celsius) if banded else shut[probe]
    facts: Facts = (("hottest", view.ring_name(probe)), ("celsius", celsius), ("climb", fall), ("limit", limit))
    return Judgement("cooling-fast", None, True, facts)


def _may_be_held(view: View) -> bool:
    """Whether what the curve showed as the end may have been the turn down to a hold with which the plan closes, and
    its own end still to come: where nobody writes turns down, the fall that breaks then is the switch's, no lid's."""
    firing, last = view.firing, view.firing.plan.stages[-1]
    if firing.tripped or logs_switches(firing) or last.until_cone or last.hours is None:
        return False
    return view.now_ms - (firing.off_ms or 0) < (HELD_TIMES * last.hours + HELD_HOURS) * HOUR_MS


def _shows_open(beyond: set[int], seen: list[int]) -> bool:
    """Whether those that fall beyond all that a shut kiln does are enough to show it open: most of them; of two, the
    upper one, for a lid is over it, and the lower rings of a tall kiln do not feel it for an hour."""
    return 2 * len(beyond) > len(seen) or (len(seen) == 2 and seen[1] in beyond)


def _band(firing: Firing, celsius: float) -> float:
    """The plan's limit for this band, widened [degC/h]; without end where it has none."""
    for band in firing.plan.cooling.limits:
        if band.to_celsius < celsius < band.from_celsius:
            return band.celsius_per_hour * LIMIT_GRACE
    return float("inf")


def _falls_shut(view: View, probe: int, celsius: float, fall: float) -> bool:
    """Whether it falls no faster than a kiln does that is as shut as it is believed to be, just after its end.

    That is the kiln's doing, and nobody's: there is nothing to shut. Later, the model may have learned an open lid.
    """
    firing, left = view.firing, view.left_of(probe)
    just = view.now_ms - (firing.off_ms or 0) < JUST_MS
    if not just or left is None or _opened_hot(firing):
        return False
    least = LEAST_FALL * (celsius - firing.room_celsius)
    return fall <= SHUT_TIMES * max(-left.climb, least)


def _opened_hot(firing: Firing) -> bool:
    """Whether somebody wrote down that lid or plugs were opened since the end."""
    opens = ("cracked", "propped", "open", "half", "out")
    since_ms = firing.off_ms or 0
    return any(
        w.entry.kind in (EntryKind.LID, EntryKind.PLUGS) and w.entry.value in opens and w.at_ms >= since_ms
        for w in firing.written
        if not w.undone
    )


def _breaks(view: View, probe: int, celsius: float, fall: float) -> bool:
    """Whether it falls faster than the curve since the end has led one to expect; True where that is too short to say.

    What nothing but the model finds too fast may be the model's fault.
    """
    settled_ms = surely_off_ms(view.firing) + SETTLED_MS
    minutes = since(view.last(probe, BREAKS_WITHIN_MINUTES), settled_ms)
    slowest = None
    for n in range(0, len(minutes) - BREAKS_FROM_MINUTES, BREAKS_FROM_MINUTES // 2):
        (first_ms, first), (last_ms, last) = minutes[n], minutes[n + BREAKS_FROM_MINUTES]
        if last_ms > view.now_ms - BREAKS_FROM_MINUTES * 60_000:
            break
        above = max((first + last) / 2.0 - view.firing.room_celsius, 1.0)
        share = (first - last) / (last_ms - first_ms) * 3_600_000 / above
        slowest = share if slowest is None else min(slowest, share)
    if slowest is None:
        return True
    return fall > BREAKS_TIMES * slowest * (celsius - view.firing.room_celsius) + BREAKS_CELSIUS_PER_HOUR


def _shut(view: View, probe: int, celsius: float) -> float:
    """Well beyond how this kiln falls while it is shut [degC/h]; without end where a lid may be open."""
    left = view.left_of(probe)
    heated_on = surely_off_ms(view.firing) - (view.firing.off_ms or 0) > SETTLED_MS
    if (
        left is None
        or heated_on  # and the model was told that nothing heats: it knows this kiln no more
        or not left.lacks
        or celsius < max(HOT_CELSIUS, view.firing.plan.cooling.crack_below_celsius + 30.0)
    ):
        return float("inf")
    least = LEAST_FALL * (celsius - view.firing.room_celsius)
    just = view.now_ms - (view.firing.off_ms or 0) < JUST_MS
    times = ODD_TIMES if view.was_odd else JUST_OPENED_TIMES if just else OPENED_TIMES
    return times * max(-left.climb, least) + OPENED_CELSIUS_PER_HOUR
