"""The only probe slips: it falls faster than a kiln that nothing heats, and comes to rest while that would fall on."""

from collections.abc import Callable
from dataclasses import replace
from math import exp

import pytest

from spyhole.core.curve.track import Track
from spyhole.core.curve.trust import Doubts, Reason
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Written, open_firing
from spyhole.core.heating import follow
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Plan, Stage
from spyhole.core.slipping import slipping
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.departure import Memory, Past
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.view import View

KILN = Kiln("Puffin", 1290.0, (Ring("bottom", 3000.0), Ring("middle", 3000.0, Probe()), Ring("top", 3000.0)))
PLAN = Plan("Bisque", "05", (Stage("high", (Switch.HIGH,) * 3, until_cone=True),), 1, "05")
MINUTE = 60_000
GOES_WRONG, TRAILS, PAST_EACH = 60, 12, 20
"""The minute at which it happens; that the settled model is behind; between what is remembered of it."""
FULL = Outside((1.0,) * 3, (0.0,) * 3, 20.0)
By = Callable[[float], float]


def watched(minutes: int, reads: By = lambda _: 1.0, gets: By = lambda _: 1.0) -> tuple[int | None, int | None, int]:
    """So many minutes after something happened are watched: when after it the probe is doubted, when the heat is held
    to be lost, and for how many minutes it was waited whether it comes to rest.

    reads: what of the kiln's heat the probe sees so many minutes after it; gets: what share of full watts it has then.
    """
    known = prior(KILN, (650.0,) * 3, 0)
    heat, nodes = known.heat, list(known.celsius)
    logs = known.mean[3 * NODES :]
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing: Firing = replace(open_firing(start, KILN, PLAN, 20.0), turned_ms=-400 * MINUTE, stage_ms=-400 * MINUTE)
    doubts: Doubts = (None,)
    lived, said, waits = [tuple(nodes)], [], 0
    for minute in range(GOES_WRONG + minutes):
        since = minute - GOES_WRONG + 0.5
        share = gets(since) if since > 0.0 else 1.0
        nodes = moved(heat, nodes, replace(FULL, shares=(share,) * 3), 1 / 60)
        lived.append(tuple(nodes))
        here = 20.0 + (nodes[NODES] - 20.0) * (reads(since) if since > 0.0 else 1.0)
        said.append((minute * MINUTE + 30_000, here))
        if minute < GOES_WRONG - 5:
            continue
        at = minute - TRAILS
        settled = replace(known, at_ms=at * MINUTE - 30_000, mean=(*lived[at], *logs))
        pasts = tuple(Past(t * MINUTE - 30_000, lived[t], logs) for t in range(PAST_EACH // 2, at, PAST_EACH))
        slips = None if firing.memory is None else firing.memory.slips
        firing = replace(
            firing,
            model=Model(settled, settled.at_ms, tuple(settled.celsius), ((0, FULL),)),
            memory=Memory(told=((0, FULL),), pasts=pasts, slips=slips),
        )
        now_ms = (minute + 1) * MINUTE + 10_000
        track = Track(at_ms=now_ms, celsius=here, minutes=tuple(said))
        view = View(now_ms, now_ms, firing, (track,), doubts, (True,), (here,))
        firing = follow(view)
        if not firing.heating:
            return None, minute - GOES_WRONG, waits
        firing, doubts = slipping(replace(view, firing=firing))
        waits += firing.memory is not None and firing.memory.slips == 0
        if doubts[0] is not None:
            assert doubts[0].reason is Reason.DOUBTFUL
            assert doubts[0].alone is not None
            truly = here - doubts[0].alone
            assert truly == pytest.approx(nodes[NODES], abs=12.0), "where its ring truly is is known"
            return minute - GOES_WRONG, None, waits
    return None, None, waits


def slips(share: float, tau_minutes: float) -> By:
    return lambda since: 1.0 - share * (1.0 - exp(-since / tau_minutes))


@pytest.mark.parametrize("share", [0.1, 0.15, 0.2])
@pytest.mark.parametrize("tau_minutes", [1.0, 2.5, 4.0])
def test_a_tip_that_slips_is_no_loss_of_heat(share: float, tau_minutes: float) -> None:
    doubted, lost, waits = watched(25, slips(share, tau_minutes))
    assert lost is None
    assert doubted is not None
    assert doubted <= 17
    assert waits > 0


@pytest.mark.parametrize("left", [0.0, 0.1])
def test_a_lost_supply_is_told_within_its_minutes_and_nobody_waits(left: float) -> None:
    assert watched(25, gets=lambda _: left)[:2] == (None, pytest.approx(5, abs=3))
    assert watched(25, gets=lambda _: left)[2] == 0


@pytest.mark.parametrize("more", [0.03, 0.05, 0.08])
def test_what_falls_faster_and_goes_on_falling_is_lost_heat_after_all(more: float) -> None:
    """A lid thrown open, or a probe that sees more of elements than of ware."""
    doubted, lost, _ = watched(25, lambda s: 1.0 - more * (1.0 - exp(-s / 1.5)), lambda _: 0.0)
    assert doubted is None
    assert lost is not None
    assert lost <= 17


@pytest.mark.parametrize("away", [2, 4, 8])
def test_a_supply_that_was_away_for_minutes_doubts_no_probe(away: float) -> None:
    assert watched(30, gets=lambda s: 0.0 if s < away else 1.0)[0] is None


@pytest.mark.parametrize("gets", [0.3, 0.5, 0.8])
def test_a_kiln_that_gets_less_doubts_no_probe(gets: float) -> None:
    assert watched(45, gets=lambda _: gets)[0] is None


def test_a_lid_that_was_open_for_some_minutes_doubts_no_probe() -> None:
    def open_for_four(since: float) -> float:
        return 1.0 - 0.1 * (1.0 - exp(-since / 1.5)) if since < 4.0 else 1.0 - 0.093 * exp(-(since - 4.0) / 2.0)

    assert watched(45, open_for_four)[0] is None
