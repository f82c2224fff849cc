"""Is this probe wrong, or is this kiln? Three rings and one ring, each way a probe can deceive."""

from collections.abc import Callable
from random import Random

import pytest

from spyhole.core.curve.track import Track, take
from spyhole.core.curve.trust import Doubts, Reason, judge, trusted

START = 1_951_242_000_000
ROOM = 18.0
Curve = Callable[[int], float | None]


def watch(
    curves: list[Curve], minutes: int, cold: float | None = 27.0, on: bool | tuple[bool, ...] = True
) -> tuple[Doubts, tuple[bool, ...]]:
    """Bins every ten seconds; a curve gives degC by the second."""
    lit = on if isinstance(on, tuple) else (on,) * len(curves)
    tracks = tuple(Track() for _ in curves)
    doubts: Doubts = (None,) * len(curves)
    now_ms = START
    for second in range(0, minutes * 60, 10):
        now_ms = START + second * 1000
        tracks = tuple(take(t, now_ms, c(second), None, cold) for t, c in zip(tracks, curves, strict=True))
        doubts = judge(tracks, doubts, now_ms, ROOM, lit, (False,) * len(curves))
    return doubts, trusted(tracks, doubts, now_ms)


def climbing(from_celsius: float, per_hour: float = 120.0) -> Curve:
    # A real reading is never twice the same: a few hundredths of noise, by the second.
    return lambda s: from_celsius + per_hour * s / 3600 + (s // 10 * 7 % 5) * 0.05


def then(at_second: int, before: Curve, after: Curve) -> Curve:
    return lambda s: before(s) if s < at_second else after(s)


def pulled_out(second: int, start: Curve) -> Curve:
    hot = start(second) or 0.0
    return then(second, start, lambda s: 22.0 + (hot - 22.0) * 0.85 ** ((s - second) / 10) + (s // 10 * 7 % 5) * 0.05)


WELL = [climbing(600), climbing(612), climbing(590)]


def reasons(doubts: Doubts) -> list[Reason | None]:
    return [None if d is None else d.reason for d in doubts]


def test_three_rings_that_climb_are_trusted() -> None:
    assert watch(WELL, 120) == ((None, None, None), (True, True, True))


@pytest.mark.parametrize("ring", [0, 1, 2])
def test_a_probe_pulled_out_reads_the_room(ring: int) -> None:
    curves = list(WELL)
    curves[ring] = pulled_out(1800, curves[ring])
    doubts, fit = watch(curves, 60)
    assert reasons(doubts)[ring] is Reason.OUT
    assert [d for i, d in enumerate(doubts) if i != ring] == [None, None]
    assert fit == tuple(i != ring for i in range(3))


def test_the_only_probe_pulled_out_is_known_too() -> None:
    doubts, fit = watch([pulled_out(1800, climbing(600))], 60)
    assert reasons(doubts) == [Reason.OUT]
    assert fit == (False,)


def test_a_probe_that_shorts_reads_the_amplifier_at_once() -> None:
    doubts, _ = watch([then(1800, climbing(600), lambda s: 27.0 + (s // 10 * 7 % 5) * 0.01), *WELL[1:]], 60)
    assert reasons(doubts) == [Reason.SHORTED, None, None]


def test_a_step_of_one_ring_is_its_probe_and_of_all_rings_is_the_lid() -> None:
    def stepped(curve: Curve) -> Curve:
        return then(1800, curve, lambda s: (curve(s) or 0.0) - 80.0)

    doubts, _ = watch([stepped(WELL[0]), *WELL[1:]], 45)
    assert reasons(doubts) == [Reason.DOUBTFUL, None, None]
    doubts, _ = watch([stepped(c) for c in WELL], 45)
    assert reasons(doubts) == [None, None, None]


def falling(from_celsius: float, per_hour: float, after: float, at_second: int = 1800) -> Curve:
    """At one pace, and from this second on at another [degC/h]."""
    before = climbing(from_celsius, -per_hour)
    left = before(at_second) or 0.0
    return then(at_second, before, lambda s: climbing(left, -after)(s - at_second) or 0.0)


def opened(from_celsius: float, per_hour: float, at_second: int = 1800) -> Curve:
    """What the top probe does under a lid that is opened: most of its fall within minutes."""
    before = climbing(from_celsius, -per_hour)
    left = before(at_second) or 0.0
    return then(
        at_second, before, lambda s: left - 300.0 * (1.0 - 0.93 ** ((s - at_second) / 10)) - (s - at_second) / 30
    )


def test_an_opened_lid_is_no_fault_of_the_top_probe() -> None:
    """It falls at once and far, the rings below a few minutes later and by less: rings that fall faster say a lid."""
    doubts, fit = watch([falling(640, 120, 160), falling(650, 120, 420), opened(640, 120)], 60, on=False)
    assert reasons(doubts) == [None, None, None]
    assert fit == (True, True, True)


def test_a_top_probe_that_falls_alone_while_all_cool_is_a_fault() -> None:
    doubts, _ = watch([falling(640, 120, 120), falling(650, 120, 120), opened(640, 120)], 60, on=False)
    assert reasons(doubts) == [None, None, Reason.DOUBTFUL]


def test_a_probe_that_stands_still_while_the_others_climb_is_stuck() -> None:
    doubts, _ = watch([then(1800, WELL[0], lambda _s: 660.0), *WELL[1:]], 90)
    assert reasons(doubts) == [Reason.STUCK, None, None]


def test_a_probe_wired_the_wrong_way_round_falls_in_the_heat() -> None:
    doubts, _ = watch([climbing(18, -90), climbing(18), climbing(18)], 60)
    assert reasons(doubts)[0] is Reason.REVERSED


def test_a_probe_that_jumps_about_is_unsteady() -> None:
    shaken = Random(3)
    doubts, fit = watch([lambda s: 600 + s / 30 + shaken.gauss(0, 30), *WELL[1:]], 30)
    assert reasons(doubts)[0] in (Reason.NOISY, Reason.DOUBTFUL)
    assert reasons(doubts)[1:] == [None, None]
    assert fit == (False, True, True)


def test_a_cold_ring_that_is_off_is_not_called_shorted() -> None:
    doubts, _ = watch([climbing(100, 30), lambda s: 27.0 + (s // 10 * 7 % 5) * 0.05, climbing(80, 20)], 90, on=False)
    assert reasons(doubts) == [None, None, None]


def near_the_amplifier(second: int) -> float:
    return 27.0 + (second // 10 * 7 % 5) * 0.05


def test_a_cold_probe_of_the_only_ring_that_is_on_is_not_shorted_while_one_that_is_off_is_hot() -> None:
    """The two are changed over: the hot ring is the one that is on."""
    changed_over = [near_the_amplifier, climbing(28, 12), climbing(28, 70)]
    assert reasons(watch(changed_over, 80, on=(True, False, False))[0]) == [None, None, None]
    assert reasons(watch(changed_over, 80)[0])[0] is Reason.SHORTED, "beside a hot ring that is on"


def test_a_probe_that_leaves_its_amplifier_is_not_shorted_after_all() -> None:
    slow = then(4800, near_the_amplifier, lambda s: 27.0 + (s - 4800) / 60)
    doubts, _ = watch([slow, climbing(28, 60), climbing(28, 70)], 120)
    assert reasons(doubts) == [None, None, None]


def test_a_probe_put_back_is_believed_again_after_five_minutes() -> None:
    out = pulled_out(1800, WELL[0])
    doubts, fit = watch([then(3600, out, WELL[0]), *WELL[1:]], 90)
    assert reasons(doubts) == [None, None, None]
    assert fit == (True, True, True)


@pytest.mark.parametrize("celsius", [-30.0, 30.0])
def test_a_small_step_of_one_ring_that_stays_is_its_probes(celsius: float) -> None:
    curves = [then(1800, WELL[0], lambda s: (WELL[0](s) or 0.0) + celsius), *WELL[1:]]
    doubts, _ = watch(curves, 40)
    assert reasons(doubts) == [Reason.DOUBTFUL, None, None]
    assert reasons(watch(curves, 60)[0]) == [Reason.DOUBTFUL, None, None], "near the others is not where it belongs"


def test_a_small_step_that_goes_back_was_a_look_through_the_plug() -> None:
    def looked(s: int) -> float:
        return (WELL[0](s) or 0.0) - (30.0 if 1800 <= s < 1860 else 0.0)

    assert watch([looked, *WELL[1:]], 45)[0] == (None, None, None)


def test_a_probe_that_repeats_itself_while_the_others_climb_is_stuck_in_a_quarter_of_an_hour() -> None:
    doubts, _ = watch([then(1800, WELL[0], lambda _: 660.0), *WELL[1:]], 45)
    assert reasons(doubts) == [Reason.STUCK, None, None]


def warmed_by_its_neighbour(s: int) -> float:
    """A ring that is off beside one that is lit: hardly at first, and more from minute to minute (degC above the
    room)."""
    return 9.0 * (s / 1800.0) ** 2


def lit_from_the_room(s: int) -> float:
    return ROOM + 90.0 * s / 3600 + (s // 10 * 7 % 5) * 0.05


@pytest.mark.parametrize("cold", [20.5, 24.0])
def test_a_reversed_probe_of_a_ring_that_is_off_is_told_by_how_its_neighbour_warms_it(cold: float) -> None:
    mirrored: Curve = lambda s: 2 * cold - ROOM - warmed_by_its_neighbour(s) + (s // 10 * 7 % 5) * 0.05  # noqa: E731
    doubts, _ = watch([lit_from_the_room, mirrored], 40, cold, (True, False))
    assert reasons(doubts) == [None, Reason.REVERSED]


@pytest.mark.parametrize(
    ("what", "curve"),
    [
        ("left warm by yesterday's firing, it cools", lambda s: 28.0 - 6.0 * (1 - 0.5 ** (s / 1500)) + s // 10 % 3 / 9),
        ("the room's door stands open", lambda s: ROOM - 3.0 * min(1.0, s / 900) + s // 10 % 3 / 9),
        ("its neighbour warms it", lambda s: ROOM + warmed_by_its_neighbour(s) + s // 10 % 3 / 9),
        ("the kiln is far colder than its room", lambda s: 4.0 + warmed_by_its_neighbour(s) + s // 10 % 3 / 9),
    ],
)
def test_a_probe_of_a_ring_that_is_off_is_not_reversed_where(what: str, curve: Curve) -> None:
    doubts, _ = watch([lit_from_the_room, curve], 45, 20.5, (True, False))
    assert reasons(doubts) == [None, None], what


def test_a_probe_colder_than_the_room_beside_a_warm_ring_is_reversed_though_its_own_is_off() -> None:
    doubts, _ = watch([climbing(60), lambda s: 16.0 - 20.0 * s / 3600 + (s // 10 * 7 % 5) * 0.05], 60, on=False)
    assert reasons(doubts) == [None, Reason.REVERSED]


def mirrored_by(cold: float, kiln: Curve) -> Curve:
    """What a probe shows whose wires are the wrong way round."""
    return lambda s: 2 * cold - (kiln(s) or 0.0)


def test_the_only_probe_far_below_all_it_can_have_cooled_to_is_reversed_though_its_ring_is_off() -> None:
    doubts, fit = watch([mirrored_by(22.0, climbing(ROOM, 40.0))], 100, 22.0, on=False)
    assert reasons(doubts) == [Reason.REVERSED]
    assert fit == (False,)
    cooling: Curve = lambda s: 60.0 * 0.5 ** (s / 3600) - 3.0 + (s // 10 * 7 % 5) * 0.05  # noqa: E731
    assert watch([cooling], 600, 22.0, on=False)[1] == (True,), "a studio that freezes over the night"
    assert watch([lambda s: -18.0 + (s // 10 * 7 % 5) * 0.05], 100, -16.0, on=False)[1] == (True,), "one in the frost"


def test_a_reversed_probe_is_not_well_again_because_its_kiln_is_cold() -> None:
    """Both ways round a cold kiln reads the same; warm again, and right, it is believed."""
    up_and_down: Curve = lambda s: ROOM + (100.0 * s / 7200 if s < 7200 else 100.0 * max(0.0, 2 - s / 7200))  # noqa: E731
    wrong = mirrored_by(22.0, up_and_down)
    assert reasons(watch([wrong], 300, 22.0, on=False)[0]) == [Reason.REVERSED]
    mended = then(300 * 60, wrong, lambda s: ROOM + 60.0 * (s - 18_000) / 3600)
    assert reasons(watch([mended], 400, 22.0, on=False)[0]) == [None]
