"""What one firing taught is taken up by the next."""

from dataclasses import replace
from math import log

import pytest

from spyhole.core.kiln import Chamber, Kiln, Probe, Ring
from spyhole.core.thermal.belief import moved, predict, see
from spyhole.core.thermal.physics import NAMES, NODES, Heat, Outside
from spyhole.core.thermal.prior import ANOTHER_LOAD, FULL, bounds, lessons, prior, recalled, with_lid

KILN = Kiln("k", 1300.0, tuple(Ring(n, 2400.0, Probe()) for n in ("bottom", "middle", "top")))
HIGH = Outside((1.0,) * 3, (0.0,) * 3, 20.0)


def test_lessons_of_a_firing_are_the_next_ones_prior() -> None:
    true = Heat(700.0, 0.4, 0.1, 0.15, 1.5, 2.0, 0.4, (1.0,) * 3)
    belief, celsius = prior(KILN, (20.0,) * 3, 0), [20.0] * NODES * 3
    for minute in range(10, 200, 10):
        celsius = moved(true, celsius, HIGH, 1 / 6)
        belief = predict(belief, minute * 60_000, HIGH)
        for ring in range(3):
            belief = see(belief, ring, celsius[NODES * ring], 2.0, bounds(KILN))
    learned = dict(lessons(KILN, belief))
    assert abs(learned["full"].value - log(700.0)) < abs(log(FULL[0]) - log(700.0)) + 0.1
    assert set(learned) >= {"wall", "draught", "strength top"}
    again = recalled(KILN, prior(KILN, (20.0,) * 3, 0), lessons(KILN, belief))
    n = NODES * 3
    assert again.mean[n:] == belief.mean[n:]
    assert again.mean[:n] == (20.0,) * n
    wide = (belief.deviation(n) ** 2 + ANOTHER_LOAD**2) ** 0.5
    assert again.deviation(n) == pytest.approx(wide, rel=1e-4)


def test_an_open_lid_draws_most_from_the_top() -> None:
    shut = Outside((0.0,) * 3, (0.0,) * 3, 20.0)
    assert with_lid(shut, "closed") is shut
    vents = with_lid(shut, "propped").vents
    assert vents[2] > vents[1] > vents[0] > 0.0


PACE = NODES * 3 + NAMES.index("pace")
WALL = NODES * 3 + NAMES.index("wall")


def beyond_the_wall(kiln: Kiln) -> float:
    """Deviation of the pace's logarithm once the wall's loss is known."""
    spread = prior(kiln, (20.0,) * 3, 0).spread
    both = spread[PACE][WALL]
    return float((spread[PACE][PACE] - both * both / spread[WALL][WALL]) ** 0.5)


def test_a_wall_that_lets_more_through_is_the_quicker_one() -> None:
    """Conduction: what passes goes with 1 / thickness, the wall's own time with its square (Incropera et al.)."""
    fresh = prior(KILN, (20.0,) * 3, 0)
    assert fresh.spread[PACE][WALL] > 0.0
    assert beyond_the_wall(KILN) < 0.8 * fresh.deviation(PACE)
    assert fresh.deviation(PACE) == pytest.approx((bounds(KILN)[3][1] - bounds(KILN)[3][0]) / 5.0, rel=0.02)


def test_the_chambers_sizes_say_how_slow_its_wall_is() -> None:
    sized = [replace(KILN, chamber=Chamber(mm, 570.0, 240.0)) for mm in (65.0, 115.0)]
    thin, thick = (prior(kiln, (20.0,) * 3, 0).mean[PACE] for kiln in sized)
    # At the same loss twice the brick holds twice the heat; the mean area grows a little with it.
    assert thin - thick == pytest.approx(log(115.0 / 65.0), abs=0.2)
    assert thick < prior(KILN, (20.0,) * 3, 0).mean[PACE] < thin + 0.5
    assert beyond_the_wall(sized[0]) < beyond_the_wall(KILN)
