"""The belief finds a kiln's strength and what it does next, from its curve alone."""

from dataclasses import replace
from math import log

import pytest

from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.core.thermal.belief import (
    FAR,
    NUDGE,
    QUICK_DRIFT,
    SHARED_DRIFT,
    Belief,
    let_go,
    moved,
    predict,
    see,
    square,
    triangle,
)
from spyhole.core.thermal.physics import NAMES, NODES, SHARED, Heat, Outside, advance, heat_of
from spyhole.core.thermal.prior import bounds, prior

KILN = Kiln("k", 1300.0, tuple(Ring(n, 2400.0, Probe()) for n in ("bottom", "middle", "top")))
TRUE = Heat(full=600.0, wall=0.45, leak=0.1, pace=0.2, growth=1.2, exchange=2.0, draught=0.5, strength=(1.0, 1.0, 1.0))
HIGH = Outside((1.0, 1.0, 1.0), (0.0,) * 3, 20.0)


STRONG = replace(TRUE, full=750.0)


def _follow(minutes: int, seen: tuple[int, ...] = (0, 1, 2), true: Heat = TRUE) -> tuple[Belief, list[float]]:
    belief, celsius = prior(KILN, (20.0,) * 3, 0), [20.0] * NODES * 3
    for minute in range(5, minutes + 1, 5):
        celsius = moved(true, celsius, HIGH, 5 / 60)
        belief = predict(belief, minute * 60_000, HIGH)
        for ring in seen:
            belief = see(belief, ring, celsius[NODES * ring], 2.0, bounds(KILN))
    return belief, celsius


def test_follows_the_curve_and_stays_positive() -> None:
    belief, celsius = _follow(180)
    for ring in range(3):
        assert abs(belief.mean[NODES * ring] - celsius[NODES * ring]) < 5.0
        assert 0.0 < belief.deviation(NODES * ring) < 10.0
    rows = square(belief.spread)
    assert all(rows[i][j] ** 2 <= rows[i][i] * rows[j][j] * 1.001 for i in range(len(rows)) for j in range(i))


def test_foretells_two_hours_better_than_before_anything_was_seen() -> None:
    """TRUE is so like the prior that its first two hours teach little: a kiln a third stronger."""
    belief, celsius = _follow(120, true=STRONG)
    truth = moved(STRONG, celsius, HIGH, 2.0)[NODES]
    blind = moved(prior(KILN, (20.0,) * 3, 0).heat, celsius, HIGH, 2.0)[NODES]
    told = moved(belief.heat, belief.celsius, HIGH, 2.0)[NODES]
    assert abs(told - truth) < 25.0
    assert abs(told - truth) < 0.5 * abs(blind - truth)


def test_what_may_wander_more_foretells_a_kiln_that_changes_sooner() -> None:
    """A kiln begins to lose a fifth more through its wall, and is watched for half an hour."""
    changed, off = replace(TRUE, wall=1.2 * TRUE.wall), []
    for drift in (SHARED_DRIFT, QUICK_DRIFT):
        belief, celsius = _follow(150)
        for minute in range(155, 185, 5):
            celsius = moved(changed, celsius, HIGH, 5 / 60)
            belief = predict(belief, minute * 60_000, HIGH, drift)
            for ring in range(3):
                belief = see(belief, ring, celsius[NODES * ring], 2.0, bounds(KILN))
        told = moved(belief.heat, belief.celsius, HIGH, 1.0)[NODES]
        off.append(abs(told - moved(changed, celsius, HIGH, 1.0)[NODES]))
    assert off[1] < 0.8 * off[0]


def test_a_ring_without_a_probe_is_carried_and_less_sure() -> None:
    belief, celsius = _follow(180, seen=(1,))
    assert belief.deviation(0) > 2 * belief.deviation(NODES)
    assert abs(belief.mean[0] - celsius[0]) < 3 * belief.deviation(0) + 5.0


def test_what_is_far_off_moves_no_parameter() -> None:
    belief, celsius = _follow(180)
    belief = predict(belief, 185 * 60_000, HIGH)
    after = see(belief, 1, celsius[NODES] - 200.0, 2.0, bounds(KILN))
    assert after.mean[3 * NODES :] == belief.mean[3 * NODES :]


def test_what_a_reading_taught_is_known_that_much_better() -> None:
    """Four deviations off teaches as much as `FAR` of them; were it known no better for that, the next would teach the
    same again, and the kiln would go on changing for as long as its probe reads what the model does not hold."""
    belief, _ = _follow(60)
    belief, full = predict(belief, 65 * 60_000, HIGH), 3 * NODES
    wide = (belief.spread[NODES][NODES] + 4.0) ** 0.5
    taught = [see(belief, 1, belief.mean[NODES] + n * wide, 2.0) for n in (FAR, 4.0)]
    near, far = ([abs(b - a) for a, b in zip(belief.mean[full:], one.mean[full:], strict=True)] for one in taught)
    assert far == pytest.approx(near, rel=0.02)
    known = [belief.deviation(full) - one.deviation(full) for one in taught]
    assert 0.4 * known[0] < known[1] < known[0]


def test_readings_that_stay_far_off_drag_no_ring_away_that_nobody_sees() -> None:
    """Two rings, seen above, lit below and then both; the model is told so 50 minutes early, and the ware is so light
    that it leaps up by more than anything it holds for likely. (So a ring once fell 200 degC behind what it was.)"""
    kiln = Kiln("k", 1300.0, KILN.rings[:2])
    light = replace(TRUE, full=2500.0, wall=0.3, exchange=9.0, strength=(1.0, 1.0))
    low, both = (Outside(shares, (0.0,) * 2, 20.0) for shares in ((0.27, 0.0), (0.27, 0.27)))
    belief, celsius, behind = prior(kiln, (20.0,) * 2, 0), [20.0] * NODES * 2, 0.0
    for minute in range(5, 365, 5):
        celsius = moved(light, celsius, low if minute <= 95 else both, 5 / 60)
        belief = predict(belief, minute * 60_000, low if minute <= 45 else both)
        belief = see(belief, 1, celsius[NODES], 2.0 + 0.002 * celsius[NODES], bounds(kiln))
        behind = max(behind, celsius[0] - belief.mean[0])
    assert behind < 100.0


def test_a_probe_that_drops_as_the_heat_goes_off_says_little_of_the_kiln() -> None:
    """Elements and hot face fall below the ware within minutes, and the probe stands between them."""
    belief, celsius = _follow(180)
    off = Outside((0.0,) * 3, (0.0,) * 3, 20.0)
    before, moves = belief.mean[3 * NODES :], []
    celsius = moved(TRUE, celsius, off, 5 / 60)
    for start in (belief, let_go(belief)):
        after = predict(start, 185 * 60_000, off)
        for ring in range(3):
            after = see(after, ring, celsius[NODES * ring] - 15.0, 2.0, bounds(KILN))
        assert abs(after.mean[NODES] - celsius[NODES] + 15.0) < 8.0, "where the ring is, it is believed"
        moves.append(sum(abs(a - b) for a, b in zip(before, after.mean[3 * NODES :], strict=True)))
    assert moves[1] < 0.5 * moves[0]


def test_what_heating_made_of_the_walls_pace_is_mostly_disbelieved_as_the_heat_goes_off() -> None:
    """Ware that lags its air looks like a slow wall on the way up; on the way down the curve says more."""
    belief, _ = _follow(180)
    place, limits = 3 * NODES + NAMES.index("pace"), bounds(KILN)
    common = sum(limits[NAMES.index("pace")]) / 2.0
    slow = replace(belief, mean=(*belief.mean[:place], common - 0.8, *belief.mean[place + 1 :]))
    after = let_go(slow, limits)
    assert common - 0.4 < after.mean[place] < common
    assert after.deviation(place) >= max(slow.deviation(place), 0.4)
    whole = square(after.spread)
    assert all(whole[place][i] ** 2 <= whole[place][place] * whole[i][i] * 1.001 + 1e-9 for i in range(len(whole)))


def test_no_parameter_leaves_its_bounds() -> None:
    belief, _ = _follow(60)
    for minute in range(65, 125, 5):
        belief = predict(belief, minute * 60_000, HIGH)
        belief = see(belief, 1, 1400.0, 200.0, bounds(KILN))
    logs = belief.mean[3 * NODES :]
    assert len(logs) == SHARED + 3
    assert all(low <= x <= high for x, (low, high) in zip(logs, bounds(KILN), strict=True))
    assert abs(logs[0] - log(480.0)) <= 2.5 * 0.45 + 1e-9


def test_a_step_of_ten_minutes_is_a_hundred_of_six_seconds() -> None:
    fine, coarse = [20.0] * NODES * 3, [20.0] * NODES * 3
    for _ in range(18):
        coarse = advance(TRUE, coarse, HIGH, 1 / 6)
        for _ in range(100):
            fine = advance(TRUE, fine, HIGH, 1 / 600)
    assert all(abs(a - b) < 10.0 for a, b in zip(fine, coarse, strict=True))


def test_one_step_is_as_if_the_whole_kiln_were_worked_out_for_every_nudge() -> None:
    """To the last bit: what a nudge does not touch is taken over, and what is 0 is left out of the sums."""
    belief, _ = _follow(60)
    outside = Outside((1.0, 0.5, 0.0), (0.0, 0.15, 1.0), 18.0, 5.0, 110.0)
    size, nodes, hours = len(belief.mean), NODES * 3, 0.1

    def after(k: int | None, by: float) -> list[float]:
        mean = [m + by if i == k else m for i, m in enumerate(belief.mean)]
        return advance(heat_of(mean[nodes:]), mean[:nodes], outside, hours)

    base = after(None, 0.0)
    nudged = [after(k, 0.1) if k < nodes else after(k, NUDGE) for k in range(size)]
    slopes = [
        [(nudged[k][i] - base[i]) * 10.0 if k < nodes else (nudged[k][i] - base[i]) / NUDGE for k in range(size)]
        for i in range(nodes)
    ]
    whole = square(belief.spread)
    upper = [[sum(a * b for a, b in zip(row, other, strict=True)) for other in whole] for row in slopes]
    for i in range(nodes):
        for j in range(i):
            whole[i][j] = sum(a * b for a, b in zip(upper[j], slopes[i], strict=True))
    found = predict(belief, belief.at_ms + 360_000, outside)
    assert list(found.mean) == [*base, *belief.mean[nodes:]]
    kept = triangle(whole)
    assert all(found.spread[i][:i] == kept[i][:i] for i in range(nodes))
    for i in range(nodes, size):
        assert found.spread[i][:nodes] == tuple(float(f"{upper[j][i]:.6g}") for j in range(nodes))
