"""The kiln model's numerics against what textbooks print (values from memory; the relations are checked themselves)."""

from math import exp, log

import pytest

from spyhole.core.thermal.physics import (
    CAPACITY_GROWTH,
    CONDUCTIVITY_GROWTH,
    OUTER_FILM,
    Heat,
    advance,
    capacity,
    leaks,
)


def test_lumped_capacitance_example_5_1() -> None:
    """Incropera et al., example 5.1: a junction with a time constant of 1 s, 25 to 199 degC in a 200 degC gas: 5.2 s.

    The wall is a reservoir held at the gas' temperature; capacities are those of a ring near 0 degC, so the growth
    with temperature is kept out by working a thousandth of the step (0.025 to 0.199 in 0.2).
    """
    per_hour = 4.0
    heat = Heat(full=0.0, wall=per_hour / 4.0, mass=1e9, exchange=0.0, strength=(1.0,))
    celsius, hours, step = [0.025, 0.2, 0.2], 0.0, 0.001
    while celsius[0] < 0.199:
        celsius = advance(heat, celsius, (0.0,), 0.2, step)
        hours += step
    time_constants = hours * per_hour
    assert time_constants == pytest.approx(log(175.0), rel=0.01)
    assert time_constants == pytest.approx(5.2, abs=0.06)


def test_energy_closes() -> None:
    """What the elements gave is in the ware, in the wall, or lost through the outer film: nothing else."""
    heat = Heat(full=400.0, wall=0.4, mass=1.6, exchange=2.0, strength=(0.9, 1.0, 1.1))
    celsius, room, step = [20.0] * 9, 20.0, 0.002
    given = lost = 0.0

    def stored(nodes: list[float]) -> float:
        def one(c: float) -> float:
            return c + CAPACITY_GROWTH * c * c / 2000.0

        return sum(one(c) * (1.0 if i % 3 == 0 else heat.mass / 2.0) for i, c in enumerate(nodes))

    at_first = stored(celsius)
    for _ in range(2000):
        before = celsius
        celsius = advance(heat, celsius, (1.0, 0.5, 1.0), room, step)
        given += heat.full * (0.9 * 1.0 + 1.0 * 0.5 + 1.1 * 1.0) * step
        for ring in range(3):
            inner = (before[3 * ring + 1] + celsius[3 * ring + 1]) / 2.0
            outer = (before[3 * ring + 2] + celsius[3 * ring + 2]) / 2.0
            ware = (before[3 * ring] + celsius[3 * ring]) / 2.0
            wall = heat.wall * (1.0 + CONDUCTIVITY_GROWTH * inner / 1000.0)
            film = OUTER_FILM * heat.wall
            lost += leaks(heat, ware, room) * step
            lost += 4.0 * wall * film / (4.0 * wall + film) * (outer - room) * step
    assert stored(celsius) - at_first == pytest.approx(given - lost, rel=1e-4)


def test_sag_goes_with_the_square() -> None:
    """P = V^2/R (Ohm, Joule): five in a hundred less volts is 0.9025 of the watts, and of the first climb."""
    heat = Heat(full=400.0, wall=0.4, mass=1.6, exchange=0.0, strength=(1.0,))
    cold = [0.0, 0.0, 0.0]
    full = advance(heat, cold, (1.0,), 0.0, 1e-4)[0]
    sagged = advance(heat, cold, ((218.5 / 230.0) ** 2,), 0.0, 1e-4)[0]
    assert sagged / full == pytest.approx(0.9025, abs=1e-4)


def test_a_kiln_alone_decays_as_newton_says() -> None:
    """With no power and a wall without mass to speak of, what is above the room falls as exp(-t/RC) within 1 %."""
    heat = Heat(full=0.0, wall=0.05, mass=0.02, exchange=0.0, strength=(1.0,))
    celsius, step = [1.0, 0.82, 0.2], 0.01
    for _ in range(300):
        celsius = advance(heat, celsius, (0.0,), 0.0, step)
    film = OUTER_FILM * 0.05
    resistance = 1 / (4 * 0.05) + 1 / (2 * 0.05) + 1 / (4 * 0.05) + 1 / film
    settled = celsius[0]
    for _ in range(500):
        celsius = advance(heat, celsius, (0.0,), 0.0, step)
    assert celsius[0] / settled == pytest.approx(exp(-5.0 / resistance), rel=0.01)
    assert capacity(0.0) == 1.0
