"""Heat work of the pack, and what a lost probe's ring is taken to be."""

import pytest

from spyhole.core.cones.kinetics import end_point_celsius
from spyhole.core.curve.heat import Work, borrowed, gain, pack_of, usual
from spyhole.core.curve.track import Track
from spyhole.core.plan import Body

PACK = pack_of("05", Body.ORDINARY, "05")


def ramp(per_hour: float, to_celsius: float, every_seconds: int) -> Work:
    work, celsius, at_ms = Work(), 500.0, 0
    while celsius < to_celsius:
        work = gain(work, PACK, at_ms, celsius)
        at_ms += every_seconds * 1000
        celsius += per_hour * every_seconds / 3600
    return gain(work, PACK, at_ms - round((celsius - to_celsius) / per_hour * 3_600_000), to_celsius)


def test_the_pack_is_one_whole_number_either_side() -> None:
    names = [c.name if c else None for c in (PACK.guide, PACK.firing, PACK.guard, PACK.shutoff)]
    assert names == ["06", "05", "04", "05"]
    assert pack_of("022", Body.ORDINARY, "022").guide is None


@pytest.mark.parametrize("per_hour", [15.0, 60.0, 150.0])
@pytest.mark.parametrize("every_seconds", [10, 30, 300])
def test_a_cone_is_down_at_its_end_point_whatever_the_sampling(per_hour: float, every_seconds: int) -> None:
    work = ramp(per_hour, end_point_celsius(PACK.firing, per_hour), every_seconds)
    assert work.firing == pytest.approx(1.0, rel=0.01)


def test_work_never_falls_and_goes_on_in_early_cooling() -> None:
    work = ramp(100, 1040, 10)
    cooling = [work := gain(work, PACK, work.at_ms + 10_000, 1040 - i) for i in range(1, 60) if work.at_ms is not None]
    alphas = [w.firing for w in cooling]
    assert alphas == sorted(alphas)
    assert alphas[-1] > alphas[0]


def test_a_gap_is_bridged_and_marked() -> None:
    work = gain(gain(Work(), PACK, 0, 1000.0), PACK, 600_000, 1020.0)
    assert work.bridged
    assert work.firing > 0


def test_a_ring_without_a_trusted_probe_borrows_from_the_others() -> None:
    tracks = tuple(Track(at_ms=0, celsius=c) for c in (1000.0, 1010.0, 30.0))
    apart = (-5.0, 5.0, -9.0)
    assert borrowed(tracks, (True, True, False), apart) == (1000.0, 1010.0, 996.0)
    assert borrowed(tracks, (False, False, False), apart) == (None, None, None)


def test_rings_that_stay_apart_are_learned_slowly_and_a_lost_one_is_kept() -> None:
    tracks = tuple(Track(at_ms=0, celsius=c) for c in (990.0, 1000.0, 1010.0))
    apart: tuple[float, ...] = (0.0, 0.0, 0.0)
    for _ in range(60):
        apart = usual(tracks, (True, True, True), apart)
    assert apart == pytest.approx((-10.0, 0.0, 10.0), abs=0.1)
    lost = usual(tracks, (True, True, False), apart)
    assert lost == pytest.approx((-10.0, 0.0, 10.0), abs=0.2)


@pytest.mark.parametrize("seen", [(True, True, False), (True, False, False)])
def test_a_probe_lost_in_the_night_is_not_held_to_how_its_ring_stood_then(seen: tuple[bool, ...]) -> None:
    """While only the bottom ring is lit the top stands 90 degC below it; on high, ten hours later, beside it."""
    tracks = tuple(Track(at_ms=0, celsius=c) for c in (1000.0, 1002.0, 400.0))
    apart: tuple[float, ...] = (50.0, -10.0, -40.0)
    assert borrowed(tracks, (True, True, False), apart)[2] == pytest.approx(941.0, abs=1.0)
    for _ in range(600):
        apart = usual(tracks, seen, apart)
    assert borrowed(tracks, seen, apart)[2] == pytest.approx(1000.0, abs=3.0)
