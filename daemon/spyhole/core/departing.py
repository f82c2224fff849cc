"""A probe that wanders off slowly: the neighbours say where its ring must be, and it says otherwise, more and more.

Every probe in turn is left out for an hour: its ring runs free in the kiln model as that was then, while
the other rings are held to what they read. What the probe reads beyond that is its departure. All departures share the
model's own faults, so a probe is judged against the others. A ring that really gets less goes faster at first, and its
neighbours feel the cold; where only a number drifts, they seem too warm for it.
"""

from dataclasses import replace
from itertools import accumulate
from statistics import mean, median

from spyhole.core.alarms.rules.probes import swapped
from spyhole.core.concluded import BESIDE_MS
from spyhole.core.curve.climb import since
from spyhole.core.curve.trust import Doubt, Doubts, Reason
from spyhole.core.doubting import turned_by_hand
from spyhole.core.firing import Firing
from spyhole.core.kiln import Switch
from spyhole.core.quick import changed
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.departure import Memory, Past, joined
from spyhole.core.thermal.model import Told, held, whole_minute_ms
from spyhole.core.thermal.physics import NODES, heat_of, with_share
from spyhole.core.turns import at_minute, seen_at
from spyhole.core.view import View

WINDOW_MS = 60 * 60_000
KEPT_MS = 70 * 60_000
"""What is remembered, and somewhat more: `core.drifting` looks further back."""
PAST_EACH_MS = 20 * 60_000
EACH_MS = 5 * 60_000
SETTLED_MS = 20 * 60_000
"""What the model needs after a turn to know each ring's watts again."""
LEAST_PROBES = 3
"""Of two that part, nobody knows which is wrong."""
LEAST_CELSIUS = 350.0
"""Below this rings hardly feel each other."""
DEPARTED_CELSIUS = 18.0
STANDS_OUT_TIMES = 1.3
FAR_RING_CELSIUS = 5.0
TURNED_CELSIUS = 17.0
SHARED_FAULT = 0.25
"""A departure that is no departure: more with rings that no probe sees, after a turn, and where the model is off for
every ring (healthy kilns of the proving ground stay within)."""
CLAY_DONE_CELSIUS = 700.0
"""Above this no ring lags the others for what its ware still has to give up."""
PLAIN_RISE_CELSIUS = 80.0
RISE_SHARE = 0.06
"""Where an hour's climb is longer than this, rings whose loads are not alike part by a share of it (chosen)."""
LEFT_BEHIND_SHARE = 0.5
"""What is left of a departure, at most, where a ring that was not turned explains it (chosen)."""
NEIGHBOURS_SHARE = 0.12
"""What neighbours seem too warm, at least, as a share of a false departure."""
ODD_SHARE = 0.04
"""Of full watts, beyond all doubt: so fast a kiln goes, and no wire. Probes that are changed over are as odd."""
ENDED_MS = 20 * 60_000
HEATED_CELSIUS = 8.0
"""A rise so long after the end, by which it is sure that the kiln was heated again."""
GOES_ON_MS = 3 * EACH_MS
"""What is odd again sooner is odd still."""
KNOWN_MS = 45 * 60_000
KNOWN_CELSIUS = 6.0
"""So near each ring is foretold by a model that knows its kiln again, and so long after a turn that is a proof: with
the strengths of other switches it would be wrong by then (chosen)."""
ODD_MS = 6 * 60 * 60_000
"""How long the model may be wrong about a kiln that was given other switches than it was told."""


def departing(view: View) -> tuple[Firing, Doubts]:
    """The firing with its memory of the last hour, and the doubts with a probe that has departed."""
    firing, model = view.firing, view.firing.model
    if model is None:
        return changed(firing, memory=None), view.doubts
    if firing.off:
        return changed(firing, memory=_afterwards(view, model.told)), view.doubts
    if not firing.heating:
        return changed(firing, memory=Memory(told=model.told, odd_ms=view.now_ms)), view.doubts
    memory = _remembering(firing.memory, model.settled.at_ms, model.told)
    if firing.changed_ms != memory.changed_ms:
        odd = memory.odd_ms is not None and view.now_ms - memory.odd_ms < ODD_MS
        memory = changed(memory, changed_ms=firing.changed_ms, left=())
        if odd:
            odd_ms = None if _explained(firing, memory) else view.now_ms
            memory = changed(memory, odd_ms=odd_ms, after_odd_ms=firing.changed_ms)
    written_ms = _written_later_ms(firing)
    if written_ms is not None and written_ms > (memory.after_odd_ms or 0):
        memory = changed(memory, after_odd_ms=written_ms)
    newest = memory.pasts[-1].at_ms if memory.pasts else -PAST_EACH_MS
    if model.settled.at_ms - newest >= PAST_EACH_MS:
        celsius = tuple(round(c, 1) for c in model.settled.celsius)
        logs = tuple(round(x, 4) for x in model.settled.mean[NODES * model.settled.rings :])
        memory = changed(memory, pasts=(*memory.pasts, Past(model.settled.at_ms, celsius, logs)))
    if view.now_ms - memory.judged_ms < EACH_MS:
        return changed(firing, memory=memory), view.doubts
    memory = changed(memory, judged_ms=view.now_ms)
    changed_over = any(one.holds for one in swapped(view))
    if changed_over or _goes_odd(view):
        goes_on = memory.odd_ms is not None and view.now_ms - memory.odd_ms <= GOES_ON_MS
        if not goes_on:
            memory = changed(memory, odd_from_ms=view.now_ms, odd_earlier_ms=memory.odd_ms)
        memory = changed(memory, odd_ms=view.now_ms)
    found = _departures(view, memory)
    apart = _apart(found, len(view.tracks))
    if found and _known_again(firing, memory, apart, view.now_ms):
        memory = changed(memory, odd_ms=None)
        view = changed(view, firing=changed(firing, memory=memory))
    before, memory = memory.apart, changed(memory, apart=tuple(round(x, 1) for x in apart))
    if not found:
        return changed(firing, memory=memory), view.doubts
    memory = changed(memory, left=_left(view, memory, found, apart, before))
    view = changed(view, firing=changed(firing, memory=memory))
    own = max(range(len(apart)), key=lambda i: abs(apart[i]))
    was = before[own] if own < len(before) else 0.0
    lasts = apart[own] * was > 0.0 and _stands_out(apart, own)
    if not lasts or min(abs(apart[own]), abs(was)) < _limit(view, found, own):
        return view.firing, view.doubts
    return doubted(view, own, _last_hour(view, memory).pasts[0].logs, found[own], found[own])


def _stands_out(apart: list[float], own: int) -> bool:
    """Whether no other departs nearly as far: where two do, it is how rings share their heat that the model has wrong.

    One of three that drifts departs twice as far from the others as they do from it.
    """
    return all(STANDS_OUT_TIMES * abs(one) < abs(apart[own]) for i, one in enumerate(apart) if i != own)


def _left(
    view: View, memory: Memory, found: dict[int, float], apart: list[float], before: tuple[float, ...]
) -> tuple[int, ...]:
    """The rings that were left behind at the last turn: those known, but for what has come up since, and the one that
    falls behind now. apart, before: of each probe, now and when it was last judged."""
    left = tuple(i for i in memory.left if apart[i] < DEPARTED_CELSIUS)
    own = min(range(len(apart)), key=apart.__getitem__)
    if (
        own in left
        or view.firing.astray
        or len(before) != len(apart)
        or view.now_ms - view.firing.changed_ms >= WINDOW_MS + SETTLED_MS
    ):
        return left
    far = max(apart[own], before[own]) < -_plain_limit(view, found, own, turned=True)
    return (*left, own) if far and _left_behind(view, memory, found, own) else left


def _goes_odd(view: View) -> bool:
    """Whether a ring goes as no wire does. That one alone gets more than high gives is a wire: there is no more."""
    left = {i: one for i in _seen(view) if (one := view.left_of(i)) is not None}
    more = {i for i, one in left.items() if one.exceeds > ODD_SHARE}
    if len(more) == 1 and len(left) >= LEAST_PROBES:
        more -= {i for i in more if gets_no_more(view, view.firing.kiln.probe_rings[i])}
    return bool(more) or any(one.lacks > ODD_SHARE for one in left.values())


def _known_again(firing: Firing, memory: Memory, apart: list[float], now_ms: int) -> bool:
    """Whether the model, odd before a turn, has foretold every ring from the others well since that turn."""
    turned_since = memory.odd_ms is not None and (memory.odd_from_ms or memory.odd_ms) < firing.changed_ms
    long_since = now_ms - firing.changed_ms >= KNOWN_MS
    return turned_since and long_since and max(map(abs, apart)) < KNOWN_CELSIUS


def _explained(firing: Firing, memory: Memory) -> bool:
    """Whether the kiln was odd for no more than a turn that nobody wrote down, which the curve has shown since."""
    if not firing.concluded or memory.odd_from_ms is None:
        return False
    turn = firing.concluded[-1]
    return turn.seen and turn.at_ms == firing.changed_ms and memory.odd_from_ms >= turn.at_ms - EACH_MS


def _written_later_ms(firing: Firing) -> int | None:
    """When somebody made, by the log, a turn that the curve had been taken to show long before: one of both is wrong,
    and so is what the model has learned since."""
    if not firing.concluded:
        return None
    turn = firing.concluded[-1]
    settings = {firing.kiln.rings[ring].name: turn.switches[ring].value for ring in turn.rings}
    later = turned_by_hand(firing, turn.at_ms + BESIDE_MS + 1)
    return max((w.at_ms for w in later if settings.get(w.entry.subject) == w.entry.value), default=None)


def _afterwards(view: View, told: Told) -> Memory | None:
    """What is remembered while it cools: that it was odd just before, or was heated again, of which the model was told
    nothing."""
    memory, over_ms = view.firing.memory, (view.firing.off_ms or 0) + ENDED_MS
    for i in _seen(view):
        curve = [celsius for _, celsius in since(view.tracks[i].minutes, over_ms)]
        if any(c > coolest + HEATED_CELSIUS for c, coolest in zip(curve, accumulate(curve, min), strict=True)):
            return Memory(told=told, again=True)
    if memory is None or memory.again or memory.odd_before_end:
        return memory
    return Memory(told=told, odd_before_end=True) if _odd_before(memory, view.firing.off_ms or 0) else None


def _odd_before(memory: Memory, off_ms: int) -> bool:
    """Whether the kiln was odd before its end, which is odd itself until it is noticed."""
    first_ms = memory.odd_from_ms
    last_ms = memory.odd_ms if first_ms is not None and first_ms < off_ms - EACH_MS else memory.odd_earlier_ms
    return last_ms is not None and off_ms - last_ms < ODD_MS


def _seen(view: View) -> list[int]:
    return [i for i, fit in enumerate(view.fit) if fit]


def _remembering(memory: Memory | None, at_ms: int, told: Told) -> Memory:
    """The memory with what the kiln has been told since, and nothing older than it needs."""
    if memory is None:
        return Memory(told=told)
    known = joined(memory.told, told, at_ms)
    return changed(memory, told=known).since(at_ms - KEPT_MS)


def _last_hour(view: View, memory: Memory) -> Memory:
    """Nothing of it that is older than an hour, as the model counts."""
    return memory if view.firing.model is None else memory.since(view.firing.model.settled.at_ms - WINDOW_MS)


def _departures(view: View, memory: Memory) -> dict[int, float]:
    """Each trusted probe's departure since [degC]; {} where too little is known."""
    seen, memory = _seen(view), _last_hour(view, memory)
    to_ms = whole_minute_ms(view.now_ms)
    if not memory.pasts or len(seen) < LEAST_PROBES or len(seen) < len(view.fit):
        return {}
    past = memory.pasts[0]
    rings = view.firing.kiln.probe_rings
    if any(outside.shares[ring] == 0.0 for _, outside in memory.told for ring in rings):
        return {}  # what a ring does that was off is not known yet
    if to_ms - past.at_ms < WINDOW_MS - EACH_MS or min(view.tracks[i].celsius or 0.0 for i in seen) < LEAST_CELSIUS:
        return {}
    found = {i: one for i in seen if (one := _departure(view, memory, past, i, to_ms)) is not None}
    return found if len(found) == len(seen) else {}


def _departure(view: View, memory: Memory, past: Past, free: int, to_ms: int) -> float | None:
    rings, heat = view.firing.kiln.probe_rings, heat_of(past.logs)
    first, last = (at_minute(view.tracks[free].minutes, t) for t in (past.at_ms, to_ms))
    if first is None or last is None:
        return None
    celsius, at_ms = list(past.celsius), past.at_ms
    celsius[NODES * rings[free]] = first
    while at_ms < to_ms:
        until_ms = min(at_ms + EACH_MS, to_ms)
        celsius = moved(heat, celsius, held(memory.told, until_ms), (until_ms - at_ms) / 3_600_000)
        at_ms = until_ms
        for ring, reading in seen_at(view, at_ms, but=free).items():
            celsius[NODES * ring] = reading
    return last - celsius[NODES * rings[free]]


def _apart(found: dict[int, float], probes: int) -> list[float]:
    """Each departure against the others'."""
    if not found:
        return [0.0] * probes
    return [found[i] - median(d for j, d in found.items() if j != i) for i in range(probes)]


def _limit(view: View, found: dict[int, float], own: int) -> float:
    """What may part this probe from the others and be no drift [degC]; without end where it is the kiln's doing."""
    firing, rings = view.firing, view.firing.kiln.probe_rings
    memory = firing.memory
    turned = view.now_ms - firing.changed_ms < WINDOW_MS + SETTLED_MS
    if firing.astray or any(firing.lacked[own : own + 1]):
        return float("inf")  # of a ring that surely gets less, what it reads says nothing of its wire
    if memory is not None and memory.odd_ms is not None and view.now_ms - memory.odd_ms < ODD_MS:
        return float("inf")
    beside = [found[j] for j in found if abs(rings[j] - rings[own]) == 1]
    felt = -mean(beside) * (1.0 if found[own] > 0.0 else -1.0) if beside else 0.0
    if (
        beside
        and felt < NEIGHBOURS_SHARE * abs(found[own])
        and not (found[own] > 0.0 and gets_no_more(view, rings[own]))
    ):
        return float("inf")
    if turned and (not beside or _left_behind(view, memory, found, own)):
        return float("inf")
    if found[own] < 0.0 and memory is not None and own in memory.left:
        return float("inf")
    return _plain_limit(view, found, own, turned=turned)


def _plain_limit(view: View, found: dict[int, float], own: int, *, turned: bool) -> float:
    """What may part a probe from the others where nothing is known against it [degC]. turned: not long ago."""
    unseen = len(view.firing.kiln.rings) - len(view.firing.kiln.probe_rings)
    common = abs(median(found.values()))
    limit = DEPARTED_CELSIUS + FAR_RING_CELSIUS * unseen + TURNED_CELSIUS * turned + SHARED_FAULT * common
    return limit + RISE_SHARE * max(_rise(view, own) - PLAIN_RISE_CELSIUS, 0.0)


def gets_no_more(view: View, ring: int) -> bool:
    """Whether a ring cannot be hotter than the model has it: no switch stands higher than high, and clay is done."""
    coolest = min(view.tracks[i].celsius or 0.0 for i in _seen(view))
    return view.firing.switches[ring] is Switch.HIGH and coolest > CLAY_DONE_CELSIUS


def _rise(view: View, probe: int) -> float:
    """How far this ring has climbed since the memory begins [degC], by its probe."""
    memory, track = view.firing.memory, view.tracks[probe]
    pasts = () if memory is None else _last_hour(view, memory).pasts
    before = at_minute(track.minutes, pasts[0].at_ms) if pasts else None
    return 0.0 if before is None or track.celsius is None else track.celsius - before


def _left_behind(view: View, memory: Memory | None, found: dict[int, float], own: int) -> bool:
    """Whether it does what its ring would, had that not been turned with the others: then it is a switch or a fuse."""
    if memory is None or not memory.pasts:
        return False
    memory = _last_hour(view, memory)
    past, ring = memory.pasts[0], view.firing.kiln.probe_rings[own]
    kept = memory.told[0][1].shares[ring]
    told = tuple((t, with_share(outside, ring, kept)) for t, outside in memory.told)
    if told == memory.told:
        return False
    departure = _departure(view, replace(memory, told=told), past, own, whole_minute_ms(view.now_ms))
    return departure is not None and abs(departure) < LEFT_BEHIND_SHARE * abs(found[own])


def doubted(
    view: View, own: int, logs: tuple[float, ...], departure: float, settled_departure: float
) -> tuple[Firing, Doubts]:
    """With this probe no longer believed, which is off by so much [degC], and was by so much when the kiln model last
    took it in. logs: of the parameters before it went wrong: the model forgets what it taught since."""
    firing = view.firing
    model = firing.model
    assert model is not None
    rightly = (view.tracks[own].celsius or 0.0) - departure
    beside = [view.tracks[i].celsius or 0.0 for i in _seen(view) if i != own]
    others = mean(beside) if beside else rightly
    settled = model.settled
    nodes, ring = NODES * settled.rings, firing.kiln.probe_rings[own]
    mean_ = list(settled.mean[:nodes]) + list(logs)
    mean_[NODES * ring] -= settled_departure
    level = mean(firing.apart)
    apart = tuple(rightly - others + level if i == own else a for i, a in enumerate(firing.apart))
    firing = replace(
        firing,
        memory=Memory(told=model.told, changed_ms=firing.changed_ms),
        apart=apart,
        model=replace(model, settled=replace(settled, mean=tuple(mean_))),
    )
    doubt = Doubt(
        Reason.DOUBTFUL,
        view.now_ms,
        rightly,
        beside=rightly - others if beside else None,
        alone=None if beside else departure,
    )
    return firing, tuple(doubt if i == own else d for i, d in enumerate(view.doubts))
