"""Prices by the clock on the wall: nights, weekends, and the two days a year that are not 24 hours long."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as some

from spyhole.core.report.tariff import Hours, Tariff, minutes_of_day

DUBLIN = ZoneInfo("Europe/Dublin")
NIGHT = Tariff("EUR", 0.34, (Hours(23 * 60, 8 * 60, 0.18),))


def ms(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def hours(pieces: list[tuple[float, int]]) -> list[tuple[float, float]]:
    return [(price, length / 3_600_000) for price, length in pieces]


def test_a_night_is_cut_where_its_price_begins_and_ends() -> None:
    cut = NIGHT.pieces(ms("2031-06-10T22:00+01:00"), ms("2031-06-11T09:30+01:00"), DUBLIN)
    assert hours(cut) == [(0.34, 1.0), (0.18, 9.0), (0.34, 1.5)]


def test_the_night_the_clocks_go_back_has_an_hour_more_of_the_cheap_price() -> None:
    cut = NIGHT.pieces(ms("2031-10-25T22:00+01:00"), ms("2031-10-26T09:00+00:00"), DUBLIN)
    assert hours(cut) == [(0.34, 1.0), (0.18, 10.0), (0.34, 1.0)]


def test_the_night_they_go_forward_has_an_hour_less() -> None:
    cut = NIGHT.pieces(ms("2031-03-29T22:00+00:00"), ms("2031-03-30T09:00+01:00"), DUBLIN)
    assert hours(cut) == [(0.34, 1.0), (0.18, 8.0), (0.34, 1.0)]


def test_a_part_that_runs_past_midnight_belongs_to_the_day_it_begins() -> None:
    friday = Tariff("EUR", 0.3, (Hours(22 * 60, 6 * 60, 0.1, days=(4,)),))
    assert friday.price(datetime(2031, 10, 31, 23, 0, tzinfo=UTC)) == 0.1  # a Friday
    assert friday.price(datetime(2031, 11, 1, 5, 59, tzinfo=UTC)) == 0.1
    assert friday.price(datetime(2031, 11, 1, 23, 0, tzinfo=UTC)) == 0.3
    assert friday.price(datetime(2031, 10, 31, 5, 0, tzinfo=UTC)) == 0.3


def test_the_first_part_that_holds_counts() -> None:
    both = Tariff("EUR", 0.3, (Hours(0, 12 * 60, 0.1), Hours(6 * 60, 1440, 0.2)))
    assert both.price(datetime(2031, 1, 1, 7, tzinfo=UTC)) == 0.1
    assert both.price(datetime(2031, 1, 1, 23, 59, tzinfo=UTC)) == 0.2


@given(some.integers(0, 10**9), some.integers(0, 3 * 24 * 3_600_000))
def test_nothing_is_lost_in_the_cutting(begin: int, length: int) -> None:
    cut = NIGHT.pieces(begin, begin + length, DUBLIN)
    assert sum(piece for _, piece in cut) == length


@pytest.mark.parametrize("text", ["", "7", "25:00", "12:60", "noon", "24:01"])
def test_what_is_no_time_of_day(text: str) -> None:
    with pytest.raises(ValueError, match=r"time data|unconverted"):
        minutes_of_day(text)
