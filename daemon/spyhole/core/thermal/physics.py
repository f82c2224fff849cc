"""The kiln as a few nodes a ring: ware with air and inner face, and a wall of two halves.

Everything is divided by the heat capacity of one ring's ware and air when cold, so watts become degC an hour and
conductances 1/h. Elements warm the ware; the ware warms the wall through its inner quarter; the halves of the wall
pass heat on; the outer quarter and the air film lose it to the room. Neighbouring rings exchange heat by radiation.
"""

from dataclasses import dataclass, replace
from math import ceil, exp

KELVIN = 273.15
LEAK = 0.6
"""Radiation out through spyholes and under the lid, against the wall's conductance, at 1000 K (chosen, no source)."""
NODES = 3
"""Ware, inner half of the wall, outer half."""
SHARED = 4
WIDEST = 8.0
"""Logarithms are kept within this, so that a belief gone astray stays a number."""
CAPACITY_GROWTH = 0.3
"""Share by which ceramic's heat capacity grows from cold to 1000 degC (common practice, no source)."""
CONDUCTIVITY_GROWTH = 0.7
"""Share by which insulating brick conducts better at 1000 degC than cold (common practice, no source)."""
STABLE = 1.2
"""Step times the fastest node's rate; the midpoint rule holds below 2."""
HOTTEST_CELSIUS = 1500.0
"""No element gets a kiln hotter; a run that is wrong about its kiln stays a number."""
FASTEST = 7.0
"""Three rings in a row even out three times as fast as two exchange, and radiation at 1300 K 2.2 times as at 1000."""
OUTER_FILM = 3.0
"""Film outside the case against the wall: 12 W/m2K beside 0.3 W/mK through 75 mm (typical values, from memory)."""


@dataclass(frozen=True, slots=True)
class Heat:
    """What a ring is made of, per cold capacity of its ware.

    full: climb of cold ware at full watts without loss [degC/h]. wall: conductance through the wall [1/h].
    mass: capacity of the wall against the ware's [1]. exchange: between neighbouring rings at 1000 K [1/h].
    strength: each ring's watts against the mean ring's [1].
    """

    full: float
    wall: float
    mass: float
    exchange: float
    strength: tuple[float, ...]


def heat_of(logs: list[float] | tuple[float, ...]) -> Heat:
    """From scaled parameters: logarithms of full, wall, mass, exchange, then one strength a ring."""
    full, wall, mass, exchange = (exp(max(-WIDEST, min(x, WIDEST))) for x in logs[:SHARED])
    return Heat(full, wall, mass, exchange, tuple(exp(max(-2.0, min(x, 2.0))) for x in logs[SHARED:]))


def capacity(celsius: float) -> float:
    """Heat capacity against the cold one [1]."""
    return 1.0 + CAPACITY_GROWTH * max(celsius, 0.0) / 1000.0


def leaks(heat: Heat, celsius: float, room_celsius: float) -> float:
    """What a ring radiates through spyholes and past the lid [degC/h of cold ware] (Stefan and Boltzmann)."""
    return LEAK * heat.wall * 250.0 * (((celsius + KELVIN) / 1000.0) ** 4 - ((room_celsius + KELVIN) / 1000.0) ** 4)


def rates(heat: Heat, celsius: list[float], shares: tuple[float, ...], room_celsius: float) -> list[float]:
    """d/dt [degC/h] of ware, inner and outer wall of each ring, bottom first; shares of full watts [0..1]."""
    out = []
    rings = len(shares)
    for ring in range(rings):
        ware, inner, outer = celsius[NODES * ring : NODES * ring + NODES]
        wall = heat.wall * (1.0 + CONDUCTIVITY_GROWTH * max(inner, 0.0) / 1000.0)
        into = 4.0 * wall * (ware - inner)
        through = 2.0 * wall * (inner - outer)
        film = OUTER_FILM * heat.wall
        lost = 4.0 * wall * film / (4.0 * wall + film) * (outer - room_celsius)
        gained = heat.full * heat.strength[ring] * shares[ring] - into
        for other in (ring - 1, ring + 1):
            if 0 <= other < rings:
                beside = celsius[NODES * other]
                mean = (ware + beside) / 2.0 + KELVIN
                gained += heat.exchange * (mean / 1000.0) ** 3 * (beside - ware)
        gained -= leaks(heat, ware, room_celsius)
        half = heat.mass / 2.0
        out.append(gained / capacity(ware))
        out.append((into - through) / (half * capacity(inner)))
        out.append((through - lost) / (half * capacity(outer)))
    return out


def advance(
    heat: Heat, celsius: list[float], shares: tuple[float, ...], room_celsius: float, hours: float
) -> list[float]:
    """Temperatures after this long, by the midpoint rule (error of second order in hours).

    Rings that even out faster than the step can follow do so within a few steps instead: the rule stays stable.
    """
    steps = max(1, ceil(hours * 6.0 * (1.0 + CONDUCTIVITY_GROWTH) * heat.wall / min(heat.mass / 2.0, 1.0) / STABLE))
    hours /= steps
    heat = replace(heat, exchange=min(heat.exchange, 1.0 / (FASTEST * hours)))
    for _ in range(steps):
        first = rates(heat, celsius, shares, room_celsius)
        middle = [c + r * hours / 2.0 for c, r in zip(celsius, first, strict=True)]
        second = rates(heat, middle, shares, room_celsius)
        celsius = [min(c + r * hours, HOTTEST_CELSIUS) for c, r in zip(celsius, second, strict=True)]
    return celsius
