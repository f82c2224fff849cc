"""The climb's line, against kilns whose answer is known in closed form."""

from math import exp, log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from spyhole.core.thermal.cooling import cool_to, loss_per_hour
from spyhole.core.thermal.line import fit, minutes_until


def lumped(start: float, settles_at: float, hours: float, minutes: int) -> tuple[tuple[int, float], ...]:
    """A lumped capacitance under constant power (Incropera et al., the lumped capacitance method), minute by minute."""
    return tuple((m * 60_000, settles_at + (start - settles_at) * exp(-m / 60 / hours)) for m in range(minutes))


def radiating(start: float, climb: float, fall: float, minutes: int) -> tuple[tuple[int, float], ...]:
    """A lumped body under constant power that loses heat by radiation alone, solved by SciPy (the outside check).

    climb [degC/h] and fall [1/h] are those at the start: dT/dt = a - c T^4, so fall = 4 c T^3.
    """
    kelvin = start + 273.15
    loss = fall / (4 * kelvin**3)
    power = climb + loss * kelvin**4
    times = [m / 60 for m in range(minutes)]
    solved = solve_ivp(lambda _t, t: power - loss * t**4, (0, times[-1]), [kelvin], t_eval=times, rtol=1e-9)
    return tuple((m * 60_000, float(t) - 273.15) for m, t in enumerate(solved.y[0]))


@given(climb=st.floats(130, 220), fall=st.floats(0.12, 0.3))
def test_a_radiating_kiln_reaches_its_cone_when_scipy_says(climb: float, fall: float) -> None:
    points = radiating(700, climb, fall, 720)
    seen, target = points[:90], points[89][1] + 0.6 * (points[-1][1] - points[89][1])
    line = fit(seen)
    assert line is not None
    celsius = seen[-1][1]
    true_minutes = next(m for m, (_, c) in enumerate(points) if c >= target) - 89
    found = minutes_until(lambda c, _s: c >= target, celsius, line.climb(celsius), line.fall)
    assert found == pytest.approx(true_minutes, rel=0.25)


@given(hours=st.floats(2.5, 8.0))
def test_the_line_of_a_linear_kiln_is_found_within_its_own_doubt(hours: float) -> None:
    line = fit(lumped(650, 1300, hours, 120))
    assert line is not None
    assert abs(line.fall - 1 / hours) < 2 * line.fall_spread


def test_a_kiln_that_settles_below_the_cone_never_gets_there() -> None:
    assert minutes_until(lambda c, _s: c >= 1040, 900, 100, 1.0) is None


def test_little_data_gives_no_line() -> None:
    assert fit(lumped(600, 1300, 4, 15)) is None


def test_newtons_law_of_cooling_is_found_again() -> None:
    points = tuple((m * 60_000, 20 + 980 * exp(-0.25 * m / 60)) for m in range(60))
    assert loss_per_hour(points, 20) == pytest.approx(0.25, rel=1e-6)
    when = cool_to(200.0, points, 20.0, points[-1][0])
    assert when is not None
    true_ms = points[-1][0] + log((points[-1][1] - 20) / 180) / 0.25 * 3_600_000
    assert when.low < true_ms < when.high
    assert when.low < when.median < when.high


def test_a_kiln_that_is_there_or_warms_has_no_cooling_forecast() -> None:
    points = tuple((m * 60_000, 150.0 - m * 0.1) for m in range(60))
    assert cool_to(200.0, points, 20.0, 0) is None
    assert loss_per_hour(tuple((m * 60_000, 100.0 + m) for m in range(60)), 20) is None
