"""Who holds the watch, and who is in reach."""

from spyhole.core.duty import Asked, Duty, answered, ask, hand_over
from spyhole.core.journal import InReach, WatchTaken


def test_whoever_takes_the_watch_holds_it_and_is_in_reach() -> None:
    duty = hand_over(Duty(), WatchTaken("Wren", "medium at six"), 1000)
    assert (duty.holder, duty.note, duty.reached_by, duty.reached_ms) == ("Wren", "medium at six", "Wren", 1000)


def test_somebody_else_may_answer_and_the_holder_stays() -> None:
    duty = answered(hand_over(Duty(), WatchTaken("Wren"), 1000), InReach("Jo"), 9000)
    assert (duty.holder, duty.taken_ms, duty.reached_by, duty.reached_ms) == ("Wren", 1000, "Jo", 9000)


def test_a_question_is_open_from_when_it_was_first_asked_until_somebody_answers() -> None:
    duty = ask(hand_over(Duty(), WatchTaken("Wren"), 1000), "a turn", 2000)
    assert ask(duty, "the cone", 3000).asked == Asked(2000, "a turn")
    assert answered(duty, InReach("Jo"), 4000).asked is None
    assert hand_over(duty, WatchTaken("Mina"), 4000).asked is None


def test_a_watch_that_is_laid_down_answers_no_question() -> None:
    duty = hand_over(ask(hand_over(Duty(), WatchTaken("Wren"), 1000), "a turn", 2000), WatchTaken("", "all off"), 5000)
    assert (duty.holder, duty.note, duty.reached_ms) == ("", "all off", 1000)
    assert duty.asked is not None
