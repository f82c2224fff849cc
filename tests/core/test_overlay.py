"""Firings laid over one another, by the clock and by stage."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.overlay import By, Laid, Span, against_first, grid, lay, spans


def _firing(low_hours: float, high_hours: float, low_climb: float, high_climb: float) -> Laid:
    """Two stages, a reading each six minutes."""
    hours = [at / 10 for at in range(round((low_hours + high_hours) * 10) + 1)]
    turn = 20 + low_climb * low_hours
    celsius = [20 + low_climb * h if h <= low_hours else turn + high_climb * (h - low_hours) for h in hours]
    return Laid(tuple(hours), tuple("low" if h < low_hours else "high" for h in hours), tuple(celsius))


USUAL = _firing(2.0, 4.0, 60.0, 200.0)
SLOW = _firing(4.0, 4.0, 30.0, 200.0)


def test_stages_are_found_in_order() -> None:
    assert spans(USUAL) == (Span("low", 0.0, 2.0), Span("high", 2.0, 6.0))


def test_by_the_clock_each_keeps_its_own_hours() -> None:
    hours = grid([USUAL, SLOW], By.CLOCK, 81)
    assert (hours[0], hours[-1]) == (0.0, 8.0), "as long as the longest"
    usual, slow = lay([USUAL, SLOW], By.CLOCK, hours)
    assert usual[20] == pytest.approx(140.0)
    assert slow[20] == pytest.approx(80.0)
    assert usual[-1] is None, "it was over by then"


def test_by_stage_a_night_twice_as_long_lies_over_the_first() -> None:
    """Both come to 140 at the end of low and climb alike on high, so by stage they do not differ at all."""
    hours = grid([USUAL, SLOW], By.STAGE, 61)
    laid = lay([USUAL, SLOW], By.STAGE, hours)
    assert hours[-1] == pytest.approx(6.0), "the first firing's own"
    assert all(apart == pytest.approx(0.0, abs=1e-6) for apart in against_first(laid)[1] if apart is not None)


def test_a_stage_the_other_has_not_is_left_out() -> None:
    only_high = Laid((0.0, 0.4, 0.8), ("high",) * 3, (20.0, 100.0, 180.0))
    hours = grid([USUAL, only_high], By.STAGE, 61)
    other = lay([USUAL, only_high], By.STAGE, hours)[1]
    assert other[5] is None
    assert other[40] is not None


def test_no_line_is_drawn_over_what_was_not_seen() -> None:
    gap = Laid((0.0, 0.1, 3.0, 3.1), ("low",) * 4, (20.0, 30.0, 90.0, 95.0))
    assert lay([gap], By.CLOCK, (0.05, 1.0, 3.05))[0] == (pytest.approx(25.0), None, pytest.approx(92.5))
    blind = Laid((0.0, 0.1, 0.2), ("low",) * 3, (20.0, None, 40.0))
    assert lay([blind], By.CLOCK, (0.05, 0.15))[0] == (None, None)


@given(st.lists(st.floats(0, 1300), min_size=2, max_size=40), st.integers(2, 90))
def test_between_readings_it_is_numpys_own_interpolation(celsius: list[float], points: int) -> None:
    hours = tuple(at / 10 for at in range(len(celsius)))
    laid = Laid(hours, ("high",) * len(hours), tuple(celsius))
    where = grid([laid], By.CLOCK, points)
    assert lay([laid], By.CLOCK, where)[0] == pytest.approx(np.interp(where, hours, celsius), abs=1e-6)
