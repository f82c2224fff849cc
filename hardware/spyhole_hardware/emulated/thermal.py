"""The emulated kiln as heat: elements, load and brick, ring by ring, with steam and draught.

Explicit Euler over lumped bodies. Every flow is taken from one body and given to another (or to the
room), so that energy closes to rounding whatever the step. A body's temperature is in degC, a flow in
watts, a conductance in W/K; heat is counted from 0 degC.

This is deliberately not the watch's own model of a kiln: several layers of brick, radiation between
everything that faces, evaporation. Otherwise the watch would be tested against itself.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), CODATA 2018
KELVIN = 273.15
WATER_HEAT = 4186.0  # J/(kg K), liquid; handbook value from memory
STEAM_HEAT = 2.257e6  # J/kg at 100 degC; steam tables, from memory
CLAY_WATER_HEAT = 4.7e6  # J/kg of water leaving kaolinite: about 170 kJ/mol over two moles, from memory
ATMOSPHERE = 101325.0  # Pa
DRAUGHT_AT = 0.5  # (T - room)/T of the gas for which the vents' conductances are given


@dataclass(frozen=True, slots=True)
class Brick:
    """Insulating firebrick. conductivity = at_zero + rise * degC [W/(m K)]; kg/m3; J/(kg K).

    specific_heat_rise: share of specific_heat more for each degC; 0 takes specific_heat as the mean of a firing.
    """

    conductivity_at_zero: float
    conductivity_rise: float
    density: float
    specific_heat: float
    specific_heat_rise: float = 0.0


def warmer_by(joules: float, slope: float, bend: float) -> float:
    """degC that these joules bring to a body of heat capacity slope [J/K] which grows by 2 * bend a degC; exact."""
    return 2 * joules / (slope + math.sqrt(slope * slope + 4 * bend * joules)) if bend else joules / slope


class Wall:
    """A slab of brick in layers from the hot face to the shell, losing heat to the room.

    The hot layer is thin, because its face decides what the chamber sees.
    outside_coefficient: W/(m2 K) of the shell, radiation and convection together.
    """

    __slots__ = ("_between", "_capacity", "_conductivity", "_outside", "_richer", "_rise", "celsius")

    def __init__(
        self,
        area_square_metres: float,
        layers_millimetres: Sequence[float],
        brick: Brick,
        outside_coefficient: float,
        celsius: float,
    ) -> None:
        metres = [layer / 1000 for layer in layers_millimetres]
        self.celsius = [celsius] * len(metres)
        self._capacity = [area_square_metres * d * brick.density * brick.specific_heat for d in metres]
        self._between = [area_square_metres / ((a + b) / 2) for a, b in pairwise(metres)]
        last = metres[-1] / 2 / (brick.conductivity_at_zero + brick.conductivity_rise * 100)
        self._outside = area_square_metres / (last + 1 / outside_coefficient)
        self._conductivity = brick.conductivity_at_zero
        self._rise = brick.conductivity_rise / 2
        self._richer = brick.specific_heat_rise

    def step(self, seconds: float, watts_in: float, room_celsius: float) -> float:
        """Take watts_in at the hot face for so long; the watts given to the room meanwhile."""
        celsius, capacity, rise, conductivity = self.celsius, self._capacity, self._rise, self._conductivity
        here = celsius[0]
        flow = watts_in
        i = 0
        if self._richer:
            return self._step_richer(seconds, watts_in, room_celsius)
        for between in self._between:
            there = celsius[i + 1]
            onward = between * (conductivity + rise * (here + there)) * (here - there)
            celsius[i] = here + (flow - onward) * seconds / capacity[i]
            here, flow = there, onward
            i += 1
        lost = self._outside * (here - room_celsius)
        celsius[i] = here + (flow - lost) * seconds / capacity[i]
        return lost

    def _step_richer(self, seconds: float, watts_in: float, room_celsius: float) -> float:
        """`step` for brick that holds more the hotter it is."""
        celsius, capacity, richer = self.celsius, self._capacity, self._richer
        before = list(celsius)
        flow = watts_in
        for i, here in enumerate(before):
            if i < len(self._between):
                there = before[i + 1]
                conductance = self._between[i] * (self._conductivity + self._rise * (here + there))
                onward = conductance * (here - there)
            else:
                onward = self._outside * (here - room_celsius)
            slope, bend = capacity[i] * (1 + richer * here), capacity[i] * richer / 2
            celsius[i] = here + warmer_by((flow - onward) * seconds, slope, bend)
            flow = onward
        return flow

    def stored_joules(self) -> float:
        """Heat above 0 degC."""
        return sum(c * t * (1 + self._richer * t / 2) for c, t in zip(self._capacity, self.celsius, strict=True))


@dataclass(frozen=True, slots=True)
class Build:
    """How one round kiln is built. Lengths in mm, layers from the hot face, areas in m2, conductances in W/K.

    facing areas (element_to_wall and the like) are effective: true area times emissivity and view.
    gaps: what shines straight into the room from each ring, past spyhole and seams.
    up, across: conductance between neighbouring rings by air, when the lower one is hotter, and always.
    leak, plug_*, lid_*: draught at full buoyancy, a ring's share of it and the whole lid's.
    load_heat: J/(kg K) of ware and shelves at 0 degC (the default, a common handbook value from memory, is a mean
    over a firing), and load_heat_rise: share of it more for each degC. element_rise: share of its resistance that an
    element gains a degC, so that a hot one takes less.
    seed: what chance gave this one kiln for good, the errors of its probes and its shut-off's habit.
    """

    inside_diameter: float
    ring_height: float
    wall_layers: tuple[float, ...]
    end_layers: tuple[float, ...]
    brick: Brick
    outside_coefficient: float
    element_kilograms: float
    element_specific_heat: float
    element_to_wall: float
    element_to_load: float
    element_by_air: float
    wall_to_load: float
    wall_to_load_by_air: float
    end_to_load: float
    end_by_air: float
    ring_to_ring: float
    up: float
    across: float
    leak: float
    gaps: float
    plug_half: float
    plug_out: float
    lid_cracked: float
    lid_propped: float
    lid_open: float
    seed: int
    load_heat: float = 1000.0
    load_heat_rise: float = 0.0
    element_rise: float = 0.0


@dataclass(frozen=True, slots=True)
class Load:
    """What is in one ring: ware and shelves [kg], free water, and water bound in the clay [kg]."""

    ware_kilograms: float
    shelf_kilograms: float
    water_kilograms: float = 0.0
    clay_water_kilograms: float = 0.0


@dataclass(slots=True)
class Account:
    """Where the joules went since the start: bought, given to the room, carried off as steam, spent on the clay."""

    bought: float = 0.0
    room: float = 0.0
    steam: float = 0.0
    clay: float = 0.0


LID_SHARE = (0.6, 0.25, 0.15)  # of the lid's draught, from the top ring down; rings further down take none


def share_of_watts(volts: float, rated_volts: float) -> float:
    """Watts of a resistance on these volts over its rated watts: Ohm, so volts squared."""
    return (volts / rated_volts) ** 2


class Heat:
    """The heat of a whole kiln. Ring 0 is the bottom one."""

    def __init__(self, build: Build, loads: Sequence[Load], celsius: float) -> None:
        if len(loads) < 1:
            raise ValueError("a kiln has at least one ring")
        self.build = build
        rings = len(loads)
        radius = build.inside_diameter / 2000
        thickness = sum(build.wall_layers) / 1000
        around = 2 * math.pi * (radius + thickness / 2) * build.ring_height / 1000
        across = math.pi * (radius + thickness / 2) ** 2
        self.elements = [celsius] * rings
        self.loads = [celsius] * rings
        self.walls = [Wall(around, build.wall_layers, build.brick, build.outside_coefficient, celsius) for _ in loads]
        self.floor = Wall(across, build.end_layers, build.brick, build.outside_coefficient, celsius)
        self.lid = Wall(across, build.end_layers, build.brick, build.outside_coefficient, celsius)
        self.water = [load.water_kilograms for load in loads]
        self.clay_water = [load.clay_water_kilograms for load in loads]
        self._wet = [max(load.water_kilograms, 1e-9) for load in loads]
        self._dry_capacity = [build.load_heat * (load.ware_kilograms + load.shelf_kilograms) for load in loads]
        self._element_capacity = build.element_kilograms * build.element_specific_heat
        self.account = Account()

    def vents(self, plugs: Sequence[str], lid: str) -> list[float]:
        """Conductance of the draught through each ring [W/K] for these plugs (in, half, out) and lid."""
        build = self.build
        by_plug = {"in": 0.0, "half": build.plug_half, "out": build.plug_out}
        by_lid = {"closed": 0.0, "cracked": build.lid_cracked, "propped": build.lid_propped, "open": build.lid_open}
        found = [build.leak + by_plug[plug] for plug in plugs]
        for share, ring in zip(LID_SHARE, reversed(range(len(found))), strict=False):
            found[ring] += share * by_lid[lid]
        return found

    def step(self, seconds: float, watts: Sequence[float], vents: Sequence[float], room_celsius: float) -> None:
        """Go on by so many seconds (5 at most: the element and the hot face answer within ten).

        watts (of a cold element), vents: one a ring, as held through the step.
        """
        build = self.build
        elements, loads, walls = self.elements, self.loads, self.walls
        rings = len(loads)
        facing_wall = STEFAN_BOLTZMANN * build.element_to_wall
        facing_load = STEFAN_BOLTZMANN * build.element_to_load
        wall_load = STEFAN_BOLTZMANN * build.wall_to_load
        neighbours = STEFAN_BOLTZMANN * build.ring_to_ring
        ends = STEFAN_BOLTZMANN * build.end_to_load
        gaps = STEFAN_BOLTZMANN * build.gaps
        room_fourth = (room_celsius + KELVIN) ** 4
        by_air, wall_air = build.element_by_air, build.wall_to_load_by_air
        richer = build.load_heat_rise
        scale = seconds / self._element_capacity
        lost = 0.0
        bought = 0.0
        from_below = 0.0
        floor_celsius, lid_celsius = self.floor.celsius[0], self.lid.celsius[0]
        next_load = loads[0]
        next_fourth = (next_load + KELVIN) ** 4
        from_below = ends * ((floor_celsius + KELVIN) ** 4 - next_fourth) + build.end_by_air * (
            floor_celsius - next_load
        )
        lost += self.floor.step(seconds, -from_below, room_celsius)
        for ring in range(rings):
            element, load, wall = elements[ring], next_load, walls[ring]
            face = wall.celsius[0]
            load_fourth = next_fourth
            element_fourth, face_fourth = (element + KELVIN) ** 4, (face + KELVIN) ** 4
            to_wall = facing_wall * (element_fourth - face_fourth) + by_air * (element - face)
            to_load = facing_load * (element_fourth - load_fourth) + by_air * (element - load)
            wall_to_load = wall_load * (face_fourth - load_fourth) + wall_air * (face - load)
            if ring + 1 < rings:
                next_load = loads[ring + 1]
                next_fourth = (next_load + KELVIN) ** 4
                above = build.up + build.across if load > next_load else build.across
                upward = neighbours * (load_fourth - next_fourth) + above * (load - next_load)
            else:
                upward = ends * (load_fourth - (lid_celsius + KELVIN) ** 4) + build.end_by_air * (load - lid_celsius)
            gas = (load + face) / 2
            warm = (gas - room_celsius) / (gas + KELVIN)
            # Draught is driven by buoyancy, so the flow goes with the root of the difference.
            draught = vents[ring] * math.sqrt(warm / DRAUGHT_AT) if warm > 0 else 0.0
            drawn = (draught * (gas - room_celsius) + gaps * ((gas + KELVIN) ** 4 - room_fourth)) / 2
            lost += 2 * drawn
            power = watts[ring] / (1 + build.element_rise * element)
            bought += power
            elements[ring] = element + (power - to_wall - to_load) * scale
            lost += wall.step(seconds, to_wall - wall_to_load - drawn, room_celsius)
            gain = (to_load + wall_to_load + from_below - upward - drawn) * seconds
            capacity = self._dry_capacity[ring]
            if self.water[ring] > 0:
                gain -= self._steam(ring, load, seconds)
                capacity += WATER_HEAT * self.water[ring]
            if self.clay_water[ring] > 0 and load > 420:
                gain -= self._clay_gives_water(ring, load, seconds)
            bend = self._dry_capacity[ring] * richer / 2
            loads[ring] = load + warmer_by(gain, capacity + 2 * bend * load, bend)
            from_below = upward
        lost += self.lid.step(seconds, from_below, room_celsius)
        self.account.bought += bought * seconds
        self.account.room += lost * seconds

    def _steam(self, ring: int, celsius: float, seconds: float) -> float:
        """Let free water go; the joules it takes from the load as latent heat.

        Driven by the saturation pressure (Magnus form), so that it creeps when warm and is limited by
        heat alone around 100 degC; the last water sits deep and comes slowly.
        """
        left = self.water[ring]
        warm = min(celsius, 140.0)
        pressure = 610.94 * math.exp(17.625 * warm / (warm + 243.04)) / ATMOSPHERE
        gone = 2.2e-4 * pressure * math.pow(left / self._wet[ring], 0.67) * self._wet[ring] * seconds
        if gone > left or left < 1e-4 * self._wet[ring]:
            gone = left
        self.water[ring] = left - gone
        latent = gone * STEAM_HEAT
        self.account.steam += latent + gone * WATER_HEAT * celsius
        return latent

    def _clay_gives_water(self, ring: int, celsius: float, seconds: float) -> float:
        """Water bound in the clay leaves between about 450 and 600 degC; the joules that takes."""
        left = self.clay_water[ring]
        rate = 6.0e-5 * math.exp(min((celsius - 500.0) / 35.0, 4.0))
        gone = left * min(rate * seconds, 1.0)
        self.clay_water[ring] = left - gone
        self.account.clay += gone * CLAY_WATER_HEAT
        return gone * CLAY_WATER_HEAT

    def stored_joules(self) -> float:
        """Heat above 0 degC in everything."""
        held = sum(wall.stored_joules() for wall in (*self.walls, self.floor, self.lid))
        held += self._element_capacity * sum(self.elements)
        for ring, load in enumerate(self.loads):
            dry = self._dry_capacity[ring] * (1 + self.build.load_heat_rise * load / 2)
            held += (dry + WATER_HEAT * self.water[ring]) * load
        return held

    def state(self) -> dict[str, list[float]]:
        """Everything that changes, for the state file."""
        found = {
            "elements": self.elements,
            "loads": self.loads,
            "water": self.water,
            "clay_water": self.clay_water,
            "floor": self.floor.celsius,
            "lid": self.lid.celsius,
            "account": [self.account.bought, self.account.room, self.account.steam, self.account.clay],
        }
        return found | {f"wall{ring}": wall.celsius for ring, wall in enumerate(self.walls)}

    def restore(self, state: dict[str, list[float]]) -> None:
        """Take up what `state` gave; KeyError when something is missing."""
        self.elements[:] = state["elements"]
        self.loads[:] = state["loads"]
        self.water[:] = state["water"]
        self.clay_water[:] = state["clay_water"]
        self.floor.celsius[:] = state["floor"]
        self.lid.celsius[:] = state["lid"]
        self.account = Account(*state["account"])
        for ring, wall in enumerate(self.walls):
            wall.celsius[:] = state[f"wall{ring}"]
