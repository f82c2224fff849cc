"""A kiln that from one minute on gets less at every ring: mains that sag, elements that give out together.

How many watts a kiln has, and what it loses, nobody knows better than to some tenths; but they do not change from one
minute to the next. So the kiln model, as it was half an hour ago, runs on by itself, and what every ring reads less
than that is laid against two shapes: a line, which is what the model has wrong, and a line with a kink, from where all
rings go on as with a part of their watts gone.
"""

from dataclasses import dataclass, replace
from math import hypot
from statistics import fmean, median

from spyhole.core.firing import Firing
from spyhole.core.heating import may_be_turned_down
from spyhole.core.kiln import Switch
from spyhole.core.least_squares import Sums
from spyhole.core.thermal.belief import is_drying, moved
from spyhole.core.thermal.departure import Past
from spyhole.core.thermal.model import held, whole_minute_ms
from spyhole.core.thermal.physics import NODES, heat_of
from spyhole.core.turns import at_minute
from spyhole.core.view import View

MINUTE_MS = 60_000
WINDOW_MINUTES = 30
BEFORE_MINUTES = 8
"""What has to be seen of the time before."""
AFTER_MINUTES = 7
"""And after, and some more: what fits best where it could not have begun later may have begun just now."""
SETTLED_MS = 15 * MINUTE_MS
"""After a turn: until then elements and hot face bend the curve too."""
LIT_MS = 60 * MINUTE_MS
"""After lighting: a model that has seen so little still takes the watts for the load, or the other way round, and what
it has wrong bends (chosen)."""
LEAST_PROBES = 2
"""What one falls behind by alone may be its probe."""
DEVIATION_CELSIUS = 1.0
DEVIATION_SHARE = 0.02
"""How far a minute's median strays from either shape: noise and drafts, and of what it falls behind by (chosen)."""
DRIFTS_CELSIUS = 1.0
"""By how much a minute the model may go off by itself: what it has wrong of the watts and losses (chosen)."""
LOOKS_SHARE = 0.04
"""What every ring lacks against the model of a quarter of an hour ago, at least, for it to be worth a closer look; or
one of them, where one has no probe."""
LEAST_SHARE = 0.12
"""Of the watts; mains that wander take less (common practice, no source)."""
MOST_SHARE = 0.7
"""More than this is no heat at all, which is told otherwise (chosen)."""
TIMES = 4.0
LEAST_LEFT = 0.5
WELL = 1.2
"""How many times better the kink has to fit than the line, and how well, in squared deviations (chosen)."""
ALIKE, ALIKE_BESIDE = 0.65, 0.4
"""What each ring has lost by itself is at least so much of what any other has; the latter where a ring has no probe: a
lid ajar over it, or its own element, is felt by the rings beside it, by the nearest most (chosen)."""
LATELY_MINUTES = 4
GOES_ON, NO_FASTER = 0.6, 1.4
"""In the last minutes all rings still fall behind by so much of what such a loss makes them: a look through the plug is
over by then, and what begins only now is faster (chosen)."""

Minutes = list[tuple[int, float, float]]
"""Minute of the window, what a ring reads less than the model [degC], what it would with all watts gone [degC]."""


@dataclass(frozen=True, slots=True)
class Kink:
    """From which minute of the window, the share of its watts that each ring has lost, and mean squared deviations left
    over with it and without. goes_on: of what such a loss makes the rings fall behind, what they did in the last
    minutes."""

    minute: int
    lost: tuple[float, ...]
    left: float
    straight: float
    goes_on: float


def weakened(view: View) -> Firing:
    """The firing, knowing that all its rings lack heat where they lost it together."""
    firing = view.firing
    known = firing.lacked
    if all(at is not None for at in known) and known:
        return firing
    all_seen = _all_seen(view)
    kink = kinked(view, all_seen=all_seen)
    if kink is None or not _is_loss(kink, all_seen=all_seen):
        return firing
    return replace(firing, lacked=tuple(at or view.now_ms for at in (known or (None,) * len(view.tracks))))


def _all_seen(view: View) -> bool:
    """Whether every ring that is on has a probe that can be believed."""
    return len(_seen(view)) == sum(switch is not Switch.OFF for switch in view.firing.switches)


def _seen(view: View) -> list[int]:
    """The probes that can be believed of rings that are on."""
    return [i for i, fit in enumerate(view.fit) if fit and view.switched(i) is not Switch.OFF]


def _is_loss(kink: Kink, *, all_seen: bool) -> bool:
    """all_seen: each ring tells of itself; else the one that lost most tells of what nobody sees."""
    whole = median(kink.lost) if all_seen else max(kink.lost)
    fits = kink.left < WELL and kink.straight > TIMES * max(kink.left, LEAST_LEFT)
    alike = min(kink.lost) > (ALIKE if all_seen else ALIKE_BESIDE) * max(kink.lost)
    young = kink.minute == WINDOW_MINUTES - AFTER_MINUTES
    return fits and alike and not young and LEAST_SHARE < whole < MOST_SHARE and GOES_ON < kink.goes_on < NO_FASTER


def kinked(view: View, *, all_seen: bool) -> Kink | None:
    """The kink that the rings' curves show best; None where nothing can be said."""
    firing, memory = view.firing, view.firing.memory
    if firing.off or not firing.heating or firing.candling or view.misled or firing.model is None or memory is None:
        return None
    from_ms = whole_minute_ms(view.now_ms) - WINDOW_MINUTES * MINUTE_MS
    seen = _seen(view)
    if len(seen) < LEAST_PROBES or may_be_turned_down(firing):
        return None
    if firing.changed_ms + SETTLED_MS > from_ms or firing.started_ms + LIT_MS > from_ms:
        return None
    shares = [one.share or 0.0 for i in seen if (one := view.left_of(i)) is not None]
    if len(shares) < len(seen) or (max if all_seen else min)(shares) > -LOOKS_SHARE:
        return None
    past = next((p for p in reversed(memory.pasts) if p.at_ms <= from_ms), None)
    known = [c for i in seen if (c := at_minute(view.tracks[i].minutes, from_ms)) is not None]
    if past is None or not known or is_drying(min(known), memory.told[-1][1]):
        return None  # how much water the ware has to give nobody knows, nor at which minute it begins to
    rings = _missing(view, past, seen, from_ms)
    if any(len(one) < WINDOW_MINUTES - 3 for one in rings):
        return None
    return _best(rings)


def _missing(view: View, past: Past, seen: list[int], from_ms: int) -> list[Minutes]:
    """Of each of these probes what it reads less than the model that is left to itself from then on."""
    firing = view.firing
    assert firing.memory is not None
    told, heat = firing.memory.told, heat_of(past.logs)
    celsius, at_ms = list(past.celsius), past.at_ms
    while at_ms < from_ms:
        celsius = moved(heat, celsius, held(told, at_ms + MINUTE_MS), 1.0 / 60.0)
        at_ms += MINUTE_MS
        for probe in seen:
            reading = at_minute(view.tracks[probe].minutes, at_ms)
            if reading is not None:
                celsius[NODES * firing.kiln.probe_rings[probe]] = reading
    lit = told[-1][1]
    dark = replace(lit, shares=(0.0,) * len(lit.shares))
    fed, unfed = celsius, celsius
    found: list[Minutes] = [[] for _ in seen]
    for minute in range(1, WINDOW_MINUTES + 1):
        fed, unfed = moved(heat, fed, lit, 1.0 / 60.0), moved(heat, unfed, dark, 1.0 / 60.0)
        for minutes, probe in zip(found, seen, strict=True):
            n = NODES * firing.kiln.probe_rings[probe]
            reading = at_minute(view.tracks[probe].minutes, from_ms + minute * MINUTE_MS)
            if reading is not None:
                minutes.append((minute, fed[n] - reading, fed[n] - unfed[n]))
    return found


def _best(rings: list[Minutes]) -> Kink:
    gone = [{minute: whole for minute, _, whole in one} for one in rings]
    straight = fmean(_fitted(one, bent=False).left for one in rings)
    best: Kink | None = None
    for start in range(BEFORE_MINUTES, WINDOW_MINUTES - AFTER_MINUTES + 1):
        bent = [[(m, c, whole.get(m - start, 0.0)) for m, c, _ in one] for one, whole in zip(rings, gone, strict=True)]
        fits = [_fitted(one, bent=True) for one in bent]
        left = fmean(one.left for one in fits)
        if best is None or left < best.left:
            lately = median(_goes_on(one, fit) for one, fit in zip(bent, fits, strict=True))
            best = Kink(start, tuple(one.lost for one in fits), left, straight, lately)
    assert best is not None
    return best


@dataclass(frozen=True, slots=True)
class _Fit:
    """The share lost, the line's own slope [degC a minute], and mean squared deviations left over."""

    lost: float
    slope: float
    left: float


def _fitted(minutes: Minutes, *, bent: bool) -> _Fit:
    """A line, and with it, where it is bent, as much of the shape as suits it."""
    deviation = hypot(DEVIATION_CELSIUS, DEVIATION_SHARE * abs(minutes[-1][1] - minutes[0][1]))
    sums = Sums(3 if bent else 2)
    sums.add(((1, 1.0 / DRIFTS_CELSIUS),), 0.0)
    for minute, celsius, shape in minutes:
        own = ((2, shape / deviation),) if bent else ()
        sums.add(((0, 1.0 / deviation), (1, minute / deviation), *own), celsius / deviation)
    fit = sums.solve()
    return _Fit(fit.answer[2] if bent else 0.0, fit.answer[1], fit.left / len(minutes))


def _goes_on(minutes: Minutes, fit: _Fit) -> float:
    """Of what the loss makes a ring fall behind by, what it did in the last minutes."""
    (at, before, then), (to, celsius, now) = minutes[-1 - LATELY_MINUTES], minutes[-1]
    return (celsius - before - fit.slope * (to - at)) / max(fit.lost * (now - then), 0.1)
