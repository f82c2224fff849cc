"""What is believed of a kiln before it is lit: common practice, then its last good firing as the plan tells it."""

from dataclasses import replace
from functools import lru_cache
from math import log, pi

from spyhole.core.kiln import Kiln, Switch
from spyhole.core.learned import Belief as Learned
from spyhole.core.plan import Plan, Plugs, Stage, Ware
from spyhole.core.thermal.belief import FURTHEST, Belief, Bounds, predict, see, square, triangle
from spyhole.core.thermal.physics import FILM, NAMES, NODES, Outside

FULL = (550.0, 0.5)
"""3 kW on 20 kJ/K of ware, shelves and hot face; kilns differ by half (common practice, no source)."""
WALL = (0.42, 0.3)
"""A kiln that is built for 1300 degC loses about two fifths of its watts through its bricks at 1000."""
LEAK = (0.07, 0.6)
"""Some 14 cm2 a ring of peepholes, seams and lid's rim, at 149 kW/m2 (Stefan and Boltzmann at 1000 degC). How many is
chosen: with more the kiln was thought to slow down near the top as it did not, and the cone came 6 min before it was
foretold two hours ahead (measured on 57 firings of the proving ground)."""
LEAKS_AT_MOST = 2.7
"""Against that, by holes that anybody would have closed: what leaves a kiln faster than its model has it, as when the
heat ends, is no radiation through holes, which would leave next to nothing to go later on (chosen)."""
PACE = (0.18, 0.42)
"""65 to 115 mm of insulating brick: 0.19 W/mK hot, 520 kg/m3, 1050 J/kgK (typical values, from memory), lid and floor
thicker than the wall."""
PACE_BEYOND = (0.3, 0.22)
"""Of its deviation, what stays once the wall's loss is known: brick that lets less through is thicker or denser, so it
is slower too. The latter where the keeper gave the chamber's sizes (measured on kilns of the proving ground)."""
BRICK = 580e3
"""What a wall holds [J/m3K], cold: 520 kg/m3 at 0.85 kJ/kgK, and a third more in thicker lid and floor and in what
stands against it (the first from memory, the rest measured on kilns of the proving ground)."""
GROWTH = (2.1, 0.15)
"""Makers' tables have such brick conduct half as well again or twice as well hot; old and light ones more. Both are
chosen, the latter tighter than bricks differ, for what four nodes get wrong of heating looks like it: 100 degC four
hours after the end was foretold 0.91 h off before and 0.85 since, on 80 firings of the proving ground, and 0.84 and
0.75 on 58 others."""
EXCHANGE = (2.5, 0.7)
DRAUGHT = (0.45, 0.7)
"""2 to 3 W/K a ring through two open plug holes, by buoyancy (chosen, no source)."""
STRENGTH = 0.12
"""A ring's watts, its place and its load against the mean ring's (chosen, no source)."""
SHARED_PRIORS = (FULL, WALL, LEAK, PACE, GROWTH, EXCHANGE, DRAUGHT)
ROOM_DEVIATION = 3.0
LAST_FIRING_CELSIUS = 40.0
"""How alike two firings end a stage, load and keeper differing, all rings together (common practice, no source)."""
ANOTHER_LOAD = 0.15
ANOTHER_DAY = 0.06
"""How far a parameter moves from one firing of a kiln to the next: what is told per ware goes with the load, what
belongs to the kiln alone with mains, weather and age (common practice, no source)."""
STEAM = {Ware.BISQUE: 40.0}
CLAY = {Ware.BISQUE: 110.0}
"""Greenware: 6 % of free water and 5 % in the clay, at 0.6 MJ a kg of kaolin for the latter (from memory), on ware that
is half of what is heated [degC's worth]."""
OPENING = {Plugs.OUT: 1.0, Plugs.HALF: 0.15, Plugs.IN: 0.0}
"""Against plugs that are out: half in, they are loose cones (chosen, no source)."""
LID = {"cracked": 0.4, "propped": 1.0, "open": 3.0}
LID_SHARE = (0.6, 0.25, 0.15)
"""An open lid against open plugs, and from which ring it draws, the top one first (chosen, no source)."""


def with_lid(outside: Outside, lid: str) -> Outside:
    """The same with the lid as it is: closed, cracked, propped, open."""
    opening = LID.get(lid, 0.0)
    if opening == 0.0:
        return outside
    vents = list(outside.vents)
    for share, ring in zip(LID_SHARE, reversed(range(len(vents))), strict=False):
        vents[ring] += share * opening
    return replace(outside, vents=tuple(vents))


def outside_of(kiln: Kiln, plan: Plan, stage: Stage, switches: tuple[Switch, ...], room_celsius: float) -> Outside:
    """A stage of a plan as the model is told it."""
    opening = OPENING[stage.plugs or Plugs.IN]
    return Outside(
        tuple(kiln.switch.of(s) for s in switches),
        (opening,) * len(kiln.rings),
        room_celsius,
        STEAM.get(plan.ware, 5.0),
        CLAY.get(plan.ware, 0.0),
    )


def _parameters(kiln: Kiln) -> tuple[list[float], list[float]]:
    """Logarithms of the parameters, and their deviations."""
    mean_watts = sum(r.watts for r in kiln.rings) / len(kiln.rings) or 1.0
    logs = [log(v) for v, _ in SHARED_PRIORS] + [log(max(r.watts, 1.0) / mean_watts) for r in kiln.rings]
    logs[NAMES.index("pace")] = log(_pace(kiln))
    return logs, [d for _, d in SHARED_PRIORS] + [STRENGTH] * len(kiln.rings)


def _pace(kiln: Kiln) -> float:
    """Conductance of the wall against what it holds [1/h], at a typical loss."""
    chamber, rings = kiln.chamber, len(kiln.rings)
    watts = sum(ring.watts for ring in kiln.rings) / rings
    if chamber is None or watts < 1.0:
        return PACE[0]
    thick = chamber.wall_millimetres / 1000.0
    wide, high = chamber.inside_diameter_millimetres / 1000.0 + thick, chamber.ring_height_millimetres / 1000.0
    area = pi * wide * high + pi * wide * wide / 2.0 / rings
    return WALL[0] * (1.0 + FILM) * watts / 980.0 * 3600.0 / (BRICK * thick * area)


@lru_cache(maxsize=8)
def bounds(kiln: Kiln) -> Bounds:
    """Between which each parameter's logarithm stays, whatever is seen: beyond them it is no kiln."""
    found = [(m - FURTHEST * d, m + FURTHEST * d) for m, d in zip(*_parameters(kiln), strict=True)]
    leak = NAMES.index("leak")
    found[leak] = found[leak][0], log(LEAK[0] * LEAKS_AT_MOST)
    return tuple(found)


def prior(kiln: Kiln, celsius: tuple[float, ...], at_ms: int) -> Belief:
    """Before anything is known of this kiln; celsius: each ring's at the start."""
    logs, own = _parameters(kiln)
    nodes = [c for one in celsius for c in (one,) * NODES]
    deviations = [ROOM_DEVIATION] * len(nodes) + own
    size = len(deviations)
    whole = [[deviations[i] ** 2 if i == j else 0.0 for j in range(size)] for i in range(size)]
    wall, pace = (len(nodes) + NAMES.index(name) for name in ("wall", "pace"))
    whole[wall][pace] = whole[pace][wall] = WALL[1] ** 2
    whole[pace][pace] = WALL[1] ** 2 + PACE_BEYOND[kiln.chamber is not None] ** 2
    return Belief(at_ms, len(kiln.rings), (*nodes, *logs), triangle(whole))


def disbelieved(kiln: Kiln, belief: Belief) -> Belief:
    """The belief where what taught its parameters was taken for something else: they are as open as before lighting."""
    nodes, whole = NODES * belief.rings, square(belief.spread)
    open_ = square(prior(kiln, (0.0,) * belief.rings, belief.at_ms).spread)
    for i, row in enumerate(whole):
        for j in range(len(row)):
            if max(i, j) >= nodes:
                row[j] = open_[i][j]
    return replace(belief, spread=triangle(whole))


OF_THE_LOAD = ("full", "exchange", "draught")


def moves(name: str) -> float:
    """How far the logarithm of this parameter moves from one firing to the next."""
    return ANOTHER_LOAD if name in OF_THE_LOAD else ANOTHER_DAY


def lessons(kiln: Kiln, belief: Belief) -> tuple[tuple[str, Learned], ...]:
    """A good firing's parameters by name, as logarithms with deviations, for `core.learned.Learned.model`."""
    names = (*NAMES, *(f"strength {r.name}" for r in kiln.rings))
    n = NODES * belief.rings
    return tuple((name, Learned(belief.mean[n + i], belief.deviation(n + i))) for i, name in enumerate(names))


def recalled(kiln: Kiln, belief: Belief, model: tuple[tuple[str, Learned], ...]) -> Belief:
    """The belief with what earlier firings of this kiln taught; another load and another day may move it."""
    known, whole, mean = dict(model), square(belief.spread), list(belief.mean)
    n = NODES * belief.rings
    for i, name in enumerate((*NAMES, *(f"strength {r.name}" for r in kiln.rings)), n):
        if name in known:
            mean[i] = known[name].value
            for j in range(len(mean)):
                whole[i][j] = whole[j][i] = 0.0
            whole[i][i] = known[name].deviation ** 2 + moves(name) ** 2
    return replace(belief, mean=tuple(mean), spread=triangle(whole))


def taught(kiln: Kiln, plan: Plan, end_celsius: float, celsius: tuple[float, ...], at_ms: int) -> Belief:
    """The prior after living through the last good firing, as far as the plan tells it.

    end_celsius: what the reference ring ends at where the plan gives only the last stage's hours.
    """
    fresh = prior(kiln, celsius, at_ms)
    belief, told = prior(kiln, (20.0,) * len(kiln.rings), 0), False
    for stage in plan.stages:
        hours = stage.expected_hours or stage.hours
        if hours is None:
            break
        outside = outside_of(kiln, plan, stage, stage.switches, 20.0)
        belief = predict(belief, belief.at_ms + round(hours * 3_600_000), outside)
        ends = stage.expected_end_celsius or ()
        if not any(ends) and stage.until_cone and stage.expected_hours:
            ends = tuple(end_celsius if i == plan.reference_ring else None for i in range(belief.rings))
        for ring, end in enumerate(ends[: belief.rings]):
            if end is not None:
                belief, told = see(belief, ring, end, LAST_FIRING_CELSIUS, bounds(kiln)), True
    if not told:
        return fresh
    nodes = NODES * belief.rings
    whole, learned = square(fresh.spread), square(belief.spread)
    for i in range(nodes, len(whole)):
        whole[i][nodes:] = learned[i][nodes:]
    return replace(fresh, mean=fresh.mean[:nodes] + belief.mean[nodes:], spread=triangle(whole))
