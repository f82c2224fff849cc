"""A kiln by another hand than the engine's kiln model and the emulated kiln: it shares no line with either.

Each ring is air among its ware, inside a wall of four layers; the lowest ring has the floor below it, the highest the
lid above, each of three layers. Air passes heat to ware, walls and slabs by radiation (linear about the mean of both
temperatures) and convection, and rings pass it to each other. Conductivity of the brick rises with temperature.
Damp boils off and clay gives up its own water, both at the expense of the ware.

A step is implicit in the air and in the surfaces that face it, so that it is stable at any length that a keeper would
read; each flow is worked out once and given to both of its ends, so that the balance of energy closes to rounding.

Sources: sigma and R by CODATA 2018. Brick, linings and sizes: common practice, no source. Heat and pace of drying and
of the clay's own water: from memory, for the shape of the curve only.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, pi

STEFAN_BOLTZMANN = 5.670374419e-8
"""sigma [W/m2/K4]."""
GAS_CONSTANT = 8.314462618
"""R [J/mol/K]."""
KELVIN = 273.15

WALL_LAYERS = (0.14, 0.22, 0.30, 0.34)
"""Shares of the wall's thickness from the hot face outwards: thin where it changes fast."""
SLAB_LAYERS = (0.30, 0.35, 0.35)
WALL_SPREAD = 1.08
"""A round wall's mean area over that of its hot face."""
OUTSIDE_SPREAD = 1.25
"""A round wall's outside over its hot face."""
FACING = 0.8
"""Share of a ring's radiation that reaches its ware or its wall; the rest is caught by shelves."""
FACING_SLAB = 0.6
FACING_RING = 0.5
STILL_AIR = 5.5
"""Convection in a shut chamber [W/m2/K]."""

BOILING_JOULES_PER_KILOGRAM = 2.4e6
"""To warm and evaporate a kilogram of water."""
CLAY_JOULES_PER_KILOGRAM = 0.3e6
"""To drive a kilogram of clay's own water out, over the kilogram of clay."""
CLAY_RATE_PER_SECOND, CLAY_JOULES_PER_MOLE = 2e4, 120e3
DRYING_RATE_PER_SECOND, DRYING_CELSIUS, DRYING_WIDTH_CELSIUS = 1.2e-5, 90.0, 14.0
"""Of a kilogram of dry ware: kilograms of water each second at so many degC, and over how many it grows e-fold."""


@dataclass(frozen=True, slots=True)
class Build:
    """What the kiln is made of. Metres, kg, J, W, K.

    conductivity: of the brick at 0 degC [W/m/K]; conductivity_rise: its growth with temperature [W/m/K2]. outside:
    from its skin to the room [W/m2/K]. leak: of each ring, by lid seam and shut plugs [W/K]. air_capacity: of a ring's
    air, elements and thin shelves [J/K]. emissivity, view: of what faces each other, and between two rings [-].
    stirring: the air between two rings [W/m2/K].
    """

    diameter: float
    ring_height: float
    wall: float
    conductivity: float
    conductivity_rise: float
    density: float
    heat_capacity: float
    outside: float
    leak: float
    air_capacity: float
    emissivity: float
    view: float
    stirring: float
    rings: int = 3

    @property
    def face(self) -> float:
        """Hot face of one ring's wall [m2]."""
        return pi * self.diameter * self.ring_height

    @property
    def end(self) -> float:
        """Floor or lid [m2]."""
        return pi * self.diameter**2 / 4

    def brick(self, celsius: float) -> float:
        """Conductivity [W/m/K]."""
        return self.conductivity + self.conductivity_rise * celsius

    def watts_to_hold(self, celsius: float, room_celsius: float) -> float:
        """What the whole kiln loses once it is hot through [W], roughly: elements are chosen by it."""
        across = 1 / (self.wall / self.brick((celsius + 150) / 2) + 1 / self.outside)
        area = self.rings * self.face * (WALL_SPREAD + OUTSIDE_SPREAD) / 2 + 2 * self.end
        return (across * area + self.rings * self.leak) * (celsius - room_celsius)


@dataclass(frozen=True, slots=True)
class Ware:
    """What stands in one ring. kilograms: dry, with shelves. heat_capacity: J/kg/K. clay: raw, 0 once fired."""

    kilograms: float
    heat_capacity: float
    water_kilograms: float
    clay_kilograms: float

    @property
    def surface(self) -> float:
        """Faced by the air [m2]; common practice, no source."""
        return 0.12 + 0.02 * self.kilograms


def element_watts(rated: float, share: float, volts_of_rated: float, wear: float) -> float:
    """What a ring's elements give [W]: share of high, volts squared (Ohm), and what wear leaves of new ones [-]."""
    return rated * share * volts_of_rated**2 * wear


class Chamber:
    """The heat of one firing. All temperatures degC; bought, lost and latent: joules since it began.

    air, ware: one a ring, from the bottom. wall: four layers a ring from the hot face. slabs: floor and lid.
    """

    def __init__(
        self, build: Build, wares: Sequence[Ware], celsius: float, room_celsius: float, step_seconds: float = 10.0
    ) -> None:
        self.build, self.wares, self.room, self.step_seconds = build, tuple(wares), room_celsius, step_seconds
        self.air = [celsius] * build.rings
        self.ware = [celsius] * build.rings
        self.wall = [[celsius] * len(WALL_LAYERS) for _ in range(build.rings)]
        self.slabs = [[celsius] * len(SLAB_LAYERS) for _ in range(2)]
        self.water = [w.water_kilograms for w in wares]
        self.clay = [w.clay_kilograms for w in wares]
        brick = build.density * build.heat_capacity * build.wall
        self._wall_capacity = [brick * build.face * WALL_SPREAD * part for part in WALL_LAYERS]
        self._slab_capacity = [brick * build.end * part for part in SLAB_LAYERS]
        self._began = celsius
        self.bought = self.lost = self.latent = 0.0

    def stored(self) -> float:
        """Heat in everything, over what it held when the firing began [J]."""
        total = 0.0
        for i, ware in enumerate(self.wares):
            total += self.build.air_capacity * (self.air[i] - self._began)
            total += ware.kilograms * ware.heat_capacity * (self.ware[i] - self._began)
            total += sum(c * (t - self._began) for c, t in zip(self._wall_capacity, self.wall[i], strict=True))
        for slab in self.slabs:
            total += sum(c * (t - self._began) for c, t in zip(self._slab_capacity, slab, strict=True))
        return total

    def step(self, watts: Sequence[float], draught: float, lid: float) -> None:
        """One step. watts: into each ring. draught: by each ring's plugs and peepholes; lid: out at the top [W/K]."""
        n, dt, build = self.build.rings, self.step_seconds, self.build
        to_ware = [
            self._yielding(
                self._facing(self.air[i], self.ware[i], FACING) * ware.surface, ware.kilograms * ware.heat_capacity
            )
            for i, ware in enumerate(self.wares)
        ]
        to_wall = [
            self._yielding(self._facing(self.air[i], self.wall[i][0], FACING) * build.face, self._wall_capacity[0])
            for i in range(n)
        ]
        to_slab = [
            self._yielding(self._facing(self.air[i], slab[0], FACING_SLAB) * build.end, self._slab_capacity[0])
            for i, slab in ((0, self.slabs[0]), (n - 1, self.slabs[1]))
        ]
        beside = [
            (self._radiation(self.air[i], self.air[i + 1], FACING_RING * build.view) + build.stirring) * build.end
            for i in range(n - 1)
        ]
        out = [draught + build.leak + (lid if i == n - 1 else 0.0) for i in range(n)]
        own, given = [], []
        for i in range(n):
            own.append(build.air_capacity / dt + to_ware[i] + to_wall[i] + out[i])
            given.append(
                build.air_capacity / dt * self.air[i] + watts[i] + to_ware[i] * self.ware[i]
                + to_wall[i] * self.wall[i][0] + out[i] * self.room
            )  # fmt: skip
        for i, conductance, slab in ((0, to_slab[0], self.slabs[0]), (n - 1, to_slab[1], self.slabs[1])):
            own[i] += conductance
            given[i] += conductance * slab[0]
        self.air = _chain(own, beside, given)
        self.bought += sum(watts) * dt
        for i in range(n):
            self.lost += dt * out[i] * (self.air[i] - self.room)
            self._warm_ware(i, to_ware[i] * (self.air[i] - self.ware[i]))
            flow = to_wall[i] * (self.air[i] - self.wall[i][0])
            area, skin = build.face * WALL_SPREAD, build.face * OUTSIDE_SPREAD
            self._through(self.wall[i], WALL_LAYERS, self._wall_capacity, flow, area, skin)
        for i, conductance, slab in ((0, to_slab[0], self.slabs[0]), (n - 1, to_slab[1], self.slabs[1])):
            flow = conductance * (self.air[i] - slab[0])
            self._through(slab, SLAB_LAYERS, self._slab_capacity, flow, build.end, build.end)

    def _radiation(self, a: float, b: float, view: float) -> float:
        return 4 * self.build.emissivity * view * STEFAN_BOLTZMANN * ((a + b) / 2 + KELVIN) ** 3

    def _facing(self, a: float, b: float, view: float) -> float:
        return self._radiation(a, b, view) + STILL_AIR

    def _yielding(self, conductance: float, capacity: float) -> float:
        """Of a surface that warms meanwhile [W/K]: as if the step's heat met its end, not its beginning."""
        return 1 / (1 / conductance + self.step_seconds / capacity)

    def _warm_ware(self, i: int, watts: float) -> None:
        """Heat the ware; what it takes is shared by warming, drying and the clay's own water."""
        dt, ware, celsius, dried = self.step_seconds, self.wares[i], self.ware[i], 0.0
        if self.water[i] > 0 and celsius > 40:
            hasty = exp(min((celsius - DRYING_CELSIUS) / DRYING_WIDTH_CELSIUS, 10.0))
            dried = min(self.water[i], DRYING_RATE_PER_SECOND * hasty * ware.kilograms * dt,
                        0.9 * max(watts, 0.0) * dt / BOILING_JOULES_PER_KILOGRAM)  # fmt: skip
            self.water[i] -= dried
        driven = 0.0
        if self.clay[i] > 0 and celsius > 350:
            rate = CLAY_RATE_PER_SECOND * exp(-CLAY_JOULES_PER_MOLE / GAS_CONSTANT / (celsius + KELVIN))
            driven = min(self.clay[i] * min(1.0, rate * dt), 0.4 * max(watts, 0.0) * dt / CLAY_JOULES_PER_KILOGRAM)
            self.clay[i] -= driven
        latent = dried * BOILING_JOULES_PER_KILOGRAM + driven * CLAY_JOULES_PER_KILOGRAM
        self.latent += latent
        self.ware[i] += (watts * dt - latent) / (ware.kilograms * ware.heat_capacity)

    def _through(
        self, layers: list[float], parts: Sequence[float], capacity: Sequence[float], watts: float, area: float,
        skin: float,
    ) -> None:  # fmt: skip
        """Heat goes in at the hot face, through the layers, and out at the skin."""
        build, flows = self.build, [watts]
        for a in range(len(layers) - 1):
            apart = build.wall * (parts[a] + parts[a + 1]) / 2
            flows.append(build.brick((layers[a] + layers[a + 1]) / 2) * area * (layers[a] - layers[a + 1]) / apart)
        flows.append(build.outside * skin * (layers[-1] - self.room))
        self.lost += flows[-1] * self.step_seconds
        for a in range(len(layers)):
            layers[a] += self.step_seconds * (flows[a] - flows[a + 1]) / capacity[a]


def _chain(own: list[float], beside: list[float], given: list[float]) -> list[float]:
    """Solve for nodes in a row that pass heat to their neighbours: Gauss's elimination of a tridiagonal system."""
    diagonal, right = list(own), list(given)
    for i, conductance in enumerate(beside):
        diagonal[i] += conductance
        diagonal[i + 1] += conductance
    for i, conductance in enumerate(beside):
        part = conductance / diagonal[i]
        diagonal[i + 1] -= part * conductance
        right[i + 1] += part * right[i]
    found = [right[-1] / diagonal[-1]]
    for i in range(len(beside) - 1, -1, -1):
        found.insert(0, (right[i] + beside[i] * found[0]) / diagonal[i])
    return found
