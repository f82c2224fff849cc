"""A probe that slips out of its hole falls to a new level within minutes; a ring that gets less falls on and on."""

from collections.abc import Callable
from dataclasses import replace
from math import exp

import pytest

from spyhole.core.curve.track import Track
from spyhole.core.curve.trust import Reason
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, open_firing
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Plan, Stage
from spyhole.core.slipping import slipping
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.departure import Memory, Past
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.view import View

KILN = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle", "top")))
PLAN = Plan("Bisque", "05", (Stage("high", (Switch.HIGH,) * 3, until_cone=True),), 1, "05")
MINUTE = 60_000
GOES_WRONG, TRAILS, PAST_EACH = 60, 12, 20
"""The minute at which it happens; that the settled model is behind; between what is remembered of it."""
FULL = Outside((1.0,) * 3, (0.0,) * 3, 20.0)
Reads = Callable[[float, float], float]
"""Minutes since it happened and the middle ring's temperature -> what its probe says."""


def told_after(
    minutes: int,
    reads: Reads,
    middle_gets: float = 1.0,
    lacks: list[int] | None = None,
    waits: list[int] | None = None,
    clay: float = 0.0,
    lit_at: float = 450.0,
) -> tuple[int, float] | None:
    """So many minutes are watched: how long after it happened the middle probe is doubted, and by how much it is then
    wrong about where it should stand beside the others [degC]. middle_gets: what share its ring gets from then on.

    lacks: takes the minutes at which that ring is known to lack heat; waits: those at which it may be a slip. clay: how
    many degrees' worth of heat its water takes from ware that climbs. lit_at: degC an hour before it happens.
    """
    known = prior(KILN, (lit_at,) * 3, 0)
    full = replace(FULL, clay=clay)
    heat, nodes = known.heat, list(known.celsius)
    logs = known.mean[3 * NODES :]
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = replace(open_firing(start, KILN, PLAN, 20.0), turned_ms=-400 * MINUTE, stage_ms=-400 * MINUTE)
    lived, points = [tuple(nodes)], [()] * 3  # type: tuple[list[tuple[float, ...]], list[tuple[tuple[int, float], ...]]]
    for minute in range(GOES_WRONG + minutes):
        since = minute - GOES_WRONG
        gets = middle_gets if since >= 0 else 1.0
        outside = replace(full, shares=(1.0, gets, 1.0))
        wet, dry = (moved(heat, nodes, replace(outside, clay=asks), 1 / 60) for asks in (clay, 0.0))
        falls = wet[NODES] < nodes[NODES]  # then its ware gives up no more water
        nodes = [*wet[:NODES], *(dry if falls else wet)[NODES : 2 * NODES], *wet[2 * NODES :]]
        lived.append(tuple(nodes))
        rings = nodes[::NODES]
        said = (rings[0], reads(since + 0.5, rings[1]) if since >= 0 else rings[1], rings[2])
        points = [(*p, (minute * MINUTE + 30_000, c)) for p, c in zip(points, said, strict=True)]
        if since < 0:
            continue
        at = minute - TRAILS
        settled = replace(known, at_ms=at * MINUTE - 30_000, mean=(*lived[at], *logs))
        pasts = tuple(Past(t * MINUTE - 30_000, lived[t], logs) for t in range(PAST_EACH // 2, at, PAST_EACH))
        firing = replace(
            firing,
            model=Model(settled, settled.at_ms, tuple(settled.celsius), ((0, full),)),
            memory=Memory(told=((0, full),), pasts=pasts),
        )
        now_ms = (minute + 1) * MINUTE + 10_000
        tracks = tuple(Track(at_ms=now_ms, celsius=p[-1][1], minutes=p) for p in points)
        after, doubts = slipping(View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, said))
        if lacks is not None and any(after.lacked):
            assert after.lacked == (None, now_ms, None)
            lacks.append(since)
        if waits is not None and after.memory is not None and after.memory.slips is not None:
            assert after.memory.slips == 1
            waits.append(since)
        if any(doubts):
            (doubt,) = [one for one in doubts if one is not None]
            assert doubts.index(doubt) == 1
            assert doubt.reason is Reason.DOUBTFUL
            assert doubt.beside is not None
            return since, abs(doubt.beside - (rings[1] - (rings[0] + rings[2]) / 2))
    return None


def slips(share: float, tau_minutes: float) -> Reads:
    return lambda since, ring: 20.0 + (ring - 20.0) * (1.0 - share * (1.0 - exp(-since / tau_minutes)))


@pytest.mark.parametrize("share", [0.07, 0.12, 0.2])
@pytest.mark.parametrize("tau_minutes", [1.0, 2.5, 4.0])
def test_a_probe_that_slips_is_doubted_in_a_quarter_of_an_hour(share: float, tau_minutes: float) -> None:
    found = told_after(25, slips(share, tau_minutes))
    assert found is not None
    minutes, off = found
    assert minutes <= 15
    assert off < 8.0, "where its ring truly is is known"


@pytest.mark.parametrize("gets", [0.0, 0.3, 0.5, 0.8, 1.0])
def test_a_ring_that_gets_less_is_no_slip(gets: float) -> None:
    assert told_after(45, lambda _, ring: ring, gets) is None


def test_what_fell_before_all_that_is_looked_at_is_not_judged_by_the_rest() -> None:
    """Air between elements and ware falls ahead of its ring; where that is cut off no shape fits, or tells."""
    assert told_after(45, lambda since, ring: ring - 10.0 * (1.0 - exp(-since / 1.5)), 0.3) is None


def test_a_slow_drift_is_no_slip() -> None:
    assert told_after(45, lambda since, ring: ring - 40.0 * since / 60) is None


@pytest.mark.parametrize("gets", [0.3, 0.5])
def test_that_a_ring_began_to_get_less_is_known_from_its_fall(gets: float) -> None:
    lacks: list[int] = []
    assert told_after(30, lambda _, ring: ring, gets, lacks) is None
    assert lacks
    assert lacks[0] <= 25


def test_neither_a_well_ring_nor_a_drift_lacks_heat() -> None:
    lacks: list[int] = []
    told_after(45, lambda _, ring: ring, 1.0, lacks)
    told_after(45, lambda since, ring: ring - 40.0 * since / 60, 1.0, lacks)
    assert not lacks


def test_ware_that_falls_gives_up_no_more_water_and_falls_as_fast_as_it_can_without() -> None:
    """With the heat that its clay asks for on the way up, no ring could fall so."""
    waits: list[int] = []
    assert told_after(45, lambda _, ring: ring, 0.0, waits=waits, clay=110.0, lit_at=340.0) is None
    assert not waits


def test_a_fall_that_no_ring_can_do_may_be_a_slip_until_it_is_known() -> None:
    waits: list[int] = []
    told = told_after(25, slips(0.2, 1.0), waits=waits)
    assert told is not None
    assert waits
    assert max(waits) < told[0]


@pytest.mark.parametrize("gets", [0.0, 0.5])
def test_nobody_waits_for_a_slip_where_a_ring_can_fall_so(gets: float) -> None:
    waits: list[int] = []
    assert told_after(45, lambda _, ring: ring, gets, waits=waits) is None
    assert not waits


def test_a_probe_that_sees_its_element_go_cold_is_no_slip_for_half_an_hour() -> None:
    """It falls faster at first than its ring ever could; but a slip is known for one by then."""
    waits: list[int] = []
    assert told_after(45, lambda since, ring: ring - 10.0 * (1.0 - exp(-since / 1.5)), 0.0, waits=waits) is None
    assert waits
    assert max(waits) <= 20
