"""Where it may go two ways, the forecast is of both: it jumps to the likelier, and its ends hold the other while that
is not ruled out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.either_way import either_way
from spyhole.core.outcome import Forecast

MINUTE = 60_000
SOON = Forecast(20 * MINUTE, 30 * MINUTE, 42 * MINUTE)
LATE = Forecast(90 * MINUTE, 110 * MINUTE, 135 * MINUTE)


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_where_one_way_is_sure_it_is_the_forecast(share: float) -> None:
    found = either_way(SOON, LATE, share)
    sure = SOON if share else LATE
    for got, wanted in zip((found.low, found.median, found.high), (sure.low, sure.median, sure.high), strict=True):
        assert got == pytest.approx(wanted, abs=1000)


def test_it_says_the_likelier_and_does_not_forget_the_other() -> None:
    likely_soon = either_way(SOON, LATE, 0.75)
    assert 30 * MINUTE <= likely_soon.median < 45 * MINUTE
    assert likely_soon.high > 100 * MINUTE
    likely_late = either_way(SOON, LATE, 0.25)
    assert 95 * MINUTE < likely_late.median <= 110 * MINUTE
    assert likely_late.low < 40 * MINUTE


def test_what_is_nearly_ruled_out_widens_nothing_much() -> None:
    assert either_way(SOON, LATE, 0.98).high < 50 * MINUTE


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_more_of_the_sooner_way_is_never_later(one: float, other: float) -> None:
    less, more = (either_way(SOON, LATE, share) for share in sorted((one, other)))
    assert more.low <= less.low + 1000
    assert more.median <= less.median + 1000
    assert more.high <= less.high + 1000
    assert less.low <= less.median <= less.high
