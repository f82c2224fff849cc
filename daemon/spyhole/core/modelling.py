"""The firing's kiln model, kept up with what the trusted probes say, and the turns that it shows.

What is settled trails the clock by ten minutes and more. The minutes since are lived through anew each time, so that a
turn written down late, a trip noticed late or a probe found out late never taught the model anything false.
"""

from dataclasses import replace

from spyhole.core.curve.climb import Minute
from spyhole.core.entry import EntryKind
from spyhole.core.firing import Firing
from spyhole.core.plan import Plugs
from spyhole.core.thermal.belief import Belief, moved, predict, see
from spyhole.core.thermal.model import Model, Told
from spyhole.core.thermal.physics import NODES, Heat, Outside, capacity
from spyhole.core.thermal.prior import DRAUGHT, bounds, outside_of, taught
from spyhole.core.thermal.residual import CLIMB_DEVIATION, Residual
from spyhole.core.view import View

READING_CELSIUS = 1.5
READING_SHARE = 0.002
"""How far a probe strays from its ring's node: noise and drafts, which last for minutes (chosen)."""
EACH_MS = 5 * 60_000
"""How often the model takes readings in; a turn is taken in at once."""
SLOW_MS = 10 * 60_000
"""The same while candling, and after the first hour of cooling: nothing happens fast."""
TRAILS_MS = 10 * 60_000
LID = {"closed": 0.0, "cracked": 0.15, "propped": 0.35, "open": 1.0}
LID_SHARE = (0.6, 0.25, 0.15)
"""What an open lid carries off [1/h at full buoyancy], and from which ring, the top one first (chosen, no source)."""

HOUR_MS = 3_600_000


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
                    vents[ring] = DRAUGHT[Plugs(entry.value)]
        elif entry.kind is EntryKind.LID:
            lid = entry.value
    for share, ring in zip(LID_SHARE, reversed(range(len(vents))), strict=False):
        vents[ring] += share * LID.get(lid, 0.0)
    if firing.off or not firing.heating:
        return Outside((0.0,) * len(vents), tuple(vents), firing.room_celsius)
    return replace(outside, vents=tuple(vents))


def follow(view: View) -> Firing:
    """The firing with its model brought to the last whole minute."""
    firing, model = view.firing, view.firing.model
    to_ms = view.now_ms // 60_000 * 60_000 - 30_000
    outside = outside_now(firing)
    if model is None:
        return _begin(view, outside, to_ms)
    told = model.told
    if outside != told[-1][1]:
        told = _tell(told, _changed_ms(firing, view.now_ms), outside)
    elif to_ms - model.at_ms < EACH_MS:
        return firing
    return replace(firing, model=_live(view, replace(model, told=told), to_ms))


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
    return replace(firing, model=Model(belief, to_ms, tuple(belief.celsius), ((to_ms, outside),)))


def _live(view: View, model: Model, to_ms: int) -> Model:
    """What is settled goes on to a quarter of an hour ago, and from there to now."""
    settled, told, firing = model.settled, model.told, view.firing
    slow = firing.candling or (firing.off and view.now_ms - (firing.off_ms or 0) > HOUR_MS)
    each_ms = SLOW_MS if slow else EACH_MS
    while to_ms - settled.at_ms >= TRAILS_MS + each_ms:
        settled = _step(view, settled, told, settled.at_ms + each_ms)
    while len(told) > 1 and told[1][0] <= settled.at_ms:
        told = told[1:]
    celsius, at_ms = settled.celsius, settled.at_ms
    while at_ms < to_ms:
        until_ms = min(at_ms + EACH_MS, to_ms)
        celsius = _run(settled.heat, celsius, told, at_ms, until_ms)
        at_ms = until_ms
        for probe, ring in enumerate(view.firing.kiln.probe_rings):
            reading = _at(view.tracks[probe].minutes, at_ms) if view.fit[probe] else None
            celsius[NODES * ring] = celsius[NODES * ring] if reading is None else reading
    return Model(settled, at_ms, tuple(round(c, 3) for c in celsius), told)


def _spans(told: Told, from_ms: int, to_ms: int) -> list[tuple[int, Outside]]:
    """What held between the two, each until when."""
    cuts = [t for t, _ in told[1:] if from_ms < t < to_ms]
    found = []
    for end in (*cuts, to_ms):
        held = told[0][1]
        for t, outside in told[1:]:
            if t < end:
                held = outside
        found.append((end, held))
    return found


def _step(view: View, belief: Belief, told: Told, to_ms: int) -> Belief:
    for end, outside in _spans(told, belief.at_ms, to_ms):
        belief = predict(belief, end, outside)
    for probe, ring in enumerate(view.firing.kiln.probe_rings):
        reading = _at(view.tracks[probe].minutes, to_ms) if view.fit[probe] else None
        if reading is not None:
            deviation = READING_CELSIUS + READING_SHARE * abs(reading)
            belief = see(belief, ring, reading, deviation, bounds(view.firing.kiln))
    return belief


def _at(points: tuple[Minute, ...], at_ms: int) -> float | None:
    """The minute of a probe at this time."""
    for at, celsius in reversed(points):
        if at <= at_ms:
            return celsius if at == at_ms else None
    return None


def what_is_left(view: View) -> tuple[Residual, ...]:
    """Each ring against the model over the last quarter of an hour, bottom first; nothing before the model stands."""
    firing, model = view.firing, view.firing.model
    if model is None:
        return ()
    settled, rings = model.settled, len(firing.kiln.rings)
    celsius, before = settled.celsius, list(settled.celsius)
    seen: list[float | None] = [None] * rings
    to_ms = view.now_ms // 60_000 * 60_000 - 30_000
    for probe, ring in enumerate(firing.kiln.probe_rings):
        first, last = (_at(view.tracks[probe].minutes, t) for t in (settled.at_ms, to_ms))
        if view.fit[probe] and first is not None and last is not None:
            celsius[NODES * ring] = before[NODES * ring] = first
            seen[ring] = last - first
    hours = max(to_ms - settled.at_ms, 60_000) / 3_600_000
    celsius = _run(settled.heat, celsius, model.told, settled.at_ms, to_ms)
    heat, nodes = settled.heat, NODES * rings
    found = []
    for ring in range(rings):
        n = NODES * ring
        expected, rise = celsius[n] - before[n], seen[ring]
        outside = model.told[-1][1]
        full = heat.full * heat.strength[ring] / capacity(celsius[n], outside)
        unsure = max(outside.shares[ring], 0.1) * settled.deviation(nodes)
        found.append(
            Residual(
                celsius[n],
                settled.deviation(n),
                expected / hours,
                None if rise is None or hours < 0.15 else (rise - expected) / hours / full,
                float(((CLIMB_DEVIATION / full) ** 2 + unsure**2) ** 0.5),
            )
        )
    return tuple(found)


def _run(heat: Heat, celsius: list[float], told: Told, from_ms: int, to_ms: int) -> list[float]:
    for end, outside in _spans(told, from_ms, to_ms):
        celsius = moved(heat, celsius, outside, (end - from_ms) / 3_600_000)
        from_ms = end
    return celsius
