"""What the last minutes say each ring got, against what its switches should give."""

import sys
from dataclasses import replace
from math import log
from pathlib import Path

import pytest

from spyhole.core.alarms.rules.behind import ALONE_SHARE, TIMES, behind
from spyhole.core.foresight import cones_fall
from spyhole.core.heating import FED_SHARE, LOST_SHARE
from spyhole.core.kiln import Switch
from spyhole.core.last_minutes import BEYOND_AT_MOST, BEYOND_SHARE, by_itself, share_lost, what_is_left
from spyhole.core.modelling import follow
from spyhole.core.thermal.physics import NAMES, NODES, with_share
from spyhole.core.thermal.prior import prior
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN

sys.path.insert(0, str(Path(__file__).parent))

from last_quarter import HIGH, HOUR, MINUTE, PLAN, certain, lit, seen


def on_high_of_late(stronger: float, *, fit: tuple[bool, ...] = (True,) * 3, off: bool = False) -> View:
    """A kiln well known, on high in its last stage, whose elements got so many times their watts for some minutes."""
    firing = replace(lit(), stage=len(PLAN.stages) - 1, switches=(Switch.HIGH,) * 3, stage_ms=12 * HOUR)
    known = certain(prior(KILN, (900.0,) * 3, 14 * HOUR))
    strong = replace(known.heat, strength=tuple(s * stronger for s in known.heat.strength))
    view = replace(seen(firing, known, HIGH, HIGH, strong), fit=fit)
    if off:
        view = replace(view, firing=replace(view.firing, off=True, off_ms=view.now_ms - MINUTE))
    return replace(view, firing=follow(view))


@pytest.mark.parametrize(("stronger", "share"), [(1.03, 0.03), (0.98, -0.02), (1.0, 0.0)])
def test_what_the_rings_get_beyond_the_model_is_told_as_a_share_of_full_watts(stronger: float, share: float) -> None:
    model = on_high_of_late(stronger).firing.model
    assert model is not None
    assert model.beyond == pytest.approx((share,) * 3, abs=0.008)


def test_more_than_mains_and_draughts_ever_make_is_not_believed_to_last() -> None:
    model = on_high_of_late(1.4).firing.model
    assert model is not None
    assert max(model.beyond) <= BEYOND_AT_MOST * BEYOND_SHARE


def test_a_ring_that_nobody_sees_is_like_the_others_and_nothing_is_beyond_once_heat_is_off() -> None:
    unseen, off = (
        on_high_of_late(1.03, fit=(True, False, True)).firing.model,
        on_high_of_late(1.03, off=True).firing.model,
    )
    assert unseen is not None
    assert off is not None
    assert unseen.beyond[1] == pytest.approx((unseen.beyond[0] + unseen.beyond[2]) / 2)
    assert off.beyond == ()


@pytest.mark.parametrize("first", [2, 7, 12])
def test_a_look_through_the_plug_makes_no_kiln_slower(first: int) -> None:
    """For three minutes the probes beside it read twelve degrees less."""
    firing = replace(lit(), stage=len(PLAN.stages) - 1, switches=(Switch.HIGH,) * 3, stage_ms=12 * HOUR)
    view = seen(firing, certain(prior(KILN, (900.0,) * 3, 14 * HOUR)), HIGH, HIGH)
    tracks = tuple(
        replace(
            track, minutes=tuple((t, c - 12.0 * (first <= n < first + 3)) for n, (t, c) in enumerate(track.minutes))
        )
        for track in view.tracks
    )
    model = follow(replace(view, tracks=tracks)).model
    assert model is not None
    assert model.beyond == pytest.approx((0.0,) * 3, abs=0.012)


def test_a_kiln_that_gets_more_of_late_is_foretold_to_be_there_sooner() -> None:
    def hours(stronger: float) -> float:
        view = on_high_of_late(stronger)
        (found,) = cones_fall(view, ((view.pack.firing, 0.0, 0.0),))
        assert found is not None
        return (found.median - view.utc_ms) / HOUR

    assert hours(1.03) < hours(1.0) < hours(0.97)


def one_ring_gone() -> View:
    """A kiln on high that hardly holds its heat, and whose rings heat each other well: the middle one gets nothing."""
    firing = replace(lit(), stage=len(PLAN.stages) - 1, switches=(Switch.HIGH,) * 3)
    known = prior(KILN, (1000.0,) * 3, 14 * HOUR)
    mean = list(known.mean)
    for name, value in (("wall", 0.85), ("exchange", 12.0)):
        mean[NODES * 3 + NAMES.index(name)] = log(value)
    for ring in range(3):
        mean[NODES * ring + 1 : NODES * ring + NODES] = [880.0, 600.0, 300.0]
    return seen(firing, replace(known, mean=tuple(mean)), HIGH, with_share(HIGH, 1, 0.0))


def test_beside_a_ring_gone_cold_the_others_lack_what_they_give_to_it_and_little_of_their_own() -> None:
    view = one_ring_gone()
    bottom, middle, top = (one.share or 0.0 for one in what_is_left(view))
    assert max(bottom, top) < -0.15, "all of them seem to lack heat"
    assert middle > TIMES * min(bottom, top), "and none stands out"
    alone = by_itself(view)
    assert alone[1] < TIMES * min(alone[0], alone[2], -ALONE_SHARE)


@pytest.mark.parametrize("exchange", [4.0, 6.0, 8.0, 12.0])
def test_a_ring_gone_cold_is_behind_however_well_its_neighbours_heat_it(exchange: float) -> None:
    """It lacks not quite twice as much as they do, of whom none surely lacks any: by itself it is the only one."""
    firing = replace(lit(), stage=len(PLAN.stages) - 1, switches=(Switch.HIGH,) * 3, sure=(True,) * 3)
    known = prior(KILN, (850.0,) * 3, 14 * HOUR)
    mean = list(known.mean)
    mean[NODES * 3 + NAMES.index("exchange")] = log(exchange)
    for ring in range(3):
        mean[NODES * ring + 1 : NODES * ring + NODES] = [780.0, 500.0, 220.0]
    view = seen(firing, replace(known, mean=tuple(mean)), HIGH, with_share(HIGH, 1, 0.0))
    told = behind(replace(view, left=what_is_left(view)))
    assert {(one.tag, one.ring) for one in told if one.holds} == {("ring-behind", "middle")}


def test_where_all_rings_get_less_none_lacks_it_by_itself() -> None:
    view = one_ring_gone()
    known = view.firing.model.settled if view.firing.model else None
    assert known is not None
    less = replace(HIGH, shares=(0.7,) * 3)
    alone = by_itself(seen(view.firing, replace(known, at_ms=14 * HOUR), HIGH, less))
    assert min(alone.values()) > TIMES * max(alone.values())


def test_of_rings_that_all_fall_the_neighbours_of_a_dead_one_have_lost_little_of_their_own() -> None:
    lost = share_lost(one_ring_gone(), 4)
    assert lost[1] > LOST_SHARE
    assert max(lost[0], lost[2]) < FED_SHARE
