"""Why the cone is expected at another time than it was."""

from dataclasses import replace

import pytest

from spyhole.core.outcome import EstimateOutcome, Moved, Why
from spyhole.services.sayings import moved_words

CALM = EstimateOutcome(0, "high", True, (), (), 0.1, 9.0, None, None, None, None, (), None)


def test_nothing_is_said_while_it_has_not_moved() -> None:
    assert moved_words(None) == ""
    assert moved_words(CALM) == ""


@pytest.mark.parametrize("why", list(Why))
def test_every_reason_has_words(why: Why) -> None:
    said = moved_words(replace(CALM, moved=Moved(0, -12, why)))
    assert said.startswith(" The cone is now expected 12 minutes sooner: ")
    assert said.endswith(".")


def test_later_is_later() -> None:
    moved = Moved(0, 9, Why.SWITCH)
    assert moved_words(replace(CALM, moved=moved)) == " The cone is now expected 9 minutes later: a switch was turned."
