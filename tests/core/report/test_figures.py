"""Climbs, times, soak, evenness and cooling of ramps whose answers are arithmetic; heat work by the chart's law."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from spyhole.core.cones.kinetics import alpha_of_climb, cone, end_point_celsius
from spyhole.core.entry import EntryKind
from spyhole.core.kiln import Kiln, Ring
from spyhole.core.report import climbing
from spyhole.core.report.climbing import falling, hours_above, rising
from spyhole.core.report.heatwork import gained, work_of
from spyhole.core.report.report import report_of
from spyhole.core.report.story import Minute

HOUR = 3_600_000


def test_the_climb_of_each_range(tell: Any) -> None:
    """25 an hour to 120, then 92 an hour to 1040."""
    report = report_of(tell())
    by_range = {(round(one.from_celsius), round(one.to_celsius)): one.rings for one in report.ranges}
    assert by_range[(20, 100)][0] == pytest.approx(25.0, rel=0.02)
    assert by_range[(200, 450)] == pytest.approx((92.0, 92.0), rel=1e-3)
    assert by_range[(450, 573)] == pytest.approx((92.0, 92.0), rel=1e-3)
    last = report.ranges[-1]
    assert last.last
    assert last.rings == pytest.approx((92.0, 92.0), rel=0.01)


def test_time_above(tell: Any) -> None:
    """Above 800: 240 degC up at 92 an hour, 240 down at 100 an hour. The top ring is 10 cooler."""
    above = {one.celsius: one.rings for one in report_of(tell()).above if not one.below_peak}
    assert above[800.0] == pytest.approx((240 / 92 + 2.4, 230 / 92 + 2.3), abs=0.02)
    assert 1100.0 not in above
    near = report_of(tell()).above[-1]
    assert near.below_peak
    assert near.rings == pytest.approx((50 / 92 + 0.5,) * 2, abs=0.02)


def test_a_soak_is_the_time_near_the_peak(tell: Any, climbs: Any) -> None:
    held = climbs((0.0, 20.0), (10.0, 1040.0), (10.5, 1040.0), (20.0, 40.0))
    assert climbing.soak_minutes(tell(held, held)) == pytest.approx(30 + 5 / 1.7 + 5 / (1000 / 9.5 / 60), abs=1.5)


def test_evenness(tell: Any, climbs: Any) -> None:
    bottom = climbs((0.0, 20.0), (14.0, 1040.0), (24.0, 40.0))
    top = [celsius - (30.0 if celsius > 900 else 12.0) for celsius in bottom]
    even = report_of(tell(bottom, top)).evenness
    assert (even.at_end, even.widest) == (pytest.approx(30.0), pytest.approx(30.0))
    assert even.above_celsius == 600.0


def test_cooling_through_the_inversions(tell: Any) -> None:
    quartz, cristobalite, planned = report_of(tell()).cooling
    assert (quartz.name, quartz.celsius_per_hour) == ("quartz", pytest.approx(100.0, rel=1e-3))
    assert cristobalite.fastest == pytest.approx(100.0, rel=0.01)
    assert (planned.name, planned.limit) == ("", 150.0)


def test_a_band_that_was_raced_through_shows_in_its_fastest_ten_minutes(tell: Any, climbs: Any) -> None:
    raced = climbs((0.0, 20.0), (14.0, 1040.0), (18.0, 600.0), (18.25, 550.0), (28.0, 40.0))
    band = report_of(tell(raced, raced)).cooling[0]
    assert band.fastest == pytest.approx(200.0, rel=0.02)
    assert band.celsius_per_hour is not None
    assert band.celsius_per_hour < 150.0


def test_when_it_was_cool(tell: Any, lit: int) -> None:
    cooled = dict(report_of(tell()).cooled)
    assert cooled[200.0] == pytest.approx(lit + 22.4 * HOUR, abs=2000)
    assert cooled[100.0] == pytest.approx(lit + 23.4 * HOUR, abs=2000)


def test_heat_work_of_a_steady_climb_is_the_closed_form(tell: Any) -> None:
    """alpha(T) at a steady climb has a closed form (Kissinger's integral); the little after the peak is on top."""
    one = cone("05")
    minutes = [Minute(n * 60_000, c - 0.5, c, c + 0.5) for n in range(720) if (c := 320.0 + n)]
    for minute, alpha in zip(minutes, gained(one, minutes), strict=True):
        assert alpha == pytest.approx(alpha_of_climb(one, minute.celsius, 60.0), rel=2e-3, abs=1e-6)


def test_a_cone_goes_down_where_the_chart_says(tell: Any, climbs: Any, lit: int) -> None:
    """Up at 60 degC an hour, straight past the end point of cone 05."""
    end = end_point_celsius(cone("05"), 60.0)
    ramp = climbs((0.0, 20.0), (18.0, 1100.0), (18.2, 1000.0), (29.0, 40.0))
    report = report_of(tell(ramp, ramp, tripped=18.0, happenings=()))
    assert report.down is not None
    assert report.down.utc_ms == pytest.approx(lit + (end - 20.0) * 60_000, abs=30_000)
    assert report.down.low is not None
    assert report.down.low < report.down.utc_ms
    work = report.rings[0].work
    assert work is not None
    assert work.down == "03"  # 1086 degC at 60 an hour; cone 02 at 1102
    assert work.following == "02"


def test_a_cone_that_was_seen_moves_the_work_and_narrows_it(tell: Any, note: Any, logged: Any) -> None:
    blind = work_of(tell(), 0)
    seen = work_of(tell(happenings=[*logged, note(30.0, EntryKind.CONE, "bottom", "05:60")]), 0)
    assert blind is not None
    assert seen is not None
    assert (blind.offset, blind.raw) == (None, seen.raw)
    assert seen.offset is not None
    assert seen.offset.value < 0  # less than the curve says: the probe reads too hot
    assert seen.alpha < blind.alpha
    assert seen.high / seen.low < blind.high / blind.low


def test_a_ring_without_a_probe_has_no_numbers(tell: Any, climbs: Any) -> None:
    fired = climbs((0.0, 20.0), (14.0, 1040.0), (24.0, 40.0))
    story = tell(fired, [None] * len(fired))
    kiln = Kiln("Puffin", 1290.0, (story.kiln.rings[0], Ring("top", 2000.0)))
    report = report_of(replace(story, kiln=kiln))
    top = report.rings[1]
    assert (top.peak_celsius, top.work, top.probe) == (None, None, False)
    assert top.kwh > 0
    assert (report.evenness.at_end, report.evenness.widest) == (None, None)
    assert all(one.rings[1] is None for one in (*report.ranges, *report.above))


def test_a_probe_that_was_lost_on_the_way_has_no_peak_and_no_heat_work(tell: Any, climbs: Any) -> None:
    fired = climbs((0.0, 20.0), (14.0, 1040.0), (24.0, 40.0))
    lost = [celsius if number < 600 else None for number, celsius in enumerate(fired)]
    report = report_of(tell(lost, fired))
    bottom = report.rings[0]
    assert (bottom.peak_celsius, bottom.work) == (None, None)
    assert all(line.rings[0] is None for line in report.above)
    assert report.reference == 1  # the other ring decides then
    assert report.down is not None


def test_a_probe_that_was_away_for_some_minutes_is_bridged(tell: Any, climbs: Any) -> None:
    fired = climbs((0.0, 20.0), (14.0, 1040.0), (24.0, 40.0))
    away = [None if 800 <= number < 810 else celsius for number, celsius in enumerate(fired)]
    whole, bridged = report_of(tell(fired, fired)).rings[0].work, report_of(tell(away, fired)).rings[0].work
    assert whole is not None
    assert bridged is not None
    assert (whole.bridged, bridged.bridged) == (False, True)
    assert bridged.raw == pytest.approx(whole.raw, abs=0.005)


def test_a_firing_with_no_reading_at_all(tell: Any) -> None:
    report = report_of(replace(tell(), points=()))
    assert (report.peak_celsius, report.ranges, report.above, report.down) == (None, (), (), None)
    assert report.energy.kwh == pytest.approx(53.0)


@given(some.lists(some.floats(0, 1300), min_size=2, max_size=40), some.floats(1, 1299))
def test_time_above_is_never_more_than_there_was(values: list[float], figure: float) -> None:
    seen = [(n * 60_000, value) for n, value in enumerate(values)]
    assert 0.0 <= hours_above(seen, figure) <= (len(seen) - 1) / 60 + 1e-9
    up, down = rising(seen, figure), falling(seen, figure)
    for crossing in (up, down):
        assert crossing is None or 0 <= crossing <= seen[-1][0]
