"""The kiln as four nodes a ring: ware with its air and hot face, and a wall of three layers.

Everything is divided by the heat capacity of one ring's ware when cold, so watts become degC an hour and conductances
1/h. Elements warm the ware; it warms the wall; the wall stores heat, passes it on and loses it to the room through the
air film. Floor and lid count as more wall of the end rings. Neighbouring rings exchange heat by radiation and air.
Water and clay that gives its water up make the ware slow for a while. Losses are told as shares of full watts at 1000
degC, because a kiln is built to reach its maximum: those shares are known better than watts or bricks are.
"""

from dataclasses import dataclass, replace
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
    full, wall, leak, pace, growth, exchange, draught = (exp(max(-WIDEST, min(x, WIDEST))) for x in logs[:SHARED])
    strength = tuple(exp(max(-2.0, min(x, 2.0))) for x in logs[SHARED:])
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
    rings = len(outside.shares)
    room = outside.room_celsius
    room_fourth = ((room + KELVIN) / 1273.15) ** 4
    hot = heat.full * heat.wall / 980.0 * (1.0 + FILM)
    cold = hot / (1.0 + 0.535 * heat.growth)
    rise = cold * heat.growth / 1000.0
    mass = hot / heat.pace
    mean_ends = 1.0 + 2.0 * ENDS / rings
    first, second, third, last = HALVES
    theta = IMPLICIT * hours
    out = celsius.copy()
    capacities = []
    for ring in range(rings):
        n = NODES * ring
        ware, one, two, three = celsius[n : n + NODES]
        ends = (1.0 + ENDS * ((ring == 0) + (ring == rings - 1))) / mean_ends
        c, r = cold * ends, rise * ends
        k1 = (c + r * (0.75 * one + 0.25 * ware)) / first
        k2 = (c + 0.5 * r * (one + two)) / second
        k3 = (c + 0.5 * r * (two + three)) / third
        k4 = c + r * three
        k4 = 1.0 / (last / k4 + FILM / (hot * ends))
        leak = heat.full * heat.leak
        kelvin = (ware + KELVIN) / 1273.15
        cube = kelvin * kelvin * kelvin
        above = ware - room
        draught = heat.draught * outside.vents[ring] * sqrt(2.0 * above / (ware + KELVIN)) if above > 0.0 else 0.0
        q0 = (
            heat.full * heat.strength[ring] * outside.shares[ring] * watts_at(ware)
            - k1 * (ware - one)
            - leak * (cube * kelvin - room_fourth)
            - draught * above
        )
        q1 = k1 * (ware - one) - k2 * (one - two)
        q2 = k2 * (one - two) - k3 * (two - three)
        q3 = k3 * (two - three) - k4 * (three - room)
        heats = capacity(ware, outside)
        capacities.append(heats)
        per = mass * ends
        growth = CAPACITY_GROWTH / 1000.0
        m1 = per * LAYERS[0] * (1.0 + growth * one)
        m2 = per * LAYERS[1] * (1.0 + growth * two)
        m3 = per * LAYERS[2] * (1.0 + growth * three)
        # (C + theta K) d = hours q, a tridiagonal system solved from the ware outwards.
        a0 = heats + theta * (k1 + 4.0 * leak * cube / 1273.15 + draught)
        w = theta * k1 / a0
        a1 = m1 + theta * (k1 + k2) - w * theta * k1
        b1 = hours * q1 + w * hours * q0
        w2 = theta * k2 / a1
        a2 = m2 + theta * (k2 + k3) - w2 * theta * k2
        b2 = hours * q2 + w2 * b1
        w3 = theta * k3 / a2
        d3 = (hours * q3 + w3 * b2) / (m3 + theta * (k3 + k4) - w3 * theta * k3)
        d2 = (b2 + theta * k3 * d3) / a2
        d1 = (b1 + theta * k2 * d2) / a1
        d0 = (hours * q0 + theta * k1 * d1) / a0
        new = ware + d0
        out[n] = COLDEST_CELSIUS if new < COLDEST_CELSIUS else HOTTEST_CELSIUS if new > HOTTEST_CELSIUS else new
        out[n + 1] = one + d1
        out[n + 2] = two + d2
        out[n + 3] = three + d3
    if rings > 1:
        _even_out(heat.exchange, out, capacities, hours)
    return out


def _even_out(exchange: float, celsius: list[float], capacities: list[float], hours: float) -> None:
    """Heat between neighbouring rings for one step, wholly implicit: heat is only moved, never made."""
    rings = len(capacities)
    links = []
    for ring in range(rings - 1):
        lower, upper = celsius[NODES * ring], celsius[NODES * ring + NODES]
        kelvin = (0.5 * (lower + upper) + KELVIN) / 1000.0
        by_air = AIR + (WARM_AIR_RISES if lower > upper else 0.0)
        links.append(exchange * (kelvin * kelvin * kelvin + by_air) * hours)
    diagonal: list[float] = []
    right: list[float] = []
    for ring in range(rings):
        below = links[ring - 1] if ring > 0 else 0.0
        above = links[ring] if ring < rings - 1 else 0.0
        d, b = capacities[ring] + below + above, capacities[ring] * celsius[NODES * ring]
        if ring > 0:
            w = below / diagonal[ring - 1]
            d -= w * below
            b += w * right[ring - 1]
        diagonal.append(d)
        right.append(b)
    beyond = 0.0
    for ring in range(rings - 1, -1, -1):
        link = links[ring] if ring < rings - 1 else 0.0
        beyond = (right[ring] + link * beyond) / diagonal[ring]
        celsius[NODES * ring] = beyond
