"""A turn that nobody wrote down is believed when it fits, and nothing else is taken for one."""

from spyhole.core.kiln import Switch
from spyhole.core.thermal.physics import Outside
from spyhole.core.turns import SURE, Rise, Turn, gain, with_turn

LOW = Outside((0.25,) * 3, (0.0,) * 3, 20.0)
MEDIUM = (Switch.MEDIUM,) * 3


def _rises(seen: tuple[float, ...], as_told: float = 15.0, turned: float = 45.0) -> list[Rise]:
    return [Rise(s, as_told, turned, 30.0) for s in seen]


def test_a_turn_that_fits_is_believed() -> None:
    assert gain(_rises((44.0, 47.0, 42.0)), 0.3) > SURE


def test_a_kiln_stronger_than_thought_may_turn_too() -> None:
    assert gain(_rises((56.0, 58.0, 55.0)), 0.45) > SURE


def test_nothing_turned_is_no_turn() -> None:
    assert gain(_rises((15.0, 17.0, 13.0)), 0.3) < SURE


def test_one_ring_alone_is_not_the_whole_kiln_turned() -> None:
    assert gain(_rises((45.0, 15.0, 15.0)), 0.3) < SURE


def test_three_times_the_watts_is_not_the_next_stage() -> None:
    assert gain(_rises((105.0, 106.0, 104.0)), 0.3) < SURE


def test_what_is_told_changes_from_the_turn_on() -> None:
    told = with_turn(((0, LOW),), Turn(MEDIUM, 600_000, 1), (0.5,) * 3)
    assert [(t, o.shares[0]) for t, o in told] == [(0, 0.25), (600_000, 0.5)]
    assert with_turn(told, Turn(MEDIUM, 0, 1), (0.5,) * 3) == ((0, told[1][1]),)
