"""The law by which kilns cool, held to kilns it was not fitted to.

The walls it was fitted to are held to Incropera and DeWitt, Fundamentals of Heat and Mass Transfer: the plane wall with
convection of the chapter on transient conduction, first term of the series at Bi = 1 (zeta 0.8603, C 1.1191).
"""

import sys
from math import cos, exp, log
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.thermal.cooling_law import TERMS, Bend, counts, deviation, hours_left, terms
from spyhole_hardware.emulated.puffin import BUILD, GREENWARE
from spyhole_hardware.emulated.thermal import Heat

sys.path.insert(0, str(Path(__file__).parent))

from cooling_family import EACH_HOURS, Cooled, Slab, cooled, law, seen

ROOM = 20.0


def strays(kilns: Cooled, hours: float) -> tuple[float, float]:
    """Mean and deviation of the logarithm of what was left over what the law said."""
    off = [log(left / said) for bend, left in seen(kilns, hours) if (said := hours_left(bend)) is not None]
    return float(np.mean(off)), float(np.std(off))


@pytest.fixture(scope="module")
def unseen() -> Cooled:
    """Kilns of the same family that the law was not fitted to."""
    return cooled(300, 7)


def test_the_walls_of_the_family_cool_as_the_published_series_has_it() -> None:
    thick, heat, density, passes = 0.1, 1000.0, 500.0, 0.2
    one = {
        "cold": passes, "rise": 0.0, "density": density, "heat": heat, "heat_rise": 0.0, "shell": passes / thick,
    }  # fmt: skip
    slab = Slab(np.ones(1), np.full(1, thick), {k: np.full(1, v) for k, v in one.items()}, np.full(1, 1000.0))
    seconds_per_fourier = thick**2 * density * heat / passes
    steps, room = 4000, np.full(1, ROOM)
    for step in range(1, steps + 1):
        own, watts = slab.faced(seconds_per_fourier / steps, room)
        slab.settle(watts / own)
        fourier = step / steps
        if step in (steps // 2, steps):
            face = (slab.celsius[0, 0] - ROOM) / (1000.0 - ROOM)
            middle_of_layer = cos(0.8603 * 0.03)
            assert face == pytest.approx(1.1191 * exp(-(0.8603**2) * fourier) * middle_of_layer, rel=0.01)


@pytest.mark.parametrize(("hours", "most"), [(0.5, 0.13), (1.0, 0.10), (2.0, 0.075), (4.0, 0.07), (8.0, 0.09)])
def test_kilns_it_was_not_fitted_to_cool_as_it_says(unseen: Cooled, hours: float, most: float) -> None:
    mean, spread = strays(unseen, hours)
    assert abs(mean) < 0.03
    assert spread < most
    assert spread < 1.8 * deviation(hours), "it says about how far it strays"


def test_that_the_last_pace_goes_on_is_no_such_law(unseen: Cooled) -> None:
    """The yardstick: what a straight line through the logarithm would say."""
    off = [log(left / bend.at_that_pace) for bend, left in seen(unseen, 1.0)]
    assert np.std(off) > 1.4 * strays(unseen, 1.0)[1]
    assert np.mean(off) > 0.3, "cooling slows down"


def test_another_draw_of_the_family_gives_the_same_law(unseen: Cooled) -> None:
    limits, found = law(cooled(700, 11))
    for hours in (1.0, 4.0):
        apart = [
            float(np.dot(found, terms(bend, limits))) - sum(a * b for a, b in zip(TERMS, terms(bend), strict=True))
            for bend, _ in seen(unseen, hours)
        ]
        assert np.std(apart) < 0.03
        assert abs(np.mean(apart)) < 0.015


@pytest.mark.parametrize("hours", [1.0, 3.0, 6.0])
def test_puffin_which_is_of_another_make_cools_as_it_says(hours: float) -> None:
    heat, shut = Heat(BUILD, GREENWARE, ROOM), ("in",) * 3
    vents = heat.vents(shut, "closed")
    for share in (0.25, 0.5, 1.0):
        until = {0.25: 300.0, 0.5: 550.0, 1.0: 1040.0}[share]
        while max(heat.loads) < until:
            heat.step(5, [3000.0 * share] * 3, vents, ROOM)
    peak, curve, gone = max(heat.loads), [], 0
    while max(heat.loads) > 100.0:
        heat.step(5, [0.0] * 3, heat.vents(shut, "cracked" if max(heat.loads) < 135.0 else "closed"), ROOM)
        gone += 5
        if gone % round(EACH_HOURS * 3600) == 0:
            curve.append(max(heat.loads))

    def above(part: float) -> float:
        return float(np.interp(part * hours, EACH_HOURS * np.arange(1, len(curve) + 1), curve)) - ROOM

    said = hours_left(Bend(hours, peak - ROOM, above(1 / 3), above(2 / 3), above(1.0), 80.0))
    assert said is not None
    assert abs(log((gone / 3600 - hours) / said)) < 2 * deviation(hours)


falling = st.lists(st.floats(1.0, 1400.0), min_size=5, max_size=5, unique=True).map(lambda c: sorted(c, reverse=True))


@given(falling, st.floats(0.5, 9.0))
def test_whatever_falls_comes_to_an_end(celsius: list[float], hours: float) -> None:
    said = hours_left(Bend(hours, *celsius))
    assert said is not None
    assert 0.0 <= said < float("inf")


@given(falling, st.floats(0.5, 9.0), st.permutations(range(5)).filter(lambda order: order != sorted(order)))
def test_of_what_does_not_fall_nothing_is_said(celsius: list[float], hours: float, order: list[int]) -> None:
    assert hours_left(Bend(hours, *(celsius[i] for i in order))) is None


def test_it_is_taken_up_and_left_again_without_a_jump() -> None:
    assert counts(0.4, 900.0) == counts(9.5, 400.0) == counts(3.0, 150.0) == 0.0
    assert counts(1.0, 900.0) == counts(8.0, 300.0) == 1.0
    for hours in np.arange(0.3, 9.5, 0.05):
        assert abs(counts(hours + 0.05, 500.0) - counts(hours, 500.0)) < 0.11
