"""A ring that gets too little is told from a kiln of which nobody knows how much water its clay still holds."""

from dataclasses import replace

from spyhole.core.alarms.rules.behind import behind
from spyhole.core.curve.track import Track
from spyhole.core.curve.trust import Doubt, Doubts, Reason
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, open_firing
from spyhole.core.thermal.departure import Memory
from spyhole.core.thermal.physics import Outside
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE = 60_000
CLAY_DRIES, OWN = 0.14, 0.08
"""How well a ring's watts are known at 550 degC while the clay's own water leaves, and what of it is the ring's own."""


def told(
    shares: tuple[float, float, float],
    left_behind: tuple[int, ...] = (),
    apart: tuple[float, ...] = (0.0,) * 3,
    slips: int | None = None,
    doubts: Doubts = (None,) * 3,
) -> set[str]:
    """What is said of rings on high that get so much more than that gives, as shares of full watts.

    left_behind: those that do what they would had they not been turned. apart: where they stand
    against their mean [degC]; they have stood alike. slips: the probe that fell as no ring does. doubts: of now.
    """
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = open_firing(start, KILN, TONIGHT.plan, 20.0)
    last = len(TONIGHT.plan.stages) - 1
    nothing = Outside((0.0,) * 3, (0.0,) * 3, 20.0)
    memory = Memory(told=((0, nothing),), left=left_behind, slips=slips)
    firing = replace(firing, stage=last, switches=TONIGHT.plan.stages[last].switches, memory=memory)
    firing = replace(firing, apart=apart, best_apart=(0.0,) * 3)
    now_ms = 600 * MINUTE
    left = tuple(Residual(550.0, 5.0, 120.0, 1.0, share, CLAY_DRIES, OWN) for share in shares)
    minutes = tuple((now_ms - m * MINUTE, 550.0 - m) for m in range(60, -1, -1))
    tracks = (Track(at_ms=now_ms, celsius=550.0, climb=60.0, minutes=minutes),) * 3
    view = View(now_ms, now_ms, firing, tracks, doubts, (True,) * 3, (550.0,) * 3, left=left)
    return {f"{one.tag} {one.ring or ''}".strip() for one in behind(view) if one.holds}


def test_half_a_ring_is_missed_while_the_clay_loses_its_water() -> None:
    """No more than all may lack, but the other two have what they should."""
    assert told((-0.02, -0.42, -0.04)) == {"ring-behind middle"}


def test_what_all_rings_lack_alike_may_be_water() -> None:
    assert told((-0.36, -0.42, -0.38)) == set()


def test_rings_that_get_more_make_none_of_the_others_short() -> None:
    assert told((0.3, -0.1, 0.3)) == set()


def test_a_ring_that_does_what_it_would_unturned_is_behind_though_its_watts_leave_doubt() -> None:
    stands = (15.0, -30.0, 15.0)
    assert told((0.02, -0.2, 0.04), apart=stands) == set()
    assert told((0.02, -0.2, 0.04), left_behind=(1,), apart=stands) == {"ring-behind middle"}
    assert told((0.02, -0.2, 0.04), left_behind=(1,)) == set(), "it has caught up"


def test_a_probe_that_may_have_slipped_or_is_found_to_have_makes_no_ring_late() -> None:
    lacks = (-0.02, -0.42, -0.04)
    assert told(lacks, slips=1) == set()
    assert told(lacks, slips=0) == {"ring-behind middle"}
    assert told(lacks, doubts=(None, Doubt(Reason.DOUBTFUL, 0, 590.0), None)) == set()


def test_a_ring_that_has_lacked_heat_and_not_come_back_is_not_said_to_be_well() -> None:
    """The model has come to expect it of that ring, and of its neighbours, which it cools, some more."""
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    last, now_ms = len(TONIGHT.plan.stages) - 1, 600 * MINUTE
    firing = replace(
        open_firing(start, KILN, TONIGHT.plan, 20.0), stage=last, switches=TONIGHT.plan.stages[last].switches
    )
    left = tuple(Residual(900.0, 5.0, 90.0, 1.0, share, OWN, OWN) for share in (-0.2, -0.28, -0.23))
    track = Track(at_ms=now_ms, celsius=900.0, climb=60.0)
    for since_ms, holds in ((now_ms - 90 * MINUTE, None), (None, False)):
        known = replace(firing, lacked=(None, since_ms, None))
        view = View(now_ms, now_ms, known, (track,) * 3, (None,) * 3, (True,) * 3, (900.0,) * 3, left=left)
        (middle,) = (one for one in behind(view) if one.ring == "middle")
        assert middle.holds is holds
