"""A probe that slips out of its hole, told from a ring that gets less.

Both fall beside their neighbours. What they fall by has another shape: a tip that sees less of its ring is at its new
level within minutes, and goes parallel to its ring from there; bricks and ware answer lost watts slowly, for the better
part of an hour, and no faster than with all of them gone. So both shapes are laid over the last half hour, each with
the minute and the size that suit it best.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import exp, hypot, inf
from statistics import median

from spyhole.core.curve.climb import value_at
from spyhole.core.curve.trust import Doubts
from spyhole.core.departing import doubted
from spyhole.core.firing import Firing
from spyhole.core.kiln import Switch
from spyhole.core.least_squares import Sums
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.departure import Past
from spyhole.core.thermal.model import held, whole_minute_ms
from spyhole.core.thermal.physics import NODES, heat_of, with_share
from spyhole.core.turns import at_minute, seen_at
from spyhole.core.view import View

MINUTE_MS = 60_000
WINDOW_MINUTES = 28
BEFORE_MINUTES = 5
"""What has to be seen of the time before."""
LEVEL_MINUTES = 9
"""And after: a tip in its tube has come to rest by then, and lost watts have not."""
TIPS_MINUTES = (0.5, 1.0, 2.0, 3.0, 4.0, 5.0)
"""How slowly a tip comes to its new level, a time constant: tubes take one, a tip that slides on some (chosen)."""
LEAST_PROBES = 3
"""Of two that part, nobody knows which is wrong."""
ALONE_TIMES, ALONE_MINUTES = 1.35, 2
"""How many times faster than with all its watts gone the only probe has to fall, over so many minutes: lost supplies
hardly do, for elements and walls go on giving (chosen; it has to come to rest too)."""
RESTS_MINUTES, RESTS_SHARE = 4, 0.45
"""What still falls by more, of what it would without any watts, has not come to rest (chosen)."""
LEAST_ALONE_CELSIUS = 5.0
"""What it falls by in those minutes, at least, to be looked at."""
BACK_MINUTES = range(2, 13, 2)
"""How long the supply may have been away and be back (chosen)."""
FALLS_CELSIUS, FALLS_SHARE = 15.0, 0.015
"""A slip of less is a drift, or a mood (chosen)."""
GONE = 1.15
"""More than all its watts no ring can lose; the model knows them to so much (healthy kilns of the proving ground)."""
DEVIATION_CELSIUS = 1.0
DEVIATION_SHARE = 0.02
"""How far a minute's median strays from either shape: noise and drafts, and of what it falls by (chosen)."""
DRIFTS_CELSIUS = 0.15
"""By how much a minute the model itself may go off meanwhile, before anything has happened to the probe."""
AT_ONCE_MINUTES = 6
AT_ONCE = 0.75
"""A tip that slips shows in so many minutes at least so much of what its ring could show with all its watts gone: what
falls more slowly is no wire's doing, or too little to be told (chosen)."""
WAITS_MINUTES = 8
"""For so long after such a fall nobody says which it is: a tip is known for one by then, and a probe that sees its
ring's element falls as fast for some minutes when that goes cold (chosen)."""
TIMES = 3.0
LEAST_LEFT = 0.5
WELL = 1.6
"""How many times better the one shape has to fit than the other, and how well, in squared deviations (chosen)."""
LOST_SHARE, LOST_WITH_IT = 0.18, 0.5
"""Of a ring's watts, and of its fall what most others may fall with it: they feel it, and a lid they share (chosen)."""
OTHERS_SHARE = 0.2
"""What most others fall by with it is the kiln's doing: rings feel their neighbours, and no wire another (chosen)."""


@dataclass(frozen=True, slots=True)
class Shape:
    """The best of its kind: by how much it falls [degC], mean squared deviations left over, and from which minute."""

    falls: float
    left: float
    minute: float


NONE = Shape(0.0, inf, 0.0)


def slipping(view: View) -> tuple[Firing, Doubts]:
    """The firing and the doubts, with a probe that has slipped."""
    firing = _forgetting(view.firing)
    model = firing.model
    if firing.off or not firing.heating or view.misled or model is None or firing.memory is None:
        return firing, view.doubts
    alone = view.alone is not None
    own = _fallen(view) if view.alone is None else _fallen_alone(view, view.alone)
    to_ms = whole_minute_ms(view.now_ms)
    from_ms = to_ms - WINDOW_MINUTES * MINUTE_MS
    past = next((p for p in reversed(firing.memory.pasts) if p.at_ms <= from_ms), None)
    if own is None or past is None:
        return firing, view.doubts
    seen = [i for i, fit in enumerate(view.fit) if fit]
    falls = {i: _falls(view, past, i, from_ms, to_ms) for i in seen}
    missing, _ = falls[own]
    if len(missing) < BEFORE_MINUTES + LEVEL_MINUTES:
        return firing, view.doubts
    if alone:
        if not _falls_too_fast(falls[own], ALONE_MINUTES, ALONE_TIMES):
            return firing, view.doubts
        if not _has_slipped_alone(view, own, falls[own]):
            return replace(firing, memory=replace(firing.memory, slips=own)), view.doubts
    elif not _has_slipped(view, own, falls):
        if _falls_too_fast(falls[own], AT_ONCE_MINUTES, GONE, WAITS_MINUTES):
            firing = replace(firing, memory=replace(firing.memory, slips=own))
        steady = firing.changed_ms <= from_ms and len(set(firing.switches)) == 1
        return (_lacking(firing, own, view.now_ms) if steady and _has_lost(view, own, falls) else firing), view.doubts
    before = sum(c for _, c in missing[:BEFORE_MINUTES]) / BEFORE_MINUTES
    at_settled = next((c for minute, c in missing if from_ms + minute * MINUTE_MS >= model.settled.at_ms), 0.0)
    return doubted(view, own, past.logs, before - missing[-1][1], before - at_settled)


def _fallen(view: View) -> int | None:
    """The probe that has lately fallen furthest beside the others, if it has; None where too few are seen."""
    rose = {i: one for i in range(len(view.fit)) if view.fit[i] and (one := _rose(view, i)) is not None}
    if len(rose) < LEAST_PROBES:
        return None
    own = min(rose, key=rose.__getitem__)
    beside = median(r for i, r in rose.items() if i != own) - rose[own]
    on = view.switched(own) is not Switch.OFF
    return own if on and beside > _least(view, own) else None


def _fallen_alone(view: View, own: int) -> int | None:
    """The only probe, if it has lately fallen by so much."""
    points = view.last(own, WINDOW_MINUTES - BEFORE_MINUTES)
    on = view.switched(own) is not Switch.OFF
    fell = max((a[1] - b[1] for a, b in zip(points, points[ALONE_MINUTES:], strict=False)), default=0.0)
    return own if on and fell > LEAST_ALONE_CELSIUS else None


def _rose(view: View, probe: int) -> float | None:
    track = view.tracks[probe]
    before = value_at(track.minutes, view.now_ms - (WINDOW_MINUTES - BEFORE_MINUTES) * MINUTE_MS)
    return None if before is None or track.celsius is None else track.celsius - before


def _least(view: View, probe: int) -> float:
    heat = (view.tracks[probe].celsius or 0.0) - view.firing.room_celsius
    return max(FALLS_CELSIUS, FALLS_SHARE * heat)


Minutes = list[tuple[int, float]]


def _falls(view: View, past: Past, free: int, from_ms: int, to_ms: int) -> tuple[Minutes, list[float]]:
    """What a probe reads less than its ring should have, minute by minute [degC], its neighbours held to what they
    read; and what it would, by then, had all its ring's watts gone as the time began."""
    firing = view.firing
    rings, heat = firing.kiln.probe_rings, heat_of(past.logs)
    memory = firing.memory
    assert memory is not None
    told = memory.told
    celsius, at_ms, own = list(past.celsius), past.at_ms, NODES * rings[free]
    fed, unfed = celsius, celsius
    missing: Minutes = []
    gone: list[float] = []
    lit = told[-1][1]
    # Ware that falls gives no more water up, and takes none back.
    dark = replace(with_share(lit, rings[free], 0.0), clay=0.0)
    strong = max(heat.strength[rings[free]], median(heat.strength))  # what it gets by now may be what it has lost
    whole = replace(heat, strength=tuple(strong if r == rings[free] else s for r, s in enumerate(heat.strength)))
    while at_ms < to_ms:
        until_ms = at_ms + MINUTE_MS
        begun = at_ms >= from_ms
        if at_ms == from_ms:
            fed, unfed = list(celsius), list(celsius)
        celsius = moved(heat, celsius, held(told, until_ms), 1.0 / 60.0)
        if begun:
            fed, unfed = moved(whole, fed, lit, 1.0 / 60.0), moved(whole, unfed, dark, 1.0 / 60.0)
        at_ms = until_ms
        for ring, here in seen_at(view, at_ms, but=free if begun else None).items():
            celsius[NODES * ring] = fed[NODES * ring] = unfed[NODES * ring] = here
        if begun:
            gone.append(fed[own] - unfed[own])
            reading = at_minute(view.tracks[free].minutes, at_ms)
            if reading is not None:
                missing.append((len(gone), celsius[own] - reading))
    return missing, gone


def _forgetting(firing: Firing) -> Firing:
    """The firing with no probe that may slip, until it is seen to."""
    if firing.memory is None or firing.memory.slips is None:
        return firing
    return replace(firing, memory=replace(firing.memory, slips=None))


def _falls_too_fast(
    falls: tuple[Minutes, list[float]], minutes: int, most: float, lately_minutes: int = WINDOW_MINUTES
) -> bool:
    """Whether it fell lately as no ring does, though it is not known yet whether it stays at its new level. most: how
    many times as far in so many minutes as with all its watts gone."""
    missing, gone = falls
    before, since = dict(missing), missing[-1][0] - lately_minutes
    far = most * _losing(gone, minutes)
    ends = [(at, celsius) for at, celsius in missing if at > since and at - minutes in before]
    return any(celsius - before[at - minutes] > far for at, celsius in ends)


def _has_slipped_alone(view: View, own: int, falls: tuple[Minutes, list[float]]) -> bool:
    """Whether the only probe fell as a tip does, and as no kiln does: neither one whose supply is lost, nor one that
    had none for some minutes. What a lid lets out comes back with it, or it goes on falling."""
    missing, gone = falls
    tip, most = NONE, ALONE_TIMES * _losing(gone, ALONE_MINUTES)
    for minutes in TIPS_MINUTES:
        one = _best(missing, partial(_settling, minutes), LEVEL_MINUTES, inf)
        if one.left < tip.left and one.falls * _settling(minutes, ALONE_MINUTES) > most:
            tip = one
    if tip.falls < _least(view, own) or tip.left > WELL or tip.minute <= BEFORE_MINUTES:
        return False
    if missing[-1][1] - missing[-1 - RESTS_MINUTES][1] > RESTS_SHARE * _losing(gone, RESTS_MINUTES):
        return False
    others = [partial(_losing, gone), *(partial(_was_away, gone, away) for away in BACK_MINUTES)]
    left = min(_best(missing, one, LEVEL_MINUTES, GONE).left for one in others)
    return left > TIMES * max(tip.left, LEAST_LEFT)


def _has_slipped(view: View, own: int, falls: dict[int, tuple[Minutes, list[float]]]) -> bool:
    """Whether the fall of this probe is its own: as a tip falls, and as no ring does."""
    missing, gone = falls[own]
    at_once = AT_ONCE * _losing(gone, AT_ONCE_MINUTES)
    tip = NONE
    for minutes in TIPS_MINUTES:
        one = _best(missing, partial(_settling, minutes), LEVEL_MINUTES, inf)
        if one.left < tip.left and one.falls * _settling(minutes, AT_ONCE_MINUTES) > at_once:
            tip = one
    if tip.falls < _least(view, own) or tip.left > WELL or tip.minute <= BEFORE_MINUTES:
        return False  # or it began before what is looked at, and neither shape fits as it should
    with_it = (_since(m, tip.minute) for i, (m, _) in falls.items() if i != own and m)
    if median(with_it) > OTHERS_SHARE * tip.falls:
        return False
    ring = _best(missing, partial(_losing, gone), LEVEL_MINUTES, GONE)
    return ring.left > TIMES * max(tip.left, LEAST_LEFT)


def _has_lost(view: View, own: int, falls: dict[int, tuple[Minutes, list[float]]]) -> bool:
    """Whether this ring has lost a part of its watts within this time: not the way a wire drifts, and not with most.

    Where rings heat each other well it stays near them and lacks little of what is expected: that it began tells.
    """
    missing, gone = falls[own]
    ring = _best(missing, partial(_losing, gone), LEVEL_MINUTES, GONE)
    line = _best(missing, float, LEVEL_MINUTES, inf)
    if ring.falls < _least(view, own) or ring.left > WELL or line.left < TIMES * max(ring.left, LEAST_LEFT):
        return False
    lost = ring.falls / max(_losing(gone, missing[-1][0] - ring.minute), 1.0)
    with_it = (_since(m, ring.minute) for i, (m, _) in falls.items() if i != own and m)
    return lost > LOST_SHARE and median(with_it) < LOST_WITH_IT * ring.falls


def _lacking(firing: Firing, own: int, now_ms: int) -> Firing:
    """The firing, knowing that this probe's ring lacks heat."""
    known = firing.lacked or (None,) * len(firing.work)
    return replace(firing, lacked=tuple(now_ms if i == own and at is None else at for i, at in enumerate(known)))


def _since(missing: Minutes, minute: float) -> float:
    """By how much it fell from this minute on [degC]."""
    return missing[-1][1] - next((c for at, c in reversed(missing) if at <= minute), missing[0][1])


def _settling(tau_minutes: float, minutes: float) -> float:
    """What share of its way a tip has gone so long after it slipped."""
    return 1.0 - exp(-minutes / tau_minutes)


def _losing(gone: list[float], minutes: float) -> float:
    """What a ring has lost so long after all its watts went [degC]."""
    whole = int(minutes)
    before = gone[whole - 1] if whole else 0.0
    return before + (minutes - whole) * (gone[min(whole, len(gone) - 1)] - before)


def _was_away(gone: list[float], away_minutes: int, minutes: float) -> float:
    """What a ring stands lower by, so long after all its watts went for that while [degC]."""
    return _losing(gone, minutes) - _losing(gone, max(0.0, minutes - away_minutes))


def _best(missing: Minutes, shape: Callable[[float], float], least_minutes: float, most: float) -> Shape:
    """This shape at the half minute and the size [0 to most] that suit it best."""
    size = max(abs(celsius - missing[0][1]) for _, celsius in missing)
    deviation = hypot(DEVIATION_CELSIUS, DEVIATION_SHARE * size)
    best = NONE
    for half in range(2 * BEFORE_MINUTES, 2 * round(missing[-1][0] - least_minutes) + 1):
        shaped = [(minute, shape(max(0.0, minute - half / 2.0)), celsius) for minute, celsius in missing]
        amount, left = _fitted(shaped, deviation, None)
        if not 0.0 <= amount <= most:
            amount, left = _fitted(shaped, deviation, 0.0 if amount < 0.0 else most)
        if left < best.left:
            best = Shape(amount * shaped[-1][1], left, half / 2.0)
    return best


def _fitted(shaped: Sequence[tuple[int, float, float]], deviation: float, amount: float | None) -> tuple[float, float]:
    """How much of the shape there is, and the mean squared deviations left over, beside a level and a slow drift of the
    model's own. amount: where it is given."""
    sums = Sums(3 if amount is None else 2)
    sums.add(((1, 1.0 / DRIFTS_CELSIUS),), 0.0)
    for minute, share, celsius in shaped:
        own = ((2, share / deviation),) if amount is None else ()
        sums.add(((0, 1.0 / deviation), (1, minute / deviation), *own), (celsius - share * (amount or 0.0)) / deviation)
    fit = sums.solve()
    return (fit.answer[2] if amount is None else amount), fit.left / len(shaped)
