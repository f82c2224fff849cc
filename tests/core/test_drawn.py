"""When what the rings draw is worth a row: at a change that a switch makes, not at one that the mains makes."""

import pytest

from spyhole.core.drawn import HELD_MS, Drawn, worth_a_row

ON_HIGH = Drawn((13.5, 12.6, None))


def test_the_first_is_written_and_the_same_is_not_until_it_is_ten_minutes_old() -> None:
    assert worth_a_row(None, 0, ON_HIGH, 0)
    assert not worth_a_row(ON_HIGH, 0, ON_HIGH, HELD_MS - 1)
    assert worth_a_row(ON_HIGH, 0, ON_HIGH, HELD_MS)


@pytest.mark.parametrize(
    ("amperes", "written"),
    [
        ((13.2, 12.4, None), False),  # the mains sag by two in a hundred
        ((13.5, 6.3, None), True),  # one ring from high to medium
        ((13.5, 0.0, None), True),  # an element is gone, or the switch is off
        ((13.5, None, None), True),  # a clamp gives no sense any more
        ((13.5, 12.6, 0.0), True),  # one gives sense again
    ],
)
def test_a_switch_is_written_and_the_mains_are_not(amperes: tuple[float | None, ...], written: bool) -> None:
    assert worth_a_row(ON_HIGH, 0, Drawn(amperes), 60_000) is written


def test_a_small_current_is_not_written_for_a_tenth_of_an_ampere() -> None:
    assert not worth_a_row(Drawn((0.0,)), 0, Drawn((0.2,)), 60_000)


def test_a_kiln_with_another_number_of_rings_is_written() -> None:
    assert worth_a_row(ON_HIGH, 0, Drawn((13.5,)), 60_000)
