"""Robust climb."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.curve.climb import since, theil_sen, value_at


def ramp(celsius_per_hour: float, minutes: int = 11) -> list[tuple[int, float]]:
    return [(m * 60_000, 500 + celsius_per_hour * m / 60) for m in range(minutes)]


@given(st.floats(-500, 500), st.integers(0, 10), st.floats(-300, 300))
def test_one_bad_minute_does_not_bend_it(climb: float, bad: int, by: float) -> None:
    points = ramp(climb)
    points[bad] = (points[bad][0], points[bad][1] + by)
    found = theil_sen(tuple(points))
    assert found == pytest.approx(climb, abs=1e-6)


def test_it_agrees_with_scipy_on_noisy_minutes() -> None:
    # SciPy's Theil-Sen estimator is the outside check.
    from scipy.stats import theilslopes

    points = tuple((m * 60_000, 700 + 1.7 * m + ((m * 37) % 11 - 5) * 0.4) for m in range(11))
    slope = theilslopes([c for _, c in points], [t / 3_600_000 for t, _ in points])[0]
    assert theil_sen(points) == pytest.approx(slope, rel=1e-12)


def test_too_few_minutes_give_no_climb() -> None:
    assert theil_sen(tuple(ramp(100, 3))) is None
    assert theil_sen(()) is None


def test_the_tail_and_the_value_before() -> None:
    points = tuple(ramp(60))
    assert since(points, 8 * 60_000) == points[8:]
    assert since(points, -1) == points
    assert value_at(points, 4 * 60_000 + 30_000) == 504.0
    assert value_at(points, 60 * 60_000) is None
    assert value_at(points, -1) is None
