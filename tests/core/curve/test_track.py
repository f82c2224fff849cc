"""A spike never gets in; a step only when it stays."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.curve.track import Track, take
from spyhole.core.reading import Fault

START = 1_951_242_000_000


def feed(values: list[float | None], every_seconds: int = 10, track: Track | None = None) -> Track:
    track = Track() if track is None else track
    first = START if track.at_ms is None else track.at_ms + every_seconds * 1000
    for i, celsius in enumerate(values):
        track = take(
            track, first + i * every_seconds * 1000, celsius, None if celsius is not None else Fault.OPEN, None
        )
    return track


def test_the_first_number_waits_for_a_second_that_agrees() -> None:
    assert feed([20.0]).celsius is None
    assert feed([20.0, 20.5]).celsius == 20.5


@pytest.mark.parametrize("every_seconds", [10, 30])
@given(spike=st.floats(40, 800), up=st.booleans())
def test_one_spike_is_never_believed(every_seconds: int, spike: float, up: bool) -> None:
    track = feed([900.0] * 20, every_seconds)
    track = feed([900.0 + (spike if up else -spike)], every_seconds, track)
    assert track.celsius == 900.0
    assert feed([900.2], every_seconds, track).jump is None


def test_a_step_that_stays_is_believed_and_said_to_be_a_jump() -> None:
    track = feed([700.0, 701.0], track=feed([900.0] * 20))
    assert track.celsius == 701.0
    assert track.jump is not None
    assert (track.jump.from_celsius, track.jump.to_celsius) == (900.0, 701.0)


def test_a_fault_has_no_number_and_keeps_its_beginning() -> None:
    track = feed([None, None, None], track=feed([400.0] * 12))
    assert track.fault is Fault.OPEN
    assert track.fault_since_ms == START + 12 * 10_000
    assert track.celsius == 400.0
    assert track.at_ms == START + 11 * 10_000
    assert feed([400.0, 400.0], track=track).fault is None


def test_the_climb_is_that_of_the_ramp() -> None:
    track = feed([500 + i * 100 / 360 for i in range(120)])
    assert track.climb == pytest.approx(100, abs=1)


def test_noise_is_rough_and_a_fall_is_not() -> None:
    noisy = feed([500 + (40 if i % 2 else -40) for i in range(60)])
    falling = feed([max(20.0, 900 * 0.8**i) for i in range(60)])
    assert noisy.rough_celsius > 20
    assert falling.rough_celsius < 2


def test_a_number_that_never_changes_is_noticed() -> None:
    track = feed([500.0, 501.0, *[502.0] * 50])
    assert track.moved_ms == START + 20_000
