"""The heat of the emulated kiln does what kilns do."""

from dataclasses import replace

import pytest

from spyhole_hardware.emulated.puffin import BUILD, GREENWARE, GREENWARE_LIGHT
from spyhole_hardware.emulated.thermal import Heat, Load, warmer_by

DRY = tuple(Load(load.ware_kilograms, load.shelf_kilograms) for load in GREENWARE)
OFF = (0.0, 0.0, 0.0)
CLOSED = Heat(BUILD, DRY, 20).vents(["in"] * 3, "closed")


def after(
    hours: float,
    heat: Heat,
    watts: tuple[float, float, float],
    vents: list[float] | None = None,
    room: float = 20,
) -> Heat:
    for _ in range(int(hours * 720)):
        heat.step(5, watts, vents or CLOSED, room)
    return heat


def test_a_cold_kiln_in_a_cold_room_stays_cold() -> None:
    heat = after(5, Heat(BUILD, DRY, -3), OFF, room=-3)
    assert heat.loads == pytest.approx([-3] * 3)


def test_rings_share_their_heat_upwards_more_than_downwards() -> None:
    lit_below = after(5, Heat(BUILD, DRY, 20), (775, 0, 0))
    lit_above = after(5, Heat(BUILD, DRY, 20), (0, 0, 775))
    assert lit_below.loads[0] > lit_below.loads[1] > lit_below.loads[2] > 30
    assert lit_below.loads[2] > lit_above.loads[0]


def test_water_holds_the_load_back_near_100_until_it_is_gone() -> None:
    wet = after(3, Heat(BUILD, GREENWARE, 20), (775, 0, 0))
    dry = after(3, Heat(BUILD, DRY, 20), (775, 0, 0))
    assert 0 < wet.water[0] < GREENWARE[0].water_kilograms
    assert 70 < wet.loads[0] < 105
    assert dry.loads[0] > wet.loads[0] + 20
    assert after(5, wet, (775, 0, 0)).water[0] == 0


def test_the_wetter_bottom_is_damp_for_longer() -> None:
    def damp_hours(load: tuple[Load, ...]) -> float:
        heat, hours = Heat(BUILD, load, 20), 0.0
        while heat.water[0] > 0.05:
            after(0.25, heat, (775, 0, 0))
            hours += 0.25
        return hours

    assert damp_hours(GREENWARE) > damp_hours(GREENWARE_LIGHT)


def test_the_clay_gives_up_its_bound_water_between_450_and_650() -> None:
    heat = after(0, Heat(BUILD, GREENWARE_LIGHT, 20), OFF)
    held = GREENWARE_LIGHT[1].clay_water_kilograms
    while heat.loads[1] < 450:
        after(0.05, heat, (3100, 2900, 3000))
    assert heat.clay_water[1] > 0.95 * held
    while heat.loads[1] < 650:
        after(0.05, heat, (3100, 2900, 3000))
    assert heat.clay_water[1] < 0.1 * held


@pytest.mark.parametrize(
    ("tight", "airy"),
    [
        (("in", "closed"), ("half", "closed")),
        (("half", "closed"), ("out", "closed")),
        (("in", "closed"), ("in", "cracked")),
        (("in", "cracked"), ("in", "propped")),
        (("in", "propped"), ("in", "open")),
    ],
)
def test_the_more_is_open_the_faster_it_cools(tight: tuple[str, str], airy: tuple[str, str]) -> None:
    def left(plugs: str, lid: str) -> float:
        heat = Heat(BUILD, DRY, 200)
        return sum(after(2, heat, OFF, heat.vents([plugs] * 3, lid)).loads)

    assert left(*airy) < left(*tight) - 1


def test_elements_glow_above_the_load_and_go_out_within_minutes() -> None:
    hot = after(6, Heat(BUILD, DRY, 20), (3100, 2900, 3000))
    assert hot.elements[1] > hot.loads[1] + 30
    dark = after(0.1, hot, OFF)
    assert dark.elements[1] < dark.loads[1] + 8


def test_energy_closes_where_heat_capacity_and_resistance_rise() -> None:
    """Bought, lost, carried off and kept come to nothing, whatever the bodies hold at each heat."""
    brick = replace(BUILD.brick, specific_heat=800, specific_heat_rise=4e-4)
    heat = Heat(replace(BUILD, brick=brick, load_heat=800, load_heat_rise=5e-4, element_rise=4e-5), GREENWARE, 20)
    before = heat.stored_joules()
    after(4, heat, (3100, 2900, 3000))
    account = heat.account
    kept = heat.stored_joules() - before
    assert account.bought - account.room - account.steam - account.clay == pytest.approx(kept, rel=1e-9)
    assert account.bought < 4 * 3600 * 9000


def test_a_body_is_warmed_by_the_integral_of_its_heat_capacity() -> None:
    """100 J/K and 0.2 J/K more a degree: from 0 to 50 degC takes 100 * 50 + 0.1 * 50 * 50 = 5250 J."""
    assert warmer_by(5250, 100, 0.1) == pytest.approx(50)
    assert warmer_by(5250, 100, 0) == pytest.approx(52.5)
    assert warmer_by(-5250, 110, 0.1) == pytest.approx(-50, abs=0.05)
