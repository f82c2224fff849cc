"""A new forecast leans on what was said before."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.leaning import LEANS, LEANS_HOURS, Said, leaning, saying_so
from spyhole.core.outcome import Forecast

HOUR = 3_600_000
UTC = 1_700_000_000_000
"""What the clock says when the axis stands at 0."""


def at(hours: float, wide: float = 0.5) -> Forecast:
    return Forecast(*(UTC + round((hours + w) * HOUR) for w in (-wide, 0.0, wide)))


def said_at(hours: float, at_hours: float = 0.0) -> Said:
    return Said(hours * HOUR, 1.0, round(at_hours * HOUR))


def hourly(*told: Forecast) -> Said:
    said = None
    for hour, one in enumerate(told):
        said = saying_so(said, one, hour * HOUR, UTC + hour * HOUR)
    assert said is not None
    return said


def test_the_first_forecast_stands() -> None:
    assert leaning(None, at(5.0), 0, UTC) == at(5.0)
    assert hourly(at(5.0)).mean_ms == 5.0 * HOUR


def test_what_was_said_holds_a_new_one_back() -> None:
    assert leaning(said_at(4.0, 1.0), at(5.0), HOUR, UTC + HOUR) == at(5.0 - LEANS)


def test_it_does_less_so_with_less_to_go() -> None:
    now = 4 * HOUR
    leant = leaning(said_at(4.0, 4.0), at(5.0), now, UTC + now)
    assert leant is not None
    assert (leant.median - UTC) / HOUR == pytest.approx(5.0 - LEANS / LEANS_HOURS)


def test_its_width_stays() -> None:
    leant = leaning(said_at(7.0, 1.0), at(5.0), HOUR, UTC + HOUR)
    assert leant is not None
    assert leant.high - leant.low == HOUR


def test_nothing_is_said_of_what_never_comes_and_what_was_said_is_kept() -> None:
    said = said_at(5.0)
    assert leaning(said, None, HOUR, UTC + HOUR) is None
    assert saying_so(said, None, HOUR, UTC + HOUR) == said


def test_what_was_said_for_sure_counts_for_more() -> None:
    unsure = hourly(at(5.0), at(5.0), at(6.0, 1.0))
    sure = hourly(at(5.0), at(5.0), at(6.0, 0.25))
    assert 5.0 * HOUR < unsure.mean_ms < sure.mean_ms < 6.0 * HOUR


def test_what_was_said_long_ago_counts_for_less() -> None:
    lately = hourly(at(5.0), at(6.0), at(6.0))
    long_ago = hourly(at(6.0), at(5.0), at(5.0))
    assert lately.mean_ms > 5.5 * HOUR > long_ago.mean_ms


def test_how_often_it_is_said_hardly_matters() -> None:
    often = rarely = said_at(4.0)
    for minute in range(1, 121):
        now = minute * 60_000
        often = saying_so(often, at(5.0), now, UTC + now) or often
        if minute % 10 == 0:
            rarely = saying_so(rarely, at(5.0), now, UTC + now) or rarely
    assert often.mean_ms / HOUR == pytest.approx(rarely.mean_ms / HOUR, abs=0.02)


def test_a_mended_clock_moves_no_forecast() -> None:
    """The mean is kept on the watch's own axis: UTC that jumps by a day says nothing of the kiln."""
    day = 24 * HOUR
    leant = leaning(said_at(4.0, 1.0), Forecast(*(t + day for t in _of(at(5.0)))), HOUR, UTC + HOUR + day)
    assert leant == Forecast(*(t + day for t in _of(at(5.0 - LEANS))))


@given(st.floats(-3.0, 9.0), st.floats(0.0, 9.0), st.floats(0.0, 3.0))
def test_it_stays_in_order_and_out_of_the_past(mean: float, hours: float, wide: float) -> None:
    leant = leaning(said_at(mean), Forecast(*(max(t, UTC) for t in _of(at(hours, wide)))), 0, UTC)
    assert leant is not None
    assert UTC <= leant.low <= leant.median <= leant.high


def _of(forecast: Forecast) -> tuple[int, int, int]:
    return forecast.low, forecast.median, forecast.high
