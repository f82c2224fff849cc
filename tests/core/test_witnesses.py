"""A probe that drifts is told by its cones; one that does not is let alone."""

import random

import numpy as np
import pytest

from spyhole.core.learned import Belief
from spyhole.core.witnesses import AGREE_CELSIUS, follow, mean


def spoken(d: random.Random, offsets: list[float]) -> list[Belief]:
    return [Belief(d.gauss(offset, 2.5), 2.5) for offset in offsets]


def test_the_mean_is_numpy_s() -> None:
    said = [Belief(4.0, 1.0), Belief(-2.0, 3.0), Belief(1.0, 2.0)]
    weights = [1 / (s.deviation**2 + AGREE_CELSIUS**2) for s in said]
    assert mean(said).value == pytest.approx(np.average([s.value for s in said], weights=weights))
    assert mean(said).deviation == pytest.approx(float(np.sum(weights)) ** -0.5)


def test_a_probe_that_comes_to_read_twelve_low_is_found_and_one_that_stays_is_not() -> None:
    d = random.Random("drift")
    found = sum(follow(spoken(d, [2.0] * 8 + [14.0] * 3)).drifts for _ in range(200))
    wrong = sum(follow(spoken(d, [2.0] * d.randint(4, 20))).drifts for _ in range(400))
    assert found >= 190
    assert wrong <= 8


def test_one_odd_firing_of_late_is_no_drift_and_a_second_like_it_is() -> None:
    steady = [Belief(-12.0, 2.5)] * 9
    odd = Belief(14.0, 2.5)
    assert not follow([*steady, odd]).drifts
    assert not follow([*steady, odd, Belief(-11.0, 2.5)]).drifts
    assert follow([*steady, odd, odd]).drifts


def test_few_firings_say_an_offset_and_no_drift() -> None:
    assert follow([]).of_late is None
    one = follow([Belief(5.0, 2.0)])
    assert one.of_late is not None
    assert one.of_late.value == 5.0
    assert one.change is None
    assert not one.drifts
