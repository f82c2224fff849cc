"""Durations never follow the wall clock; UTC does."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.journal import Clock, Row
from spyhole.core.reading import Reading
from spyhole.core.timeline import LONGEST_GAP_MS, Timeline, correction, follow

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


def fold(*rows: Row) -> list[Timeline]:
    lines = [Timeline()]
    for sequence, one in enumerate(rows, 1):
        lines.append(follow(lines[-1], Row(one.kiln, sequence, one.boot, one.monotonic_ms, one.told)))
    return lines


def test_within_a_boot_a_clock_that_was_set_is_believed_before_one_that_was_not() -> None:
    *_, line = fold(row("one", 0, Clock(TEN, True)), row("one", 60_000, Clock(5_000, False)))
    assert line.utc_ms == TEN + 60_000
    *_, line = fold(row("one", 0, Clock(9_000, False)), row("one", 60_000, Clock(5_000, False)))
    assert line.utc_ms == 5_000, "among equals the latest"


def test_what_began_in_1970_moves_once_the_clock_is_set() -> None:
    *_, before, after = fold(
        row("one", 9_000, Clock(9_000, False)), row("one", 69_000), row("one", 69_000, Clock(TEN, True))
    )
    found = correction(before, after)
    assert found is not None
    assert found.of(9_000) == TEN - 60_000
    assert (found.of(8_999), found.of(69_001)) == (8_999, 69_001), "nothing that hangs on another clock moves"


def test_a_boot_that_never_learned_the_time_hangs_on_the_next() -> None:
    """Nobody knows how long the machine was away, so that is counted as nothing."""
    *_, before, after = fold(
        row("one", 9_000, Clock(9_000, False)), row("one", 69_000), row("two", 5_000, Clock(TEN, True))
    )
    found = correction(before, after)
    assert found is not None
    assert found.of(9_000) == TEN - 60_000


def test_two_boots_without_a_clock_move_together() -> None:
    first = row("one", 9_000, Clock(9_000, False)), row("one", 69_000), row("two", 5_000, Clock(5_000, False))
    lines = fold(*first, row("two", 65_000, Clock(TEN, True)))
    at = 9_000
    for before, after in pairwise(lines):
        found = correction(before, after)
        at = at if found is None else found.of(at)
    assert at == TEN - 120_000


def test_a_boot_with_a_clock_keeps_its_times_whatever_the_next_says() -> None:
    *_, before, after = fold(row("one", 0, Clock(TEN, True)), row("two", 0, Clock(5_000, False)))
    assert correction(before, after) is None
    *_, before, after = fold(
        row("one", 0, Clock(TEN, True)), row("two", 0, Clock(5_000, False)), row("two", 60_000, Clock(TEN * 2, True))
    )
    found = correction(before, after)
    assert found is not None
    assert found.of(TEN) == TEN


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 90_000), st.integers(0, 2**42), st.booleans()), min_size=2))
def test_the_axis_never_goes_back(told: list[tuple[int, int, int, bool]]) -> None:
    monotonic: dict[int, int] = {}
    boot, rows = 0, []
    for jump, passed_ms, utc_ms, synchronised in told:
        boot += jump == 3
        monotonic[boot] = monotonic.get(boot, 0) + passed_ms
        rows.append(row(str(boot), monotonic[boot], Clock(utc_ms, synchronised) if jump else TICK))
    lines = fold(*rows)[1:]
    assert all(a.now_ms <= b.now_ms for a, b in pairwise(lines))
