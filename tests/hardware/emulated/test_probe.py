"""A probe lags, errs within its class, and is noisy without having a memory for it."""

from itertools import pairwise
from statistics import fmean, pstdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole_hardware.emulated.probe import NOISE_CELSIUS, EmulatedProbe, Lag, gauss

celsius = st.floats(min_value=-20, max_value=1400)
seconds = st.floats(min_value=0, max_value=600)


@given(celsius, celsius, seconds, seconds)
def test_two_waits_are_one_long_wait(tip: float, around: float, first: float, second: float) -> None:
    stepped = Lag(50, Lag(50, tip).after(first, around)).after(second, around)
    assert stepped == pytest.approx(Lag(50, tip).after(first + second, around), abs=1e-6)


def test_after_one_time_constant_63_percent_is_done() -> None:
    """1 - 1/e: the definition."""
    assert Lag(50, 0).after(50, 100) == pytest.approx(63.212, abs=1e-3)


def test_noise_is_standard_normal_and_depends_on_nothing_but_its_moment() -> None:
    drawn = [gauss(5, moment * 1000) for moment in range(20_000)]
    assert fmean(drawn) == pytest.approx(0, abs=0.03)
    assert pstdev(drawn) == pytest.approx(1, abs=0.03)
    assert fmean(a * b for a, b in pairwise(drawn)) == pytest.approx(0, abs=0.03)
    assert gauss(5, 1000) == drawn[1]


@pytest.mark.parametrize(("tolerance_class", "floor", "slope"), [(1, 1.5, 0.004), (2, 2.5, 0.0075)])
def test_its_error_is_within_its_class(tolerance_class: int, floor: float, slope: float) -> None:
    """IEC 60584-1: class 1 1.5 or 0.4 %, class 2 2.5 or 0.75 % of the reading, whichever is more."""
    errors = []
    for seed in range(200):
        for true in (20.0, 300.0, 1000.0):
            probe = EmulatedProbe(seed, "middle", tolerance_class, true)
            shown = fmean(probe.reads(0, moment) for moment in range(0, 100_000, 1000))
            errors.append((shown - true) / max(floor, slope * true))
    assert max(map(abs, errors)) < 1
    assert max(map(abs, errors)) > 0.5
    assert fmean(errors) == pytest.approx(0, abs=0.1)


def test_asking_twice_changes_nothing() -> None:
    probe = EmulatedProbe(3, "top", 2, 500)
    assert probe.reads(2, 7000) == probe.reads(2, 7000)
    assert abs(probe.reads(2, 7000) - probe.reads(2, 8000)) < 8 * NOISE_CELSIUS


def test_it_follows_a_step_of_its_surroundings() -> None:
    probe = EmulatedProbe(3, "top", 2, 20)
    probe.step(5, 1000)
    assert probe.reads(0, 0) == pytest.approx(20, abs=5)
    assert probe.reads(400, 0) == pytest.approx(1000, abs=15)
