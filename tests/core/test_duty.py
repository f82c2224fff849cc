"""Who holds the watch, and who is in reach."""

from spyhole.core.duty import Duty, answered, hand_over
from spyhole.core.journal import InReach, WatchTaken


def test_whoever_takes_the_watch_holds_it_and_is_in_reach():
    duty = hand_over(Duty(), WatchTaken("Wren", "medium at six"), 1000)
    assert (duty.holder, duty.note, duty.reached_by, duty.reached_ms) == ("Wren", "medium at six", "Wren", 1000)


def test_somebody_else_may_answer_and_the_holder_stays():
    duty = answered(hand_over(Duty(), WatchTaken("Wren"), 1000), InReach("Jo"), 9000)
    assert (duty.holder, duty.taken_ms, duty.reached_by, duty.reached_ms) == ("Wren", 1000, "Jo", 9000)
