"""Who used what: added up over firings, each worked out once."""

from dataclasses import replace
from typing import Any

import pytest

from spyhole.core.report.energy import Charge, Energy
from spyhole.services.archive import Batch, Firing
from spyhole.services.desk import FiringSummary
from spyhole.services.using import Use

NOW = 1_950_000_000_000
DAY = 86_400_000
ONE = FiringSummary(10, "Bisque", "05", NOW - 10 * DAY, NOW - 8 * DAY, None, 1040.0, 1.1, 0)
LIT_BY = {10: "Mina", 20: "Jo", 30: "Mina", 40: ""}


def energy(firing: int, *, paid: bool = True) -> Energy:
    kwh = {10: 15.0, 20: 30.0, 30: 45.0, 40: 50.0}[firing]
    return Energy((kwh, 0.0), 1.0, "EUR", (Charge(0.3, kwh, 0.3 * kwh),) if paid else (), LIT_BY[firing])


@pytest.fixture
def book(record: Any) -> Any:
    lines = [
        ONE,
        replace(ONE, id=20, started_utc_ms=NOW - 7 * DAY),
        replace(ONE, id=30, started_utc_ms=NOW - 6 * DAY),
        replace(ONE, id=40, started_utc_ms=NOW - DAY, ended_utc_ms=None),
    ]
    record.put(Batch(firings=tuple(Firing("Puffin", line, "", "") for line in lines), urgent=True))
    assert record.flush(30.0)
    return record


def test_each_person_has_their_firings_energy_and_money(book: Any) -> None:
    view = Use(book, "Puffin", energy, lambda: NOW).view(92)
    assert [(line.who, line.firings) for line in view.people] == [("Mina", 2), ("", 1), ("Jo", 1)]
    assert view.people[0].kwh == pytest.approx(60.0)
    assert view.people[0].money == pytest.approx(18.0)
    assert (view.firings, view.currency, view.from_utc_ms) == (4, "EUR", ONE.started_utc_ms)


def test_only_what_was_lit_within_those_days(book: Any) -> None:
    view = Use(book, "Puffin", energy, lambda: NOW).view(8)
    assert [line.who for line in view.people] == ["", "Mina", "Jo"]
    assert Use(book, "Wren", energy, lambda: NOW).view(8).from_utc_ms is None


def test_without_a_tariff_there_is_no_money(book: Any) -> None:
    view = Use(book, "Puffin", lambda firing: energy(firing, paid=False), lambda: NOW).view(92)
    assert {line.money for line in view.people} == {None}


def test_a_firing_that_has_ended_is_worked_out_once(book: Any) -> None:
    asked: list[int] = []

    def counted(firing: int) -> Energy:
        asked.append(firing)
        return energy(firing)

    use = Use(book, "Puffin", counted, lambda: NOW)
    assert use.view(92) == use.view(92)
    assert sorted(asked) == [10, 20, 30, 40, 40]
