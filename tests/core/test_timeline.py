"""Durations never follow the wall clock; UTC does."""

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.journal import Clock, Row
from spyhole.core.reading import Reading
from spyhole.core.timeline import LONGEST_GAP_MS, Timeline, follow

TEN = 1_951_242_000_000  # 2031-10-31 in the forenoon
TICK = Reading(())


def row(boot: str, monotonic_ms: int, told: Clock | Reading = TICK) -> Row:
    return Row("Puffin", 1, boot, monotonic_ms, told)


def test_the_first_clock_row_places_the_kiln_in_time() -> None:
    line = follow(Timeline(), row("one", 5_000, Clock(TEN, True)))
    assert (line.now_ms, line.utc_ms) == (TEN, TEN)
    line = follow(line, row("one", 65_000))
    assert (line.now_ms, line.utc_ms) == (TEN + 60_000, TEN + 60_000)


@given(st.integers(-7_200_000, 7_200_000))
def test_a_step_of_the_wall_clock_moves_utc_and_no_duration(stepped_ms: int) -> None:
    line = follow(Timeline(), row("one", 0, Clock(TEN, True)))
    line = follow(line, row("one", 60_000, Clock(TEN + 60_000 + stepped_ms, True)))
    line = follow(line, row("one", 120_000))
    assert line.now_ms == TEN + 120_000
    assert line.utc_ms == TEN + 120_000 + stepped_ms


def test_a_restart_of_the_machine_counts_the_time_it_was_away() -> None:
    line = follow(Timeline(), row("one", 900_000, Clock(TEN, True)))
    line = follow(line, row("two", 4_000, Clock(TEN + 300_000, True)))
    assert line.now_ms == TEN + 300_000
    assert follow(line, row("two", 9_000)).now_ms == TEN + 305_000


@given(st.one_of(st.integers(-(2**50), -1), st.integers(LONGEST_GAP_MS + 1, 2**50)))
def test_a_wall_clock_that_cannot_be_right_after_a_restart_counts_no_time(gap_ms: int) -> None:
    line = follow(Timeline(), row("one", 0, Clock(TEN, True)))
    line = follow(line, row("two", 0, Clock(TEN + gap_ms, False)))
    assert line.now_ms == TEN
    assert line.utc_ms == TEN + gap_ms
