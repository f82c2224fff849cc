"""What is said of what a kiln has taught."""

import pytest

from spyhole.core.learned import Learned, Slip
from spyhole.core.learning import Odd
from spyhole.core.lesson_words import WHY, lesson, taught


def missed(*two_hours_before: float | None) -> Learned:
    return Learned(slips=tuple(Slip((None, m, None), (None, m, None)) for m in two_hours_before))


def test_nothing_yet() -> None:
    assert "No firing has taught" in taught(Learned())


def test_the_gain_is_said_without_a_sign() -> None:
    assert "22 min in the first of them and to 6 min in the last" in taught(missed(-22.4, 9.0, 6.1))
    assert "foretold to 22 min, by the heat" in taught(missed(22.4))


def test_where_no_forecast_was_so_early_only_the_firings_are_counted() -> None:
    assert taught(missed(None, None)).startswith("The last 2 good firings have taught")
    assert "min" not in taught(missed(None))


@pytest.mark.parametrize("odd", list(Odd))
def test_every_odd_firing_has_its_reason(odd: Odd) -> None:
    assert WHY[odd] in lesson(odd, None)
    assert WHY[odd] in lesson(odd, True)
    assert lesson(odd, False).startswith("Nothing is learned")
