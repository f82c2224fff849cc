"""What one firing taught is taken up by the next."""

from math import log

import pytest

from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.core.thermal.belief import moved, predict, see
from spyhole.core.thermal.physics import NODES, Heat, Outside
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
