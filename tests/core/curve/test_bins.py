"""Ten seconds at a time, whatever the sampling."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.curve.bins import Bin, Filling, add
from spyhole.core.reading import Fault, ProbeReading, Reading

START = 1_951_242_000_000


def bins(samples: list[tuple[int, ProbeReading]]) -> list[Bin]:
    filling, closed = Filling(), []
    for at_ms, probe in samples:
        filling, one = add(filling, at_ms, Reading((probe,)))
        closed += [] if one is None else [one]
    return closed


@pytest.mark.parametrize(("every_seconds", "count"), [(1, 60), (5, 60), (10, 60), (30, 20)])
def test_ten_minutes_make_a_bin_each_ten_seconds_or_one_a_sample(every_seconds: int, count: int) -> None:
    samples = [(START + s * 1000, ProbeReading(100.0)) for s in range(0, 600, every_seconds)]
    assert abs(len(bins(samples)) - count) <= 1


def test_one_spike_among_ten_samples_does_not_show() -> None:
    samples = [(START + s * 1000, ProbeReading(900.0 if s != 14 else 1500.0)) for s in range(31)]
    assert {b.celsius[0] for b in bins(samples)} == {900.0}


def test_a_bin_of_mostly_faults_has_no_number() -> None:
    samples = [(START + s * 1000, ProbeReading(None, Fault.OPEN) if s % 3 else ProbeReading(80.0)) for s in range(31)]
    assert all(b.celsius[0] is None and b.faults[0] is Fault.OPEN for b in bins(samples)[1:])


def test_a_chip_that_forgot_itself_is_heard_among_good_numbers() -> None:
    samples = [
        (START + s * 1000, ProbeReading(None, Fault.CONFIG) if s == 15 else ProbeReading(80.0)) for s in range(31)
    ]
    assert [b.faults[0] for b in bins(samples)].count(Fault.CONFIG) == 1


def test_nothing_read_is_neither_number_nor_fault() -> None:
    samples = [(START + s * 1000, ProbeReading(None)) for s in range(0, 60, 5)]
    assert all(b.celsius == (None,) and b.faults == (None,) for b in bins(samples))


@given(st.lists(st.integers(1, 40_000), min_size=1, max_size=200))
def test_every_sample_is_in_exactly_one_bin_and_bins_go_forward(steps_ms: list[int]) -> None:
    at_ms, samples = START, []
    for step_ms in steps_ms:
        at_ms += step_ms
        samples.append((at_ms, ProbeReading(1.0)))
    closed = bins(samples)
    assert [b.at_ms for b in closed] == sorted({b.at_ms for b in closed})
    assert all(START < b.at_ms <= at_ms for b in closed)
