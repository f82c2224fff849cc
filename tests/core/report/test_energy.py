"""Energy by the switches, worked out by hand: 3 kW and 2 kW rings, a quarter on low."""

import random
from dataclasses import replace
from datetime import UTC
from typing import Any

import numpy as np
import pytest

from spyhole.core.drawn import Drawn
from spyhole.core.entry import EntryKind
from spyhole.core.outcome import Action
from spyhole.core.report import sentences
from spyhole.core.report.energy import energy_of, spans, with_currents
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


def amperes(lit: int, *at: tuple[float, float | None, float | None]) -> tuple[tuple[int, Drawn], ...]:
    """(hour, bottom, top) from then on, written down again each ten minutes as it is."""
    ends = [*(hour for hour, _, _ in at[1:]), 14.0]
    return tuple(
        (lit + round((hour + n / 6) * HOUR), Drawn((bottom, top)))
        for (hour, bottom, top), end in zip(at, ends, strict=True)
        for n in range(round((end - hour) * 6))
    )


def test_a_measured_current_is_believed_and_not_the_rating(tell: Any, lit: int) -> None:
    """230 V. 4 h of 3 A: 2.76 kWh. 10 h of 12 and 8 A: 27.6 and 18.4 kWh."""
    story = replace(tell(), drawn=amperes(lit, (0.0, 3.0, 0.0), (4.0, 12.0, 8.0)))
    report = report_of(story)
    assert report.energy.rings == pytest.approx((2.76 + 27.6, 18.4))
    assert (report.energy.measured_share, report.energy.logged_share) == pytest.approx((1.0, 0.0))
    assert [stage.kwh for stage in report.stages] == pytest.approx([2.76, 46.0])
    assert [ring.kwh for ring in report.rings] == pytest.approx(report.energy.rings)
    assert energy_alone(story, None, UTC) == report.energy
    assert "measured current times the kiln's own volts" in " ".join(sentences.unknown(report))


def test_a_ring_without_a_transformer_goes_by_its_switch(tell: Any, lit: int) -> None:
    energy = report_of(replace(tell(), drawn=amperes(lit, (0.0, 3.0, None), (4.0, 12.0, None)))).energy
    assert energy.rings == pytest.approx((2.76 + 27.6, 20.0))
    assert energy.measured_share == pytest.approx(30.36 / 50.36)
    assert energy.believed_share == pytest.approx(0.0, abs=1e-9)


def test_what_was_measured_long_ago_holds_no_longer(tell: Any, lit: int) -> None:
    """Eleven minutes of 3 A, the rest of low by its switch: 0.75 kW."""
    energy = report_of(replace(tell(), drawn=((lit, Drawn((3.0, 0.0))),))).energy
    assert energy.rings[0] == pytest.approx(0.69 * 11 / 60 + 0.75 * (4 - 11 / 60) + 30.0)


def test_the_cost_of_a_measured_current_is_by_the_hour_too(tell: Any, lit: int) -> None:
    story = replace(tell(), drawn=amperes(lit, (0.0, 3.0, 0.0), (4.0, 12.0, 8.0)))
    energy = report_of(story, Tariff("EUR", 0.5), UTC).energy
    assert energy.money == pytest.approx(0.5 * energy.kwh)
    assert energy.kwh == pytest.approx(48.76)


def test_measured_energy_is_numpy_s_sum_over_seconds(tell: Any, note: Any, lit: int) -> None:
    """Currents that wander, a cut and a ring turned off: watt-seconds added up one by one, to a thousandth."""
    d = random.Random("currents")
    rows, at = [], 0.0
    while at < 14.0:
        rows.append((lit + round(at * HOUR), Drawn((d.uniform(2.0, 13.0), d.choice((None, d.uniform(0.0, 9.0)))))))
        at += d.choice((1 / 60, 1 / 30, 1 / 6, 0.3))
    story = replace(tell(), drawn=tuple(rows))
    seconds = np.arange(14 * 3600)
    stamps = np.array([(utc_ms - lit) / 1000 for utc_ms, _ in rows])
    place = np.searchsorted(stamps, seconds, side="right") - 1
    fresh = (place >= 0) & (seconds - stamps[place] < 660)
    rated = np.where(seconds < 4 * 3600, 750.0, 3000.0), np.where(seconds < 4 * 3600, 0.0, 2000.0)
    for ring in (0, 1):
        said = np.array([np.nan if one.amperes[ring] is None else one.amperes[ring] for _, one in rows])[place]
        watts = np.where(fresh & ~np.isnan(said), 230.0 * np.nan_to_num(said), rated[ring])
        assert report_of(story).energy.rings[ring] == pytest.approx(float(watts.sum()) / 3.6e6, rel=1e-3)


def test_without_currents_nothing_is_as_if_there_were_some(tell: Any, lit: int) -> None:
    spent = spans(tell(), lit + 14 * HOUR)
    assert with_currents(spent, ()) == spent
    assert report_of(tell()).energy.measured_share == 0.0


def test_energy_alone_is_that_of_the_report(tell: Any) -> None:
    tariff = Tariff("EUR", 0.3, (Hours(23 * 60, 8 * 60, 0.1),))
    story = tell()
    assert energy_alone(story, tariff, UTC) == report_of(story, tariff, UTC).energy
