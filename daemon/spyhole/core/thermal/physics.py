"""The kiln as four nodes a ring: ware with its air and hot face, and a wall of three layers.

Everything is divided by the heat capacity of one ring's ware when cold, so watts become degC an hour and conductances
1/h. Elements warm the ware; it warms the wall; the wall stores heat, passes it on and loses it to the room through the
air film. Floor and lid count as more wall of the end rings. Neighbouring rings exchange heat by radiation and air.
Water and clay that gives its water up make the ware slow for a while. Losses are told as shares of full watts at 1000
degC, because a kiln is built to reach its maximum: those shares are known better than watts or bricks are.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp, sqrt

KELVIN = 273.15
NODES = 4
"""Ware, then the wall from the hot face out."""
NAMES = ("full", "wall", "leak", "pace", "growth", "exchange", "draught")
SHARED = len(NAMES)
"""Parameters of the whole kiln, in the order of their logarithms; one strength a ring follows."""
LAYERS = (0.2, 0.35, 0.45)
"""Thicknesses of the wall's layers, as shares: thin at the hot face, which answers first."""
HALVES = (LAYERS[0] / 2, (LAYERS[0] + LAYERS[1]) / 2, (LAYERS[1] + LAYERS[2]) / 2, LAYERS[2] / 2)
FILM = 0.21
"""The air film outside against the hot wall's resistance: 12 W/m2K beside 0.19 W/mK through 75 mm (typical)."""
ENDS = 0.45
"""How much more wall an end ring has, by floor or lid: a round kiln's common proportions (no source)."""
CAPACITY_GROWTH = 0.4
"""Share by which ceramic's heat capacity grows from cold to 1000 degC: alumina from 0.78 to 1.23 kJ/kgK, fireclay from
0.85 to 1.15 (handbooks, from memory)."""
ELEMENT_GROWTH = 0.04
"""Share of its resistance that an element of iron, chromium and aluminium gains by 1000 degC (makers' tables)."""
AIR = 0.2
WARM_AIR_RISES = 0.3
"""Exchange by air, always and upward, against radiation's at 1000 K (chosen, no source)."""
HOTTEST_CELSIUS = 1500.0
"""No element gets a kiln hotter; a run that is wrong about its kiln stays a number."""
COLDEST_CELSIUS = -40.0
IMPLICIT = 0.6
"""Share of a step judged by its end: stable at any length, nearly of second order (Crank and Nicolson 1947)."""
STEAM_CELSIUS = (95.0, 22.0)
STEAM_GONE_CELSIUS = 180.0
CLAY_CELSIUS = (560.0, 50.0)
"""Where free water and the clay's own go, and how spread out that is [degC]: kaolin gives its water up between 450 and
650 (handbooks, from memory), the inside of the ware after the air around it."""
ROOT_TWO_PI = 2.5066282746310002
WIDEST = 8.0
"""Logarithms are kept within this, so that a belief gone astray stays a number."""


@dataclass(frozen=True, slots=True)
class Heat:
    """What a kiln is made of, per cold capacity of a ring's ware.

    full: climb of cold ware at the mean ring's full watts, of elements at 1000 degC, without loss [degC/h]. wall, leak:
    what a ring loses by conduction once steady, and by radiation, at 1000 degC as shares of full [1]. pace: conductance
    of the hot wall against its own capacity [1/h]. growth: how much better the wall conducts at 1000 degC than cold, as
    a share [1]. exchange: between neighbouring rings at 1000 K [1/h]. draught: what open plugs carry off at full
    buoyancy [1/h].
    strength: each ring's watts against the mean ring's [1].
    """

    full: float
    wall: float
    leak: float
    pace: float
    growth: float
    exchange: float
    draught: float
    strength: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Outside:
    """What a run is told: shares of full watts and openings against open plugs, one a ring; the room [degC].

    steam, clay: how many degrees' worth of heat free water and the clay's own take from the ware on the way up.
    """

    shares: tuple[float, ...]
    vents: tuple[float, ...]
    room_celsius: float
    steam: float = 0.0
    clay: float = 0.0


def with_share(outside: Outside, ring: int, share: float) -> Outside:
    """The same with another share of its watts for one ring."""
    return replace(outside, shares=(*outside.shares[:ring], share, *outside.shares[ring + 1 :]))


def heat_of(logs: list[float] | tuple[float, ...]) -> Heat:
    """From logarithms of full, wall, leak, pace, growth, exchange, draught, then one strength a ring."""
    full, wall, leak, pace, growth, exchange, draught = [_exp_within(x, WIDEST) for x in logs[:SHARED]]
    strength = tuple([_exp_within(x, 2.0) for x in logs[SHARED:]])
    return Heat(
        full,
        min(wall, 2.0),
        min(leak, 1.0),
        min(pace, 5.0),
        min(growth, 10.0),
        min(exchange, 60.0),
        min(draught, 10.0),
        strength,
    )


def _exp_within(log: float, widest: float) -> float:
    return exp(log if -widest < log < widest else max(-widest, min(log, widest)))


def capacity(celsius: float, outside: Outside) -> float:
    """Heat capacity of the ware against the cold one [1], what drying asks for included."""
    found = 1.0 + CAPACITY_GROWTH * celsius / 1000.0
    if outside.steam > 0.0 and celsius < STEAM_GONE_CELSIUS:
        off = (celsius - STEAM_CELSIUS[0]) / STEAM_CELSIUS[1]
        found += outside.steam / (STEAM_CELSIUS[1] * ROOT_TWO_PI) * exp(-0.5 * off * off)
    if outside.clay > 0.0 and abs(celsius - CLAY_CELSIUS[0]) < 4.0 * CLAY_CELSIUS[1]:
        off = (celsius - CLAY_CELSIUS[0]) / CLAY_CELSIUS[1]
        found += outside.clay / (CLAY_CELSIUS[1] * ROOT_TWO_PI) * exp(-0.5 * off * off)
    return found


def watts_at(celsius: float) -> float:
    """What an element takes in ware this hot, against what it takes at 1000 degC [1]."""
    return (1.0 + ELEMENT_GROWTH) / (1.0 + ELEMENT_GROWTH * celsius / 1000.0)


def advance(heat: Heat, celsius: list[float], outside: Outside, hours: float) -> list[float]:
    """Node temperatures after one step, ring by ring: each ring's column implicitly, then the exchange between rings.

    Any step is stable; ten minutes are within about a degree of ten seconds.
    """
    return even_out(heat.exchange, *columns(heat, celsius, outside, hours, range(len(outside.shares))), hours)


def columns(
    heat: Heat, celsius: list[float], outside: Outside, hours: float, rings: Iterable[int]
) -> tuple[list[float], list[float]]:
    """The columns of these rings after one step, each by itself, one after the other; and what their ware holds."""
    of = len(outside.shares)
    room, shares, vents = outside.room_celsius, outside.shares, outside.vents
    room_fourth = ((room + KELVIN) / 1273.15) ** 4
    full, strength = heat.full, heat.strength
    hot = full * heat.wall / 980.0 * (1.0 + FILM)
    cold = hot / (1.0 + 0.535 * heat.growth)
    rise = cold * heat.growth / 1000.0
    mass = hot / heat.pace
    leak = full * heat.leak
    mean_ends = 1.0 + 2.0 * ENDS / of
    first, second, third, last = HALVES
    layer1, layer2, layer3 = LAYERS
    growth = CAPACITY_GROWTH / 1000.0
    theta = IMPLICIT * hours
    out: list[float] = []
    capacities: list[float] = []
    for ring in rings:
        ware, one, two, three = celsius[NODES * ring : NODES * ring + NODES]
        ends = (1.0 + ENDS * ((ring == 0) + (ring == of - 1))) / mean_ends
        c, r = cold * ends, rise * ends
        k1 = (c + r * (0.75 * one + 0.25 * ware)) / first
        k2 = (c + 0.5 * r * (one + two)) / second
        k3 = (c + 0.5 * r * (two + three)) / third
        k4 = c + r * three
        k4 = 1.0 / (last / k4 + FILM / (hot * ends))
        kelvin = (ware + KELVIN) / 1273.15
        cube = kelvin * kelvin * kelvin
        above = ware - room
        open_ = vents[ring]
        draught = heat.draught * open_ * sqrt(2.0 * above / (ware + KELVIN)) if open_ and above > 0.0 else 0.0
        inwards, deeper, outwards = k1 * (ware - one), k2 * (one - two), k3 * (two - three)
        q0 = (
            (full * strength[ring] * shares[ring] * watts_at(ware) if shares[ring] else 0.0)
            - inwards
            - leak * (cube * kelvin - room_fourth)
            - draught * above
        )
        q1 = inwards - deeper
        q2 = deeper - outwards
        q3 = outwards - k4 * (three - room)
        heats = capacity(ware, outside)
        per = mass * ends
        m1 = per * layer1 * (1.0 + growth * one)
        m2 = per * layer2 * (1.0 + growth * two)
        m3 = per * layer3 * (1.0 + growth * three)
        # (C + theta K) d = hours q, a tridiagonal system solved from the ware outwards.
        t1, t2, t3 = theta * k1, theta * k2, theta * k3
        a0 = heats + theta * (k1 + 4.0 * leak * cube / 1273.15 + draught)
        w = t1 / a0
        a1 = m1 + theta * (k1 + k2) - w * theta * k1
        b1 = hours * q1 + w * hours * q0
        w2 = t2 / a1
        a2 = m2 + theta * (k2 + k3) - w2 * theta * k2
        b2 = hours * q2 + w2 * b1
        w3 = t3 / a2
        d3 = (hours * q3 + w3 * b2) / (m3 + theta * (k3 + k4) - w3 * theta * k3)
        d2 = (b2 + t3 * d3) / a2
        d1 = (b1 + t2 * d2) / a1
        d0 = (hours * q0 + t1 * d1) / a0
        new = ware + d0
        new = COLDEST_CELSIUS if new < COLDEST_CELSIUS else HOTTEST_CELSIUS if new > HOTTEST_CELSIUS else new
        out += (new, one + d1, two + d2, three + d3)
        capacities.append(heats)
    return out, capacities


def even_out(exchange: float, celsius: list[float], capacities: list[float], hours: float) -> list[float]:
    """Heat between neighbouring rings for one step, wholly implicit: heat is only moved, never made."""
    if len(capacities) < 2:
        return celsius
    out, wares = celsius.copy(), celsius[::NODES]
    rising = AIR + WARM_AIR_RISES
    links = []
    for lower, upper in pairwise(wares):
        kelvin = (0.5 * (lower + upper) + KELVIN) / 1000.0
        links.append(exchange * (kelvin * kelvin * kelvin + (rising if lower > upper else AIR)) * hours)
    links.append(0.0)
    rows = []
    below, d, b = 0.0, 1.0, 0.0
    for holds, ware, above in zip(capacities, wares, links, strict=True):
        w = below / d
        d = holds + below + above - w * below
        b = holds * ware + w * b
        rows.append((d, b))
        below = above
    beyond = 0.0
    for ring in range(len(wares) - 1, -1, -1):
        d, b = rows[ring]
        out[NODES * ring] = beyond = (b + links[ring] * beyond) / d
    return out
