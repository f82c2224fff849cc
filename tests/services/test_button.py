"""A bouncing contact becomes one press. The 30 ms are common practice, no source; contacts bounce for a few."""

from hypothesis import given
from hypothesis import strategies as st

from spyhole.services.button import LONG_SECONDS, SETTLE_SECONDS, STUCK_SECONDS, Button, Press, look_again, sense


def felt(moves: list[tuple[float, bool]], until: float) -> list[tuple[float, Press]]:
    """What is felt of a contact that moves at these instants, when it is looked at as it asks to be."""
    button, said, now = Button(), [], 0.0
    moves = list(moves)
    raw = False
    while now <= until:
        moved = False
        while moves and moves[0][0] <= now:
            raw, moved = moves.pop(0)[1], True
        button, press = sense(button, raw, moved, now)
        if press is not None:
            said.append((now, press))
        again = look_again(button)
        coming = [at for at in (again, moves[0][0] if moves else None) if at is not None]
        if not coming:
            break
        now = max(min(coming), now + 1e-6)
    return said


def test_a_press_is_felt_once_when_it_is_let_go() -> None:
    ((at, press),) = felt([(1.0, True), (1.3, False)], 10)
    assert press is Press.SHORT
    assert 1.3 < at <= 1.3 + SETTLE_SECONDS + 0.001


def test_a_contact_that_bounces_both_ways_is_one_press() -> None:
    bouncing = [(1.0 + i * 0.004, i % 2 == 0) for i in range(7)] + [(1.4 + i * 0.004, i % 2 == 1) for i in range(7)]
    assert [press for _, press in felt(bouncing, 10)] == [Press.SHORT]


def test_a_spark_on_the_wire_is_none() -> None:
    assert felt([(1.0, True), (1.0 + SETTLE_SECONDS / 2, False)], 10) == []


def test_held_long_it_is_a_long_one_and_not_a_short_one_too() -> None:
    said = felt([(1.0, True), (5.0, False)], 10)
    assert [press for _, press in said] == [Press.LONG]
    assert 1.0 + LONG_SECONDS <= said[0][0] <= 1.0 + LONG_SECONDS + SETTLE_SECONDS


def test_held_for_ever_it_is_stuck_until_it_is_free() -> None:
    said = felt([(1.0, True), (100.0, False)], 200)
    assert [press for _, press in said] == [Press.LONG, Press.STUCK, Press.FREE]
    assert 1.0 + STUCK_SECONDS <= said[1][0] < 2.0 + STUCK_SECONDS


@given(st.lists(st.floats(0.0, SETTLE_SECONDS * 0.9), min_size=1, max_size=40))
def test_however_it_bounces_within_the_settling_time_nothing_is_felt_but_the_press(gaps: list[float]) -> None:
    moves, at = [], 1.0
    for number, gap in enumerate(gaps):
        moves.append((at, number % 2 == 0))
        at += gap
    moves.append((at, True))
    moves.append((at + 0.5, False))
    assert [press for _, press in felt(moves, 60)] == [Press.SHORT]
