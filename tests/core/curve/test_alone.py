"""The only probe steps: a kiln goes on another way after what it has done in seconds, a wire goes on as before."""

from collections.abc import Callable

import pytest

from spyhole.core.curve.track import Track, take
from spyhole.core.curve.trust import Doubt, Doubts, Reason, as_lit, judge

START = 1_951_242_000_000
ROOM = 18.0
STEPS = 1800
"""The second at which it happens."""
Curve = Callable[[int], float]


def watch(curve: Curve, minutes: int, *, on: bool = True, every: int = 10) -> tuple[int | None, bool]:
    """So many minutes of a kiln with one probe: how long after it happened that is doubted, and whether it still is."""
    track = Track()
    doubts: Doubts = (None,)
    since: int | None = None
    for second in range(0, STEPS + minutes * 60, every):
        now_ms = START + second * 1000
        track = take(track, now_ms, curve(second), None, 27.0)
        doubts = judge((track,), doubts, now_ms, ROOM, (on,), (False,))
        if doubts[0] is not None and since is None:
            assert doubts[0].reason is Reason.DOUBTFUL
            since = (second - STEPS) // 60
    return since, doubts[0] is not None


def climbs(second: int) -> float:
    # A real reading is never twice the same, and a climb gets slower.
    hours = second / 3600
    return 750.0 + 150.0 * hours - 15.0 * hours * hours + (second // 10 * 7 % 5) * 0.05


def after(then: Curve) -> Curve:
    """then: what it reads more than the climb, by the second since it happened."""
    return lambda s: climbs(s) + (then(s - STEPS) if s >= STEPS else 0.0)


@pytest.mark.parametrize("every", [10, 30])
@pytest.mark.parametrize("step", [-60.0, -25.0, 25.0, 60.0])
def test_a_step_that_stays_is_the_probes_doing(step: float, every: int) -> None:
    since, still = watch(after(lambda _: step), 60, every=every)
    assert since is not None
    assert since <= (12 if step < 0.0 else 8)
    assert still, "it is wrong for as long as it stays where it stepped to"


def test_a_lid_that_was_open_for_a_minute_gives_back_what_it_took() -> None:
    assert watch(after(lambda s: -40.0 if s < 60 else -40.0 * 0.7 ** ((s - 60) / 60)), 60) == (None, False)


@pytest.mark.parametrize("slower", [40.0, 90.0, 200.0])
def test_what_climbs_another_way_after_it_may_be_the_kiln(slower: float) -> None:
    """A lid or plug that stays open, an element that gave out [degC/h less]."""
    assert watch(after(lambda s: -30.0 - slower * s / 3600), 60) == (None, False)


def test_what_went_unevenly_before_is_not_judged() -> None:
    def uneven(second: int) -> float:
        return climbs(second) + (8.0 if second // 300 % 2 else 0.0) - (30.0 if second >= STEPS else 0.0)

    assert watch(uneven, 30) == (None, False)


def test_a_small_step_is_not_told_from_a_look_through_the_plug() -> None:
    assert watch(after(lambda _: -14.0), 60) == (None, False)


def test_nobody_judges_a_step_where_nothing_heats() -> None:
    assert watch(after(lambda _: -30.0), 60, on=False) == (None, False)


def test_a_probe_that_steps_back_is_believed_again() -> None:
    since, still = watch(after(lambda s: -40.0 if s < 2400 else 0.0), 75)
    assert since is not None
    assert not still


def test_a_probe_that_cools_with_its_kiln_stays_doubted_until_a_firing_begins() -> None:
    def then_cools(second: int) -> float:
        hot = after(lambda _: -40.0)(min(second, 2 * STEPS))
        return ROOM + (hot - ROOM) * 0.5 ** (max(0, second - 2 * STEPS) / 7200)

    since, still = watch(then_cools, 16 * 60, every=30)
    assert since is not None
    assert still
    alone, pulled = Doubt(Reason.DOUBTFUL, 0, 700.0, alone=-40.0), Doubt(Reason.OUT, 0, 700.0)
    assert as_lit((alone, None, pulled)) == (None, None, pulled)
