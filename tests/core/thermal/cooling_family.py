"""A family of kilns that heat and cool, by a finer model than the engine's: the one the cooling law was fitted to.

`.venv/bin/python tests/core/thermal/cooling_family.py` draws the family and prints the law.

Each kiln is one zone: elements, ware, a round wall and its two ends, each of eight layers. What faces each other
exchanges radiation and a little by air; conductivity and heat capacity of brick and ware rise with temperature; the
shell loses heat to the room, seams and peepholes leak. It shares no line with the engine's model, the emulated kiln or
the proving ground. Ranges are those of small kilns of insulating brick (typical values of makers' tables and
handbooks, from memory; loads, seams and habits: common practice, no source).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from spyhole.core.thermal.cooling_law import LEAST_CELSIUS, TARGET_CELSIUS, Bend, Limits, bends, terms

Vector = NDArray[np.float64]
STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m2 K4), CODATA 2018
KELVIN = 273.15
LAYERS = (0.06, 0.08, 0.11, 0.14, 0.15, 0.15, 0.15, 0.16)
"""Shares of a wall's thickness from the hot face: thin where it changes fast."""
EACH_HOURS, CURVE_HOURS = 0.05, 9.0
LONGEST_HEATING_HOURS, LONGEST_COOLING_HOURS = 26.0, 80.0
CRACKED_CELSIUS = 135.0
KILNS, SEED = 4000, 2
HOURS = (0.5, 0.65, 0.8, 1, 1.25, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8)
"""Since the end, at which the law is fitted."""
BY_AIR = 3.0  # W/(m2 K) between surfaces in a shut chamber


@dataclass(frozen=True, slots=True)
class Cooled:
    """Kilns as rows. room, peak: degC, as a probe has it when the heat ends. hours: from then until ware is at 100.

    curves: what the probe reads each `EACH_HOURS` from the first on [degC].
    """

    room: Vector
    peak: Vector
    hours: Vector
    curves: Vector


class Slab:
    """Walls of one brick each, implicit in time, so that steps of any length are stable."""

    def __init__(self, area: Vector, metres: Vector, brick: dict[str, Vector], celsius: Vector) -> None:
        self.brick, self.area = brick, area
        depth = metres[:, None] * np.array(LAYERS)
        self.celsius = np.repeat(celsius[:, None], len(LAYERS), axis=1)
        self._heat = area[:, None] * depth * (brick["density"] * brick["heat"])[:, None]
        self._between = area[:, None] / ((depth[:, 1:] + depth[:, :-1]) / 2)
        self._last = depth[:, -1] / 2

    def faced(self, seconds: float, room: Vector) -> tuple[Vector, Vector]:
        """What the hot face is to those that face it: its own conductance in time [W/K], and the watts it brings.

        The layers behind it are eliminated, from the shell inwards (Thomas's algorithm); `settle` finds them again.
        """
        brick, celsius = self.brick, self.celsius
        grown = self._heat * (1 + brick["heat_rise"][:, None] * celsius) / seconds
        between = self._between * (
            brick["cold"][:, None] + brick["rise"][:, None] * (celsius[:, 1:] + celsius[:, :-1]) / 2
        )
        out = self.area / (self._last / (brick["cold"] + brick["rise"] * celsius[:, -1]) + 1 / brick["shell"])
        own, watts = grown[:, -1] + out, grown[:, -1] * celsius[:, -1] + out * room
        self._own, self._watts, self._now = [own], [watts], between
        for layer in range(celsius.shape[1] - 2, -1, -1):
            link = between[:, layer]
            part = link / (own + link)
            own, watts = grown[:, layer] + part * own, grown[:, layer] * celsius[:, layer] + part * watts
            self._own.append(own)
            self._watts.append(watts)
        return own, watts

    def settle(self, face: Vector) -> None:
        """Every layer after the step, from where the face came to be [degC]."""
        self.celsius[:, 0] = face
        for layer in range(1, self.celsius.shape[1]):
            link, place = self._now[:, layer - 1], -1 - layer
            own, watts = self._own[place], self._watts[place]
            self.celsius[:, layer] = (watts + link * self.celsius[:, layer - 1]) / (own + link)


class Family:
    """So many kilns of this seed, cold."""

    def __init__(self, kilns: int, seed: int) -> None:
        drawn = np.random.default_rng(seed)

        def between(low: float, high: float) -> Vector:
            return drawn.uniform(low, high, kilns)

        def about(low: float, high: float) -> Vector:
            return np.exp(drawn.uniform(np.log(low), np.log(high), kilns))

        wide, rings, thick = between(0.28, 0.8), drawn.choice([1, 2, 3, 3, 3, 4, 5], kilns), between(0.06, 0.14)
        high = between(0.11, 0.27) * rings
        brick = {
            "cold": between(0.05, 0.18), "rise": between(0.7e-4, 2.8e-4), "density": between(420, 850),
            "heat": between(780, 1050), "heat_rise": between(0, 5e-4), "shell": between(8, 16),
        }  # fmt: skip
        self.room, self.peak = between(-3, 32), between(850, 1290)
        around, ends = np.pi * (wide + thick) * high, np.pi * (wide + thick) ** 2 / 2
        ends_thick = thick * between(1.0, 1.6)
        self.wall, self.ends = Slab(around, thick, brick, self.room), Slab(ends, ends_thick, brick, self.room)
        kilograms = np.pi * wide**2 / 4 * high * about(70, 600)
        self.ware_heat, self.ware_heat_rise = kilograms * between(780, 1050), between(0, 6e-4)
        self.elements_heat = kilograms * between(0.03, 0.15) * 700
        self.ware_face, emits = around * about(0.3, 2.0), between(0.4, 0.85)
        self.around, self.ends_face = around, ends / 2
        self.radiates = {
            "wall": 0.25 * around * emits, "ware": 0.25 * self.ware_face * emits, "across": self.ware_face * emits,
            "ends": self.ends_face * emits * between(0.5, 1.0),
        }  # fmt: skip
        self.leak = between(0.1, 1.2) * (wide / 0.57) * (high / 0.24)
        self.holes = between(0, 25e-4) * rings * (wide / 0.57)
        self.cracked = between(0.4, 2.5) * (wide / 0.57) ** 2
        through = (brick["cold"] + brick["rise"] * (self.peak + 100) / 2) * (self.peak - 60)
        self.watts = 0.8 * through * (around / thick + ends / ends_thick) * between(1.5, 3.0)
        self.low_hours, self.medium_hours = between(0.5, 10), between(1.2, 2.6)
        ware = between(0.35, 1.0)
        face = (1 - ware) * between(0.5, 1.0)
        self.probe = ware, face, 1 - ware - face
        self.elements, self.ware = self.room.copy(), self.room.copy()

    def state(self) -> tuple[Vector, ...]:
        """Everything that changes."""
        return self.elements, self.ware, self.wall.celsius, self.ends.celsius

    def restore(self, kept: tuple[Vector, ...], where: NDArray[np.bool_]) -> None:
        """Take these kilns back to how they were."""
        for now, before in zip(self.state(), kept, strict=True):
            now[where] = before[where]

    def reads(self) -> Vector:
        """What a probe between ware, wall and elements reads [degC]."""
        ware, face, elements = self.probe
        return ware * self.ware + face * self.wall.celsius[:, 0] + elements * self.elements

    def step(self, seconds: float, watts: Vector, lid: Vector) -> None:
        """One step by backward Euler, radiation linear about where things stand. lid: what it lets out [W/K]."""
        wall, ends, radiates = self.wall.celsius[:, 0], self.ends.celsius[:, 0], self.radiates
        to_wall = radiates["wall"] * _radiation(self.elements, wall) + BY_AIR * self.around / 4
        to_ware = radiates["ware"] * _radiation(self.elements, self.ware) + BY_AIR * self.ware_face / 4
        across = radiates["across"] * _radiation(self.ware, wall) + BY_AIR * self.ware_face
        to_ends = radiates["ends"] * _radiation(self.ware, ends) + BY_AIR * self.ends_face
        gas = (self.ware + wall) / 2
        buoyant = np.sqrt(np.maximum(gas - self.room, 0) / (gas + KELVIN) / 0.5)
        lost = ((self.leak + lid) * buoyant + self.holes * _radiation(gas, self.room)) / 2
        own_wall, watts_wall = self.wall.faced(seconds, self.room)
        own_ends, watts_ends = self.ends.faced(seconds, self.room)
        ware_own = self.ware_heat * (1 + self.ware_heat_rise * self.ware) / seconds
        elements_own = self.elements_heat / seconds
        # Elements and ends are eliminated; wall and ware are left, two equations of two unknowns.
        e = elements_own + to_wall + to_ware
        given = elements_own * self.elements + watts
        d = own_ends + to_ends
        a = own_wall + to_wall + across + lost - to_wall**2 / e
        b = ware_own + to_ware + across + to_ends + lost - to_ware**2 / e - to_ends**2 / d
        c = across + to_wall * to_ware / e
        right_wall = watts_wall + lost * self.room + to_wall * given / e
        right_ware = ware_own * self.ware + lost * self.room + to_ware * given / e + to_ends * watts_ends / d
        whole = a * b - c * c
        face = (right_wall * b + c * right_ware) / whole
        self.ware = (right_ware * a + c * right_wall) / whole
        self.elements = (given + to_wall * face + to_ware * self.ware) / e
        self.wall.settle(face)
        self.ends.settle((watts_ends + to_ends * self.ware) / d)


def _radiation(one: Vector, other: Vector) -> Vector:
    """Of one square metre that faces another [W/K]."""
    a, b = one + KELVIN, other + KELVIN
    return STEFAN_BOLTZMANN * (a * a + b * b) * (a + b)


def cooled(kilns: int, seed: int) -> Cooled:
    """So many kilns fired on low, medium and high to a peak each, and left shut; those too weak for it are left out."""
    family = Family(kilns, seed)
    peak, shut = _fired(family), np.zeros(kilns)
    known = ~np.isnan(peak)
    hours, marks = np.full(kilns, np.nan), np.arange(1, round(CURVE_HOURS / EACH_HOURS) + 1) * EACH_HOURS
    curves, lid, gone, place = np.full((kilns, len(marks)), np.nan), shut.copy(), 0.0, 0
    while gone < LONGEST_COOLING_HOURS and np.any(known & np.isnan(hours)):
        seconds = 10.0 if gone < 2 else 30.0 if gone < CURVE_HOURS else 60.0
        before = family.ware.copy()
        family.step(seconds, shut, lid)
        gone += seconds / 3600
        if place < len(marks) and gone >= marks[place] - 1e-9:
            curves[:, place] = family.reads()
            place += 1
        lid = np.where(family.ware < CRACKED_CELSIUS, family.cracked, 0.0)
        cool = known & np.isnan(hours) & (family.ware <= TARGET_CELSIUS)
        part = (before - TARGET_CELSIUS) / (before - family.ware)
        hours[cool] = (gone + (part - 1) * seconds / 3600)[cool]
    good = known & ~np.isnan(hours) & np.isfinite(curves).all(axis=1)
    return Cooled(family.room[good], peak[good], hours[good], curves[good])


def _fired(family: Family) -> Vector:
    """What each probe reads as its kiln goes off, which is left as it is then; NaN where it never gets there."""
    peak, gone = np.full(len(family.room), np.nan), 0.0
    while gone < LONGEST_HEATING_HOURS and np.any(np.isnan(peak)):
        late = gone - family.low_hours
        share = np.where(late < 0, 0.2, np.where(late < family.medium_hours, 0.5, 1.0))
        kept = tuple(each.copy() for each in family.state())
        family.step(30.0, share * family.watts, np.zeros_like(peak))
        gone += 30.0 / 3600
        over = ~np.isnan(peak)
        family.restore(kept, over)
        now = family.reads()
        there = ~over & (now >= family.peak)
        peak[there] = now[there]
    return peak


def seen(kilns: Cooled, hours: float) -> list[tuple[Bend, float]]:
    """Each kiln's bend so long after its end, where it is still hot enough, and the hours that were left then."""
    marks = np.arange(1, kilns.curves.shape[1] + 1) * EACH_HOURS
    found = []
    for room, peak, whole, curve in zip(kilns.room, kilns.peak, kilns.hours, kilns.curves, strict=True):
        third, two_thirds, now = np.interp((hours / 3, 2 * hours / 3, hours), marks, curve)
        bend = Bend(hours, peak - room, third - room, two_thirds - room, now - room, TARGET_CELSIUS - room)
        if now > LEAST_CELSIUS and bend.peak > bend.third > bend.two_thirds > bend.now:
            found.append((bend, float(whole - hours)))
    return found


def law(kilns: Cooled) -> tuple[Limits, Vector]:
    """Limits and terms that fit these kilns: least squares, a little pulled towards none (ridge)."""
    all_seen = [one for hours in HOURS for one in seen(kilns, hours)]
    spread = np.quantile([bends(bend) for bend, _ in all_seen], (0.005, 0.995), axis=0)
    limits = tuple((round(float(low), 2), round(float(high), 2)) for low, high in spread.T)
    given = np.array([terms(bend, limits) for bend, _ in all_seen])
    slower = np.log([left / bend.at_that_pace for bend, left in all_seen])
    middle, wide = given.mean(axis=0), given.std(axis=0)
    middle[0], wide[0] = 0.0, 1.0
    pull = 0.3 * np.eye(given.shape[1])
    pull[0, 0] = 0.0
    scaled = (given - middle) / wide
    found = np.linalg.solve(scaled.T @ scaled + pull, scaled.T @ slower) / wide
    found[0] -= middle[1:] @ found[1:]
    return limits, found


if __name__ == "__main__":
    found_limits, found_terms = law(cooled(KILNS, SEED))
    print("LIMITS =", found_limits)
    print("TERMS =", tuple(round(float(x), 4) for x in found_terms))
