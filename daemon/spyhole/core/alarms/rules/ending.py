"""The heat ends, comes back, or does not end."""

from statistics import fmean, median

from spyhole.core.alarms.book import Judgement
from spyhole.core.curve.climb import since, value_at
from spyhole.core.entry import EntryKind
from spyhole.core.feeding import long_fed
from spyhole.core.firing import Firing, Stopped, surely_off_ms, touched
from spyhole.core.kiln import Switch
from spyhole.core.outcome import Facts
from spyhole.core.view import View

SHORT_NEWS_MS = 2 * 3_600_000
BACK_NEWS_MS = 60 * 60_000
SEEN_TO_MS = 30 * 60_000
"""Who had a hand on the kiln no longer than this before it heats again saw to that; it is seen some minutes late."""
SETTLED_MS = 12 * 60_000
"""After an end the air goes on for a moment, and bricks share out what they hold."""
WARM_CELSIUS = 60.0
FED_SHARE = 0.1
"""Of full watts, beyond all doubt: what a cooling kiln does not find in its bricks."""
FED_BESIDE_SHARE = 0.07
"""The same beside what the other rings find in theirs: of nine healthy kilns none had any; one that cools most unevenly
comes to 0.06 (chosen)."""
FED_ALONE_SHARE = 0.04
"""The same where there is one probe and nothing to stand beside: of twenty healthy kilns, eight of another hand, none
had anything beyond all doubt in the hours after its end."""
FED_CELSIUS_PER_HOUR = 30.0
STILL_PART = 0.5
"""Of these limits, what keeps alive that a ring is fed, once it was told: the model takes heat that goes on for bricks
that hold it, and misses less and less of it though nothing was turned (chosen)."""
OPEN_SHARE = 0.5
"""Of full watts, that a ring loses beyond all that the model knows: a lid was opened over it (chosen)."""
ODD_TIMES = 3.5
"""As much after a firing in which the kiln did not do as its model had it. A ring left on high gets 0.7 and more of its
watts then (chosen)."""
PARTED_MINUTES = (45, 90, 145)
PARTED_SHARES = (0.74, 0.82)
EARLY_MINUTES, EARLY_SHARE = 30, 0.8
PARTED_CELSIUS = 40.0
"""A hotter ring that has fallen by so small a share of what the others fell, so long after the end, and by no more just
after it, is fed: of some hundred healthy kilns of the proving ground none had fallen by less than 0.86 of it after 90
minutes, nor by 35 degC less; of five with a ring left on high all had. No model is asked, which may have learned
otherwise."""
HELD_MINUTES = 90
HELD_CELSIUS = 120.0
HOTTEST_HELD_HOURS = 30.0
OTHERS_HELD_HOURS = 18.0
"""No studio kiln takes longer to lose its heat at the rate it is losing it: of slow ones some eight to fifteen hours
(common practice, no source). One that does is kept warm by a ring on low, whatever its model has come to think of its
bricks meanwhile; the others lose theirs to the room all the while."""


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
    seen_to = touched(firing, max(lost_ms, back_ms - SEEN_TO_MS))
    return Judgement("power-back", None, fresh and not seen_to, facts)


def relit(firing: Firing) -> bool:
    """Whether a person switched it on again after it was over, so that only timer and person are left to end it."""
    return firing.off_ms is not None and any(
        w.entry.kind is EntryKind.SWITCH and w.entry.value != Switch.OFF and w.at_ms > firing.off_ms and not w.undone
        for w in firing.written
    )


def still_on(view: View) -> Judgement:
    """A ring climbs, or the kiln stays warm, though the firing is over and nobody lit it again."""
    if relit(view.firing):
        return Judgement("still-on", None, False)
    facts = _rising_after_end(view) or _fed_for_long(view) or _parts(view) or _held_warm(view)
    unsure = not facts and (_is_fed_alone(view) or bool(_rising_after_end(view, STILL_PART)))
    return Judgement("still-on", None, None if unsure else bool(facts), facts)


def no_cone_left(view: View) -> Judgement:
    """Lit again after the shut-off tripped: its cone is spent."""
    if not relit(view.firing) or not view.firing.kiln.cone_shutoff:
        return Judgement("no-cone-left", None, False)
    facts = _rising_after_end(view)
    unsure = not facts and bool(_rising_after_end(view, STILL_PART))
    return Judgement("no-cone-left", None, None if unsure else bool(facts), facts)


def _rising_after_end(view: View, part: float = 1.0) -> Facts:
    """By the model, a ring gets what only a switch gives, by itself or beside others; before there is one, it climbs.
    part: of the limits that are asked of it.

    What an end leaves unsure it leaves so for all rings alike. Where one falls as by an open lid, the model is of
    another kiln: what the others get beyond it is no heat.
    """
    firing = view.firing
    if not firing.off or firing.off_ms is None or view.now_ms - firing.off_ms <= SETTLED_MS:
        return ()
    times = part * (ODD_TIMES if view.was_odd else 1.0)
    share = FED_SHARE if view.alone is None else FED_ALONE_SHARE
    opened = any(one.lacks > OPEN_SHARE for i in range(len(view.tracks)) if (one := view.left_of(i)) is not None)
    for i, fit in enumerate(view.fit):
        track, left = view.tracks[i], view.left_of(i)
        if not fit or track.celsius is None or track.climb is None or track.celsius < WARM_CELSIUS:
            continue
        points = since(view.last(i, 15), firing.off_ms + SETTLED_MS)
        rises = len(points) >= 5 and points[-1][1] - min(c for _, c in points) >= 8.0 and track.climb > 25.0
        much = left is not None and (
            left.exceeds > times * share or left.exceeds_beside(_others_get(view, i)) > times * FED_BESIDE_SHARE
        )
        fed = much and not opened and left is not None and track.climb > left.climb + part * FED_CELSIUS_PER_HOUR
        if rises or fed:
            return _of(view, i)
    return ()


def _is_fed_alone(view: View) -> bool:
    """Whether the only probe sees anything beyond all doubt that bricks do not give: the model learns it as theirs, and
    then misses less of it."""
    left = None if view.alone is None else view.left_of(view.alone)
    return view.firing.off and left is not None and left.exceeds > 0.0 and not view.was_odd


def _others_get(view: View, probe: int) -> tuple[float, ...]:
    """What the other rings get beyond what the model gives them (shares of full watts)."""
    others = (view.left_of(i) for i in range(len(view.tracks)) if i != probe)
    return tuple(one.share for one in others if one is not None and one.share is not None)


def _of(view: View, probe: int) -> Facts:
    """What is said of the ring that is still on."""
    track = view.tracks[probe]
    return (("hottest", view.ring_name(probe)), ("celsius", track.celsius), ("climb", track.climb))


def _fed_for_long(view: View) -> Facts:
    """A ring has for an hour lost less than it would without heat."""
    probe = long_fed(view)
    return () if probe is None or not view.fit[probe] else _of(view, probe)


def _parts(view: View) -> Facts:
    """One ring parts from the others upwards, since the end of heating."""
    off_ms = view.firing.off_ms
    minutes = 0.0 if off_ms is None else (view.now_ms - off_ms) / 60_000
    start, settled, end = PARTED_MINUTES
    if not view.firing.off or off_ms is None or not start <= minutes <= end or view.was_odd:
        return ()  # a ring that got too little stood lower, and its neighbours fall towards it
    limit = PARTED_SHARES[0] + (PARTED_SHARES[1] - PARTED_SHARES[0]) * min((minutes - start) / (settled - start), 1.0)
    before, early = (_stood(view, off_ms + at * 60_000) for at in (-1, EARLY_MINUTES))
    now = {i: t.celsius for i, t in enumerate(view.tracks) if view.fit[i] and t.celsius is not None}
    known = now.keys() & before.keys() & early.keys()
    if len(known) < 2:
        return ()
    hottest = max(known, key=now.__getitem__)
    others = known - {hottest}
    falls, fell = ({i: before[i] - later[i] for i in known} for later in (now, early))
    around, around_early = (fmean(one[i] for i in others) for one in (falls, fell))
    parted = around - falls[hottest] >= PARTED_CELSIUS and falls[hottest] <= limit * around
    return _of(view, hottest) if parted and fell[hottest] <= EARLY_SHARE * around_early else ()


def _stood(view: View, at_ms: int) -> dict[int, float]:
    """What each probe read then [degC], where that is known."""
    read = ((i, value_at(track.minutes, at_ms)) for i, track in enumerate(view.tracks))
    return {i: celsius for i, celsius in read if celsius is not None}


def _held_warm(view: View) -> Facts:
    """For most of two hours the kiln has lost next to nothing of what it has above the room."""
    firing = view.firing
    if not firing.off or firing.off_ms is None or view.now_ms - surely_off_ms(firing) < 2 * HELD_MINUTES * 60_000:
        return ()
    hours: dict[int, float] = {}
    for i, fit in enumerate(view.fit):
        celsius, before = view.tracks[i].celsius, value_at(view.tracks[i].minutes, view.now_ms - HELD_MINUTES * 60_000)
        if fit and celsius is not None and before is not None and celsius > firing.room_celsius + WARM_CELSIUS:
            falls = max((before - celsius) / (HELD_MINUTES / 60.0), 0.1)
            hours[i] = (celsius - firing.room_celsius) / falls
    if not hours:
        return ()
    hottest = max(hours, key=lambda i: view.tracks[i].celsius or 0.0)
    others = [h for i, h in hours.items() if i != hottest]
    held = (view.tracks[hottest].celsius or 0.0) > HELD_CELSIUS and hours[hottest] > HOTTEST_HELD_HOURS
    return _of(view, hottest) if held and (not others or median(others) >= OTHERS_HELD_HOURS) else ()
