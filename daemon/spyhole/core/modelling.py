"""The firing's kiln model, kept up with what the trusted probes say, and the turns that it shows.

What is settled trails the clock by ten minutes and more. The minutes since are lived through anew each time, so that a
turn written down late, a trip noticed late or a probe found out late never taught the model anything false.
"""

from dataclasses import replace
from math import inf

from spyhole.core.element_share import shares
from spyhole.core.entry import EntryKind
from spyhole.core.firing import Firing
from spyhole.core.foresight import sensitivity
from spyhole.core.kiln import Switch
from spyhole.core.last_minutes import TRAILS_MS, beyond, path, run, spans, start_at, what_is_left
from spyhole.core.measured import Measured, measure
from spyhole.core.plan import Plugs
from spyhole.core.thermal.belief import (
    QUICK_DRIFT,
    SHARED_DRIFT,
    Belief,
    let_go,
    predict,
    see,
)
from spyhole.core.thermal.model import Model, Told, held, whole_minute_ms
from spyhole.core.thermal.physics import NODES, SHARED, Outside
from spyhole.core.thermal.prior import OPENING, bounds, disbelieved, outside_of, recalled, taught, with_lid
from spyhole.core.turns import (
    Rise,
    Turn,
    Weighed,
    at_minute,
    candidates,
    gain,
    likeliest,
    needed,
    seen_at,
    turned,
    with_turn,
)
from spyhole.core.view import View

READING_CELSIUS = 1.5
READING_SHARE = 0.002
"""How far a probe strays from its ring's node: noise and drafts, which last for minutes (chosen)."""
EACH_MS = 5 * 60_000
"""How often the model takes readings in; a turn is taken in at once."""
SLOW_MS = 10 * 60_000
"""The same while candling, and after the first hour of cooling: nothing happens fast."""
MINUTE_MS = 60_000
HOUR_MS = 3_600_000
BEND_MS = 3 * MINUTE_MS
"""A turn younger than this has not bent the curve yet."""
SCALES = (0.5, 2.0)
"""How much less or more than expected a turn may do, where it is asked when it was made (chosen)."""
BEYOND_HIGH = 0.05
"""Of full watts, beyond all doubt, that every ring gets more than high gives (chosen)."""
OPEN = 0.3
"""Deviation of the watts' logarithm from which on the model is open to anything (chosen)."""
FELT_MS = 20 * 60_000
"""How often the forecast's sensitivity to each parameter is worked out."""
QUICK_CELSIUS = 600.0
"""Within so much of the cone the belief that may wander more is kept beside the settled one (chosen)."""
QUICK_PART = 0.5
"""What that belief counts for beside the settled one, where something is foretold: it follows the last bend of the
curve too willingly, the settled one follows it too late. Half an hour before the cone the one was 3 degC too low by
then and the other 2 too high, on six firings of another hand's kilns, and between them they were right; on 75 of the
proving ground it makes no difference (measured)."""
LATELY_CELSIUS = 300.0
LATELY_OFF_MS = 4 * HOUR_MS
"""Within so much of the cone, and so long after heating ended, the last minutes are worth taking in (chosen)."""
LEAST_CELSIUS = 600.0
"""A firing that ended below this says little of its elements (chosen)."""


def outside_now(firing: Firing) -> Outside:
    """Switches, draughts and room as they are believed to be."""
    kiln = firing.kiln
    outside = outside_of(kiln, firing.plan, firing.now_stage, firing.switches, firing.room_celsius)
    vents = list(outside.vents)
    lid = "closed"
    for one in firing.written:
        entry = one.entry
        if one.undone:
            continue
        if entry.kind is EntryKind.PLUGS:
            for ring, _ in enumerate(vents):
                if entry.subject in ("", kiln.rings[ring].name):
                    vents[ring] = OPENING[Plugs(entry.value)]
        elif entry.kind is EntryKind.LID:
            lid = entry.value
    if firing.off or not firing.heating:
        outside = Outside((0.0,) * len(vents), tuple(vents), firing.room_celsius)
    return with_lid(replace(outside, vents=tuple(vents)), lid)


def _outside_after(firing: Firing, turn: Turn) -> Outside:
    """Whoever turns to a stage of the plan sees to its plugs too, unless something else is written down."""
    return outside_now(replace(firing, stage=turn.stage, switches=turn.switches))


def follow(view: View) -> Firing:
    """The firing with its model brought to the last whole minute."""
    firing, model = view.firing, view.firing.model
    to_ms = whole_minute_ms(view.now_ms)
    outside = outside_now(firing)
    if model is None:
        return _begin(view, outside, to_ms)
    told = model.told
    if outside != told[-1][1]:
        told = _tell(told, _changed_ms(firing, view.now_ms), outside)
    elif firing.off and firing.off_ms is not None and len(told) > 1 and told[-1][0] > firing.off_ms:
        # Its end turned out to have come before it was written down.
        told = _tell(told, firing.off_ms, outside)
    elif to_ms - model.at_ms < EACH_MS:
        return firing
    firing = replace(firing, model=_live(view, replace(model, told=told), to_ms))
    return _feel(replace(view, firing=_judge_turns(replace(view, firing=firing), to_ms)))


def elements_of(firing: Firing) -> Measured | None:
    """How strong the elements were, once heating has ended; None where the model saw too little of it."""
    if firing.model is None or max(firing.peaks) < LEAST_CELSIUS:
        return None
    return replace(measure(firing.id, firing.kiln.probe_rings, firing.model.settled), shares=shares(firing.got))


def _feel(view: View) -> Firing:
    """The firing with the sensitivity of its forecast brought up to date, now and then."""
    firing, model = view.firing, view.firing.model
    if model is None or view.now_ms - model.felt_ms < FELT_MS:
        return firing
    return replace(firing, model=replace(model, sensitivity=sensitivity(view), felt_ms=view.now_ms))


def _judge_turns(view: View, to_ms: int) -> Firing:
    """The firing after whatever turn the last minutes show against what is believed."""
    firing, model = view.firing, view.firing.model
    assert model is not None
    from_ms = model.settled.at_ms
    found = weigh(view, candidates(view, from_ms, to_ms), to_ms)
    better, best, told = likeliest(view, found) or (0.0, None, model.told)
    if best is None or better <= needed(view, best):
        return _judge_kiln(view, to_ms)
    best, told = _timed(view, best, to_ms)
    firing = turned(firing, best)
    return replace(firing, model=_live(view, replace(model, told=told), to_ms))


def _judge_kiln(view: View, to_ms: int) -> Firing:
    """The firing whose kiln is strong as it was not before: on high, by turns that nobody wrote down, it gets more than
    high gives. So it was not on high until now, and what it was believed to be was learned of lower switches."""
    firing, model = view.firing, view.firing.model
    assert model is not None
    full = NODES * model.settled.rings
    on_high = all(switch is Switch.HIGH for switch in firing.switches)
    if not on_high or any(firing.sure) or model.settled.deviation(full) > OPEN:
        return firing
    seen = [one for ring, one in enumerate(what_is_left(view)) if one.share is not None]
    if not seen or any(one.exceeds < BEYOND_HIGH for one in seen):
        return firing
    return replace(firing, model=_live(view, replace(model, settled=disbelieved(firing.kiln, model.settled)), to_ms))


def weigh(view: View, turns: tuple[Turn, ...], to_ms: int) -> list[Weighed]:
    """By how much each of these fits the last minutes better than what is believed, and what the kiln was told then."""
    firing, model = view.firing, view.firing.model
    if model is None or not turns or to_ms - model.settled.at_ms < TRAILS_MS:
        return []
    from_ms = model.settled.at_ms
    start, seen = start_at(view, from_ms, to_ms)
    if not seen:
        return []
    lacking = {ring for ring, at in zip(firing.kiln.probe_rings, firing.lacked, strict=False) if at is not None}
    # A ring that gets less than its switch gives says nothing of its switch, while there are others.
    witnesses = {ring: rise for ring, rise in seen.items() if ring not in lacking} or seen
    heat, hours = model.settled.heat, (to_ms - from_ms) / HOUR_MS
    as_told = run(heat, start, model.told, from_ms, to_ms)
    shares = model.told[-1][1].shares
    deviation = model.settled.deviation(NODES * model.settled.rings)
    found = []
    for turn in turns:
        told = with_turn(model.told, turn, _outside_after(firing, turn))
        celsius = run(heat, start, told, from_ms, to_ms)
        rises = []
        for ring, rise in witnesses.items():
            n = NODES * ring
            given = heat.full * heat.strength[ring] * hours * max(shares[ring], 0.1)
            own = model.settled.deviation(NODES * model.settled.rings + SHARED + ring)
            rises.append(Rise(rise, as_told[n] - start[n], celsius[n] - start[n], given, own))
        found.append((gain(rises, deviation), turn, told))
    return found


def _timed(view: View, turn: Turn, to_ms: int) -> tuple[Turn, Told]:
    """The same turn at the minute that fits the bend of the curve best, whether it does more or less than expected.

    How far a ring has risen says that it was turned; only its minutes say when.
    """
    firing, model = view.firing, view.firing.model
    assert model is not None
    settled, after = model.settled, _outside_after(firing, turn)
    start, _ = start_at(view, settled.at_ms, to_ms)
    minutes = range(settled.at_ms + MINUTE_MS, to_ms + 1, MINUTE_MS)
    as_told = path(settled.heat, start, model.told, settled.at_ms, minutes)
    best = turn, with_turn(model.told, turn, after)
    readings = [
        (number, ring, celsius)
        for probe, ring in enumerate(firing.kiln.probe_rings)
        if view.fit[probe]
        for number, minute in enumerate(minutes)
        if (celsius := at_minute(view.tracks[probe].minutes, minute)) is not None
    ]
    least = inf
    for from_ms in range(settled.at_ms, to_ms - BEND_MS, MINUTE_MS):
        one = replace(turn, from_ms=from_ms)
        told = with_turn(model.told, one, after)
        more = path(settled.heat, start, told, settled.at_ms, minutes)
        pairs = [(more[i][ring] - as_told[i][ring], celsius - as_told[i][ring]) for i, ring, celsius in readings]
        square = sum(x * x for x, _ in pairs)
        scale = min(max(sum(x * y for x, y in pairs) / square, SCALES[0]), SCALES[1]) if square > 0.0 else 1.0
        off = sum((y - scale * x) ** 2 for x, y in pairs)
        if off < least:
            least, best = off, (one, told)
    return best


def _changed_ms(firing: Firing, now_ms: int) -> int:
    """When what changed last did so, if that is known and not long ago."""
    known = [ms for ms in (firing.turned_ms, firing.stage_ms, firing.off_ms) if ms is not None]
    return max((ms for ms in known if now_ms - TRAILS_MS <= ms <= now_ms), default=now_ms)


def _tell(told: Told, at_ms: int, outside: Outside) -> Told:
    """What is told from then on replaces what was."""
    return (*(t for i, t in enumerate(told) if i == 0 or t[0] < at_ms), (at_ms, outside))


def _begin(view: View, outside: Outside, to_ms: int) -> Firing:
    firing = view.firing
    known = [c for c in view.celsius if c is not None]
    if not known:
        return firing
    celsius = [sum(known) / len(known)] * len(firing.kiln.rings)
    for probe, ring in enumerate(firing.kiln.probe_rings):
        here = view.celsius[probe]
        celsius[ring] = celsius[ring] if here is None else here
    belief = taught(firing.kiln, firing.plan, firing.pack.firing.end_60_celsius, tuple(celsius), to_ms)
    if firing.learned.model:
        belief = recalled(firing.kiln, belief, firing.learned.model)
    return replace(firing, model=Model(belief, to_ms, tuple(belief.celsius), ((to_ms, outside),)))


def _live(view: View, model: Model, to_ms: int) -> Model:
    """What is settled goes on to a quarter of an hour ago, and from there to now."""
    settled, told, firing = model.settled, model.told, view.firing
    quick = _quick(view, model)
    slow = firing.candling or (firing.off and view.now_ms - (firing.off_ms or 0) > HOUR_MS)
    each_ms = SLOW_MS if slow else EACH_MS
    while to_ms - settled.at_ms >= TRAILS_MS + each_ms:
        until_ms = settled.at_ms + each_ms
        settled = _step(view, settled, told, until_ms)
        quick = None if quick is None else _step(view, quick, told, until_ms, QUICK_DRIFT)
    while len(told) > 1 and told[1][0] <= settled.at_ms:
        told = told[1:]
    celsius, at_ms = settled.celsius, settled.at_ms
    while at_ms < to_ms:
        until_ms = min(at_ms + EACH_MS, to_ms)
        celsius = run(settled.heat, celsius, told, at_ms, until_ms)
        at_ms = until_ms
        for ring, reading in seen_at(view, at_ms).items():
            celsius[NODES * ring] = reading
    lived, lately = tuple(round(c, 3) for c in celsius), _lately(view, settled, quick, told, to_ms)
    model = replace(model, settled=settled, quick=quick, at_ms=at_ms, celsius=lived, told=told, lately=lately)
    return replace(model, beyond=beyond(replace(view, firing=replace(view.firing, model=model)), to_ms))


def _quick(view: View, model: Model) -> Belief | None:
    """What is to be stepped beside the settled belief; it begins as that one, and ends with the heating."""
    firing = view.firing
    if firing.off or max(firing.peaks) < firing.pack.firing.end_60_celsius - QUICK_CELSIUS:
        return None
    return model.settled if model.quick is None or model.quick.at_ms != model.settled.at_ms else model.quick


def _lately(view: View, settled: Belief, quick: Belief | None, told: Told, to_ms: int) -> tuple[float, ...]:
    """The parameters to foretell with, with the last minutes taken in where something is near; () for the settled."""
    firing, belief, drift = view.firing, settled, SHARED_DRIFT
    if firing.off:
        if view.now_ms - (firing.off_ms or 0) > LATELY_OFF_MS:
            return ()
    elif quick is None:
        return ()
    else:
        belief, drift = quick, QUICK_DRIFT
        if max(firing.peaks) < firing.pack.firing.end_60_celsius - LATELY_CELSIUS:
            to_ms = belief.at_ms
    while belief.at_ms < to_ms:
        belief = _step(view, belief, told, min(belief.at_ms + EACH_MS, to_ms), drift)
    own, kept = (one.mean[NODES * one.rings :] for one in (belief, settled))
    part = 1.0 if firing.off else QUICK_PART
    return tuple(part * a + (1.0 - part) * b for a, b in zip(own, kept, strict=True))


def _step(view: View, belief: Belief, told: Told, to_ms: int, losses_drift: float = SHARED_DRIFT) -> Belief:
    lit = any(held(told, belief.at_ms).shares)
    for end, outside in spans(told, belief.at_ms, to_ms):
        if lit and not any(outside.shares):
            belief = let_go(belief, bounds(view.firing.kiln))
        lit = any(outside.shares)
        belief = predict(belief, end, outside, losses_drift)
    for ring, reading in seen_at(view, to_ms).items():
        deviation = READING_CELSIUS + READING_SHARE * abs(reading)
        belief = see(belief, ring, reading, deviation, bounds(view.firing.kiln))
    return belief
