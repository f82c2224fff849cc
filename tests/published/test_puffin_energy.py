"""The emulated kiln's physics and numerics against handbooks and arithmetic.

Incropera and DeWitt, Fundamentals of Heat and Mass Transfer: example 5.1 (thermocouple junction) and the
plane wall of table 5.1, both from memory; the wall's two constants are worked out again here from its
own characteristic equation. Ohm for the mains. Timings of the manual plan: common practice, no source.
"""

import math

import pytest

from spyhole.core.kiln import Switch
from spyhole_hardware.emulated.firing import fire
from spyhole_hardware.emulated.kiln import STEP_SECONDS, EmulatedKiln
from spyhole_hardware.emulated.probe import Lag
from spyhole_hardware.emulated.puffin import BISQUE_04, BUILD, GREENWARE, KILN
from spyhole_hardware.emulated.rehearsal import Rehearsal
from spyhole_hardware.emulated.script import Script
from spyhole_hardware.emulated.thermal import STEAM_HEAT, Brick, Heat, Wall, share_of_watts

COMMON = Script(BISQUE_04, GREENWARE, seed=1)


def test_a_thermocouple_junction_reaches_199_of_200_in_5_2_seconds() -> None:
    """Example 5.1: h 400 W/m2K, rho 8500 kg/m3, c 400 J/kgK, sphere of 0.706 mm, from 25 into gas at 200 degC."""
    time_constant = 8500 * 400 * 0.706e-3 / (6 * 400)
    junction = Lag(time_constant, 25)
    assert time_constant == pytest.approx(1.0, abs=0.005)
    assert junction.after(5.2, 200) == pytest.approx(199, abs=0.1)


@pytest.mark.parametrize("fourier", [0.5, 1.0, 2.0])
def test_a_plane_wall_cools_as_the_one_term_solution(fourier: float) -> None:
    """Bi = 1, adiabatic face: theta = C exp(-zeta^2 Fo), zeta tan zeta = 1 (0.8603), C = 1.1191.

    From Fo 0.5 on the terms left out are below 0.0005.
    """
    zeta = 0.8603
    assert zeta * math.tan(zeta) == pytest.approx(1, abs=1e-3)
    constant = 4 * math.sin(zeta) / (2 * zeta + math.sin(2 * zeta))
    assert constant == pytest.approx(1.1191, abs=1e-4)
    brick = Brick(conductivity_at_zero=0.2, conductivity_rise=0, density=520, specific_heat=1050)
    wall = Wall(1.0, [2.5] * 40, brick, outside_coefficient=2.0, celsius=100)
    seconds = fourier * 0.1**2 * 520 * 1050 / 0.2
    for _ in range(round(seconds / STEP_SECONDS)):
        wall.step(STEP_SECONDS, 0.0, 0.0)
    assert wall.celsius[0] / 100 == pytest.approx(constant * math.exp(-(zeta**2) * fourier), abs=0.001)


def test_the_walls_four_layers_store_heat_like_forty() -> None:
    """The kiln's coarse wall against a fine one, in the time a firing takes and after."""
    coarse = Wall(0.48, BUILD.wall_layers, BUILD.brick, BUILD.outside_coefficient, 16)
    fine = Wall(0.48, [1.75] * 40, BUILD.brick, BUILD.outside_coefficient, 16)
    for step in range(20 * 3600):
        watts = 600.0 if step < 4 * 3600 else 0.0
        coarse.step(1, watts, 16)
        fine.step(1, watts, 16)
        if step % 7200 == 7199:
            assert coarse.stored_joules() == pytest.approx(fine.stored_joules(), rel=0.05)


def test_energy_closes_over_a_whole_firing() -> None:
    """What was bought is in the room, in the steam, in the clay, or still in the kiln: to 0.1 %."""
    rehearsal = Rehearsal(KILN, BUILD, COMMON, start_utc_ms=0)
    heat = rehearsal.kiln.heat
    cold = heat.stored_joules()
    for _ in fire(rehearsal, 600):
        account = heat.account
        spent = account.room + account.steam + account.clay + heat.stored_joules() - cold
        assert spent == pytest.approx(account.bought, rel=1e-3, abs=1)
    water = sum(load.water_kilograms for load in GREENWARE)
    assert sum(heat.water) < 0.001
    assert water * STEAM_HEAT < account.steam < 1.25 * water * STEAM_HEAT


def test_what_was_bought_is_what_the_switches_took() -> None:
    kiln = EmulatedKiln(KILN, BUILD, COMMON, 0)
    kiln.timer.wind(60)
    joules = 0.0
    for switch in (Switch.LOW, Switch.MEDIUM, Switch.HIGH, Switch.OFF):
        kiln.turn(1, switch)
        for _ in range(60):
            volts = COMMON.volts_at(kiln.ms / 1000, 230)
            joules += 2900 * {"low": 0.25, "medium": 0.5, "high": 1, "off": 0}[switch] * (volts / 230) ** 2 * 5
            kiln.step()
    assert kiln.heat.account.bought == pytest.approx(joules, rel=1e-9)


def test_watts_go_with_the_square_of_the_volts() -> None:
    """208 V on 240 V elements leaves 0.751 of the watts, a sag of 5 % leaves 0.9025 (Ohm)."""
    assert share_of_watts(208, 240) == pytest.approx(0.751, abs=5e-4)
    assert share_of_watts(0.95 * 230, 230) == pytest.approx(0.9025)


def test_the_step_is_small_enough() -> None:
    """Five seconds and one second give the same kiln, even far above its maximum."""
    coarse, fine = Heat(BUILD, GREENWARE, 20), Heat(BUILD, GREENWARE, 20)
    vents = coarse.vents(["in"] * 3, "closed")
    for step in range(15 * 720):
        coarse.step(5, (3100, 2900, 3000), vents, 20)
        for _ in range(5):
            fine.step(1, (3100, 2900, 3000), vents, 20)
        if step % 360 == 359:
            assert coarse.loads == pytest.approx(fine.loads, abs=0.5)
            assert coarse.elements == pytest.approx(fine.elements, abs=0.5)
    assert min(coarse.loads) > KILN.maximum_celsius


def test_the_common_manual_plan_takes_as_long_as_it_does_in_studios() -> None:
    """10 h bottom low, 2 h all low, 2 h all medium: cone 04 about 3.5 h on high, under 50 degC about a day later."""
    rehearsal = Rehearsal(KILN, BUILD, COMMON, start_utc_ms=0)
    turned_high = tripped = cold = None
    for moment, reading in fire(rehearsal, 60):
        hour = moment.monotonic_ms / 3.6e6
        hottest = max(probe.celsius or 0 for probe in reading.probes)
        if turned_high is None and set(rehearsal.kiln.switches) == {Switch.HIGH}:
            turned_high = hour
        if tripped is None and rehearsal.kiln.shutoff.tripped:
            tripped = hour
            assert hottest == pytest.approx(1070, abs=15)
        if tripped is not None and cold is None and hottest < 50:
            cold = hour
    assert turned_high is not None
    assert tripped is not None
    assert cold is not None
    assert turned_high == pytest.approx(14, abs=0.6)
    assert 3.0 <= tripped - turned_high <= 4.0
    assert 20 <= cold - tripped <= 30
