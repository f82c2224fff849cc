"""What a ring lacks stays missing until it has come back, though the model has learned to do without."""

from dataclasses import replace

from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Written, open_firing
from spyhole.core.lacking import lacked
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE = 60_000
DOUBT = 0.05
SURELY_LESS, LESS_AS_LEARNED, AS_IT_SHOULD = -0.3, -0.08, -0.02


def on_high() -> Firing:
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    last = len(TONIGHT.plan.stages) - 1
    firing = open_firing(start, KILN, TONIGHT.plan, 20.0)
    return replace(firing, stage=last, switches=TONIGHT.plan.stages[last].switches)


def since(firing: Firing, shares: list[float], doubt: float = DOUBT) -> list[int | None]:
    """Minute by minute since which minute the middle ring lacks heat, for the share that it gets beyond its switch."""
    found: list[int | None] = []
    for minute, share in enumerate(shares, 600):
        now_ms = minute * MINUTE
        left = tuple(Residual(900.0, 5.0, 90.0, 1.0, s, doubt, DOUBT) for s in (0.0, share, 0.0))
        tracks = (Track(at_ms=now_ms, celsius=900.0),) * 3
        view = View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (900.0,) * 3, left=left)
        firing = replace(firing, lacked=lacked(view))
        assert firing.lacked[0] is firing.lacked[2] is None
        middle = firing.lacked[1]
        found.append(None if middle is None else middle // MINUTE - 600)
    return found


def test_a_lack_that_the_model_has_learned_goes_on() -> None:
    learned = [AS_IT_SHOULD, SURELY_LESS, SURELY_LESS, LESS_AS_LEARNED, LESS_AS_LEARNED, AS_IT_SHOULD, LESS_AS_LEARNED]
    assert since(on_high(), learned) == [None, 1, 1, 1, 1, None, None]


def test_what_is_missed_beside_the_others_alone_goes_on_too() -> None:
    """By itself it might all be the clay's water; then the others lack a little too, for want of a warm neighbour."""
    assert since(on_high(), [AS_IT_SHOULD, -0.42, -0.35, -0.3], doubt=0.14) == [None, 1, 1, 1]


def test_a_little_less_than_expected_is_a_kilns_mood() -> None:
    assert since(on_high(), [LESS_AS_LEARNED] * 3) == [None] * 3


def test_while_switches_are_turned_nothing_is_missed() -> None:
    assert since(replace(on_high(), turned_ms=599 * MINUTE), [SURELY_LESS] * 2) == [None] * 2


def all_lacking(firing: Firing, shares: list[tuple[float, float, float]]) -> list[bool]:
    """Minute by minute whether every ring is known to lack heat, for the shares that they get beyond their switches."""
    found = []
    for minute, each in enumerate(shares, 600):
        now_ms = minute * MINUTE
        left = tuple(Residual(900.0, 5.0, 90.0, 1.0, s, DOUBT, DOUBT) for s in each)
        tracks = (Track(at_ms=now_ms, celsius=900.0),) * 3
        view = View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (900.0,) * 3, left=left)
        firing = replace(firing, lacked=lacked(view))
        found.append(None not in firing.lacked)
    return found


def test_what_most_rings_surely_lack_and_none_has_the_whole_kiln_lacks() -> None:
    assert all_lacking(on_high(), [(-0.21, -0.19, -0.19), (-0.21, -0.19, -0.21)]) == [False, True]


def test_one_ring_that_has_its_due_makes_it_no_lack_of_the_kiln() -> None:
    assert all_lacking(on_high(), [(-0.3, -0.05, -0.3)] * 2) == [False, False]


def test_what_the_whole_kiln_lacks_goes_on_until_it_gets_more_than_the_model_has_learned() -> None:
    lost, learned, back = (-0.3, -0.3, -0.3), (-0.01, 0.01, 0.0), (0.1, 0.1, 0.1)
    assert all_lacking(on_high(), [lost] * 12 + [learned, learned, back]) == [True] * 14 + [False]


def test_what_the_whole_kiln_lacks_is_over_where_it_has_its_due_before_the_model_can_have_learned() -> None:
    lost, its_due = (-0.3, -0.3, -0.3), (-0.01, 0.01, 0.0)
    assert all_lacking(on_high(), [lost] * 5 + [its_due]) == [True] * 5 + [False]
