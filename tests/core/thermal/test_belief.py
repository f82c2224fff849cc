"""The belief finds a kiln's strength and what a ring lacks, from its curve alone."""

from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.core.thermal.belief import Belief, predict, see
from spyhole.core.thermal.physics import NODES, Heat, advance
from spyhole.core.thermal.prior import prior
from spyhole.core.thermal.residual import residuals

KILN = Kiln("k", 1300.0, tuple(Ring(n, 2400.0, Probe()) for n in ("bottom", "middle", "top")))
TRUE = Heat(full=600.0, wall=0.45, mass=1.8, exchange=2.0, strength=(1.0, 1.0, 1.0))
FULL = (1.0, 1.0, 1.0)


def _follow(minutes: int, seen: tuple[int, ...] = (0, 1, 2)) -> tuple[Belief, list[float]]:
    belief, celsius = prior(KILN, (20.0,) * 3, 0), [20.0] * 9
    for minute in range(1, minutes + 1):
        celsius = advance(TRUE, celsius, FULL, 20.0, 1 / 60)
        belief = predict(belief, minute * 60_000, FULL, 20.0)
        for ring in seen:
            belief = see(belief, ring, celsius[NODES * ring], 2.0)
    return belief, celsius


def test_follows_the_curve_and_stays_positive() -> None:
    belief, celsius = _follow(180)
    for ring in range(3):
        assert abs(belief.mean[NODES * ring] - celsius[NODES * ring]) < 5.0
    assert all(belief.covariance[i][i] > 0.0 for i in range(len(belief.mean)))
    rows = belief.covariance
    assert all(abs(rows[i][j] - rows[j][i]) < 1e-6 for i in range(len(rows)) for j in range(i))


def test_a_ring_without_a_probe_is_carried_and_less_sure() -> None:
    belief, celsius = _follow(180, seen=(1,))
    assert belief.deviation(0) > 2 * belief.deviation(NODES)
    assert abs(belief.mean[0] - celsius[0]) < 3 * belief.deviation(0) + 5.0


def test_a_dead_ring_lacks_its_watts() -> None:
    belief, celsius = _follow(180)
    dead = (1.0, 0.0, 1.0)
    after = advance(TRUE, celsius, dead, 20.0, 1 / 6)
    climbs = tuple((after[NODES * r] - celsius[NODES * r]) * 6 for r in range(3))
    found = residuals(belief, FULL, climbs, 20.0)
    assert found[1].share is not None
    assert found[1].share < -0.5
    for ring in (0, 2):
        share = found[ring].share
        assert share is not None
        assert abs(share) < 0.35
