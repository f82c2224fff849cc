"""The kiln book to leaf through: what is found by words, and where cooling begins."""

from dataclasses import replace
from typing import Any

import pytest

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, Row
from spyhole.core.refusal import Refusal
from spyhole.core.words import DEFAULT
from spyhole.services.archive import Batch, Firing, Minute, RingMinute, Step
from spyhole.services.book import Book
from spyhole.services.desk import FiringSummary

MINUTE = 60_000
LIT = 1_950_000_000_000  # 17 October 2031
BISQUE = FiringSummary(10, "Bisque, cone 05", "05", LIT, LIT + 3000 * MINUTE, LIT + 60 * MINUTE, 1040.0, 1.1, 0)
GLAZE = replace(BISQUE, id=5000, plan="Glaze, cone 6", cone="6", started_utc_ms=LIT + 4990 * MINUTE, cone_progress=0.4)
LATE = replace(GLAZE, tripped_utc_ms=None, alarms=2)


@pytest.fixture
def book(record: Any) -> Book:
    """Two firings, a minute a row: an hour up and two hours down, the second with no trip seen."""
    told = (Clock(LIT - 10 * MINUTE, True), Entry(EntryKind.NOTE, "", "Bowls for the fair"))
    rows = (Row("Puffin", 1, "first", 0, told[0]), Row("Puffin", 2, "first", 0, told[1]))
    minutes = [
        Minute("Puffin", first, at, "first", at * MINUTE, "high", None, (_ring(at - first),))
        for first in (10, 5000)
        for at in range(first + 1, first + 181)
    ]
    record.put(
        Batch(
            steps=tuple(Step(row) for row in rows),
            minutes=tuple(minutes),
            firings=(Firing("Puffin", BISQUE, "", ""), Firing("Puffin", LATE, "", "")),
            urgent=True,
        )
    )
    assert record.flush(30.0)
    return Book(record, "Puffin", DEFAULT, lambda: None)


def _ring(minute: int) -> RingMinute:
    celsius = 20.0 + 15 * minute if minute <= 60 else 920.0 - 5 * (minute - 60)
    return RingMinute(celsius, celsius, celsius)


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("", [5000, 10]),
        ("bisque", [10]),
        ("2031 october", [5000, 10]),
        ("cone 6 not", [5000]),
        ("tripped", [10]),
        ("FAIR", []),
        ("x", []),
    ],
)
def test_every_word_has_to_be_found(book: Book, words: str, found: list[int]) -> None:
    page = book.page(10, None, words)
    assert [line.firing.id for line in page.lines] == found
    assert (page.found, page.total) == (len(found), 2)


def test_cooling_begins_at_the_trip_or_where_it_was_hottest(book: Book) -> None:
    """That the second is over was known 2,940 minutes after its switches were off."""
    for firing in (10, 5000):
        high, cooling = book.opened(firing).stages
        assert (high.stage, cooling.stage) == ("high", "cooling")
        assert high.hours == pytest.approx(1.0, abs=0.05)
        assert cooling.hours == pytest.approx(2.0, abs=0.05)


def test_a_firing_that_is_not_there_is_refused(book: Book) -> None:
    with pytest.raises(Refusal):
        book.opened(77)
