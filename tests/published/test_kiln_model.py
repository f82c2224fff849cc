"""The watch's own kiln against closed forms and common practice.

Lumped capacitance: Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, section 5.1 (from memory): a body
behind one resistance falls as exp(-t/RC). Steady wall: Fourier's law with conductivity rising in a straight line.
Timing of the manual plan and a day's cooling: common practice, no source.
"""

from math import exp, log

import pytest

from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.core.thermal.physics import FILM, LAYERS, NODES, Heat, Outside, advance, capacity
from spyhole.core.thermal.prior import LEAK, prior

OFF = Outside((0.0,), (0.0,), 20.0)
KILN = Kiln("k", 1300.0, tuple(Ring(n, 3000.0, Probe()) for n in ("bottom", "middle", "top")))


def _simple(**changed: float) -> Heat:
    given = {"full": 500.0, "wall": 0.4, "leak": 0.0, "pace": 0.2, "growth": 0.0, "exchange": 2.0, "draught": 0.0}
    return Heat(**(given | changed), strength=(1.0,))


def test_the_film_and_the_leak_are_what_they_are_said_to_be() -> None:
    """Resistances in series, and black-body radiation (Incropera et al.; Stefan and Boltzmann's constant by CODATA)."""
    assert pytest.approx((1.0 / 12.0) / (0.075 / 0.19), abs=0.005) == FILM
    watts_a_square_metre = 5.670374419e-8 * (1273.15**4 - 293.15**4)
    assert 14e-4 * watts_a_square_metre / 3000.0 == pytest.approx(LEAK[0], abs=0.003)


def test_a_wall_without_mass_is_a_lumped_capacitance() -> None:
    heat, celsius = _simple(pace=5000.0), [60.0] + [40.0] * (NODES - 1)
    conductance = 500.0 * 0.4 / 980.0  # share of full at 1000 degC, over 980 kelvin
    for _ in range(600):
        celsius = advance(heat, celsius, OFF, 0.01)
    told = 20.0 + 40.0 * exp(-conductance * 6.0 / capacity(45.0, OFF))
    assert celsius[0] == pytest.approx(told, abs=0.5)


@pytest.mark.parametrize(("growth", "within"), [(0.0, 1.0), (1.8, 50.0)])
def test_a_steady_wall_loses_the_share_it_is_named_for(growth: float, within: float) -> None:
    """Fourier: with even conductivity wall and film in series are exact; where it rises, the film is only near."""
    heat, celsius = _simple(growth=growth), [1000.0, 900.0, 600.0, 200.0]
    for _ in range(4000):
        celsius = advance(heat, celsius, Outside((0.4,), (0.0,), 20.0), 0.1)
    assert celsius[0] == pytest.approx(1000.0, abs=within)
    if growth == 0.0:
        film = 500.0 * 0.4 / 980.0 * (1.0 + FILM) / FILM
        half = LAYERS[2] / 2 * 500.0 * 0.4 / (500.0 * 0.4 / 980.0 * (1.0 + FILM))
        assert celsius[3] == pytest.approx(20.0 + 500.0 * 0.4 / film + half, abs=1.0)


def test_energy_closes() -> None:
    """Three rings at one temperature with no way out but the wall: what is bought is stored or lost, step by step."""
    heat = Heat(500.0, 1e-9, 0.0, 0.2, 0.0, 4.0, 0.0, (1.4, 1.0, 0.6))
    celsius, outside = [20.0] * NODES * 3, Outside((1.0, 0.5, 0.25), (0.0,) * 3, 20.0)
    hours = 1.0
    for _ in range(100):
        celsius = advance(heat, celsius, outside, hours / 100)
    stored = sum(c - 20.0 + 0.5 * 0.2 / 1000.0 * (c * c - 400.0) for c in celsius[::NODES])
    bought = 500.0 * (1.4 + 0.5 + 0.15) * hours
    assert stored == pytest.approx(bought, rel=0.01)


def test_steam_takes_its_heat_once() -> None:
    heat = _simple(wall=1e-9)
    dry, wet = [20.0] * NODES, [20.0] * NODES
    for _ in range(100):
        dry = advance(heat, dry, Outside((0.5,), (0.0,), 20.0), 0.01)
        wet = advance(heat, wet, Outside((0.5,), (0.0,), 20.0, steam=40.0), 0.01)
    assert (dry[0] - wet[0]) * capacity(260.0, OFF) == pytest.approx(40.0, rel=0.1)


def test_the_kiln_nobody_knows_fires_and_cools_as_common_practice_says() -> None:
    """Candling, 2 h low, 2 h medium, then about 3.5 h of high to an earthenware bisque; about a day to cool."""
    heat, celsius = prior(KILN, (20.0,) * 3, 0).heat, [20.0] * NODES * 3
    for shares, hours in (((0.25, 0.0, 0.0), 10.0), ((0.25,) * 3, 2.0), ((0.5,) * 3, 2.0)):
        for _ in range(round(hours * 10)):
            celsius = advance(heat, celsius, Outside(shares, (0.0,) * 3, 20.0, 40.0, 80.0), 0.1)
    high = 0.0
    while celsius[NODES] < 1040.0:
        celsius = advance(heat, celsius, Outside((1.0,) * 3, (0.0,) * 3, 20.0, 40.0, 80.0), 0.1)
        high += 0.1
        assert high < 8.0
    assert 2.0 < high < 5.0
    cooling = 0.0
    while celsius[NODES] > 100.0:
        celsius = advance(heat, celsius, Outside((0.0,) * 3, (0.0,) * 3, 20.0), 0.2)
        cooling += 0.2
        assert cooling < 60.0
    assert 15.0 < cooling < 36.0


def test_watts_fall_with_the_square_of_volts() -> None:
    """Ohm and Joule: on 95 % of the volts a ring climbs as with 0.9025 of its watts."""
    heat = _simple(wall=1e-9)
    full = advance(heat, [20.0] * NODES, Outside((1.0,), (0.0,), 20.0), 0.1)[0] - 20.0
    sagged = advance(heat, [20.0] * NODES, Outside((0.95**2,), (0.0,), 20.0), 0.1)[0] - 20.0
    assert sagged / full == pytest.approx(0.9025, rel=1e-6)
    assert log(sagged / full) == pytest.approx(2 * log(0.95), rel=1e-6)
