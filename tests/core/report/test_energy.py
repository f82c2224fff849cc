"""Energy by the switches, worked out by hand: 3 kW and 2 kW rings, a quarter on low."""

from dataclasses import replace
from datetime import UTC
from typing import Any

import pytest

from spyhole.core.entry import EntryKind
from spyhole.core.outcome import Action
from spyhole.core.report.energy import energy_of, spans
from spyhole.core.report.report import energy_alone, report_of
from spyhole.core.report.tariff import Hours, Tariff

HOUR = 3_600_000


def test_a_firing_that_was_written_down(tell: Any) -> None:
    """4 h of bottom low: 3 kWh. 10 h of all high: 30 + 20 kWh."""
    energy = report_of(tell()).energy
    assert energy.rings == pytest.approx((33.0, 20.0))
    assert energy.kwh == pytest.approx(53.0)
    assert energy.logged_share == pytest.approx(1.0)
    assert (energy.money, energy.lit_by) == (None, "Ada")


def test_nobody_wrote_a_turn_down_and_the_stage_says_it(tell: Any, note: Any) -> None:
    report = report_of(tell(happenings=[note(0.0, EntryKind.START, "", "05", who="")]))
    assert report.energy.kwh == pytest.approx(53.0, rel=1e-3)
    assert report.energy.logged_share == 0.0
    assert [question.tag for question in report.questions].count("turn") == 1


def test_a_logged_turn_counts_when_it_happened_and_not_when_the_stage_was_seen(tell: Any, note: Any) -> None:
    late = [note(0.0, EntryKind.START, "", "05"), note(4.02, EntryKind.SWITCH, "bottom", "high")]
    report = report_of(tell(happenings=[*late, note(4.02, EntryKind.SWITCH, "top", "high")]))
    assert report.energy.rings == pytest.approx((0.75 * 4.02 + 3 * 9.98, 2 * 9.98))


def test_after_the_trip_the_switches_take_nothing_whatever_they_say(tell: Any, note: Any, logged: Any) -> None:
    off = [note(16.0, EntryKind.SWITCH, ring, "off") for ring in ("bottom", "top")]
    assert report_of(tell(happenings=[*logged, *off])).energy.kwh == pytest.approx(53.0)


def test_an_hour_without_power_costs_nothing(tell: Any, note: Any, logged: Any) -> None:
    cut = [note(6.0, EntryKind.POWER, "", "lost"), note(7.0, EntryKind.POWER, "", "back")]
    assert report_of(tell(happenings=[*logged, *cut])).energy.kwh == pytest.approx(53.0 - 5.0)


def test_a_power_cut_that_only_the_watch_noticed(tell: Any, raised: Any, logged: Any, lit: int) -> None:
    lost = raised(6.1, "heat-lost", since_utc_ms=lit + 6 * HOUR)
    back = raised(8.0, "heat-lost", action=Action.CLEAR)
    assert report_of(tell(happenings=[*logged, lost, back])).energy.kwh == pytest.approx(53.0 - 10.0)


def test_one_ring_turned_off_early(tell: Any, note: Any, logged: Any) -> None:
    early = note(13.0, EntryKind.SWITCH, "top", "off")
    assert report_of(tell(happenings=[*logged, early])).energy.rings == pytest.approx((33.0, 18.0))


def test_the_cost_is_by_the_hour(tell: Any, lit: int) -> None:
    """Lit at 19:40 UTC. 23:00 to 08:00 is cheap: 0.667 h of low and 8.333 h of high in it, by hand."""
    story = tell()
    tariff = Tariff("EUR", 0.4, (Hours(23 * 60, 8 * 60, 0.2),))
    from datetime import UTC, datetime

    minute = datetime.fromtimestamp(lit / 1000, UTC)
    into_night = 23.0 - (minute.hour + minute.minute / 60 + minute.second / 3600)
    low_in_night, high_in_night = 4.0 - into_night, 9.0 - (4.0 - into_night)
    cheap = 0.75 * low_in_night + 5.0 * high_in_night
    energy = energy_of(story, spans(story, lit + 14 * HOUR), tariff, UTC)
    assert [charge.kwh for charge in energy.charges] == pytest.approx([cheap, 53.0 - cheap], rel=1e-9)
    assert energy.money == pytest.approx(0.2 * cheap + 0.4 * (53.0 - cheap))


def test_a_firing_under_way_counts_as_far_as_it_was_seen(tell: Any, climbs: Any, logged: Any) -> None:
    half = climbs((0.0, 20.0), (4.0, 120.0), (9.0, 580.0))
    report = report_of(tell(half, half, tripped=None, happenings=logged[:-1]))
    assert report.ending is None
    assert report.energy.kwh == pytest.approx(3.0 + 25.0)


def test_a_timer_that_ran_out_and_was_wound_on_ends_nothing(tell: Any, raised: Any, logged: Any, lit: int) -> None:
    short = raised(8.2, "fell-short", since_utc_ms=lit + 8 * HOUR)
    story = tell(tripped=None, happenings=[*logged[:-1], short])
    found = report_of(story).ending
    assert found is not None
    assert found.how == "curve"
    assert found.utc_ms == pytest.approx(lit + 14 * HOUR, abs=60_000)
    assert report_of(replace(story, tripped_utc_ms=lit + 14 * HOUR)).ending.how == "tripped"  # type: ignore[union-attr]


def test_energy_alone_is_that_of_the_report(tell: Any) -> None:
    tariff = Tariff("EUR", 0.3, (Hours(23 * 60, 8 * 60, 0.1),))
    story = tell()
    assert energy_alone(story, tariff, UTC) == report_of(story, tariff, UTC).energy
