"""What the last minutes say of the kiln and its switches, where nobody writes turns down."""

import sys
from dataclasses import replace
from pathlib import Path

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, write
from spyhole.core.kiln import Switch
from spyhole.core.modelling import (
    OPEN,
    follow,
    weigh,
)
from spyhole.core.thermal.belief import Belief
from spyhole.core.thermal.physics import NODES, SHARED
from spyhole.core.thermal.prior import disbelieved, outside_of, prior
from spyhole.core.turns import Turn
from spyhole_hardware.emulated.puffin import KILN

sys.path.insert(0, str(Path(__file__).parent))

from last_quarter import AFTER, HIGH, HOUR, PLAN, ROOM, certain, lit, seen


def test_who_turns_to_a_stage_sees_to_its_plugs_too() -> None:
    """From candling with plugs out to low with plugs half in: closing them warms the kiln as a switch does."""
    candling, low = PLAN.stages[:2]
    before, after = (outside_of(KILN, PLAN, stage, stage.switches, ROOM) for stage in (candling, low))
    assert after.vents < before.vents
    view = seen(lit(), prior(KILN, (200.0, 180.0, 160.0), 9 * HOUR), before, after)
    turn = Turn(low.switches, view.firing.model.settled.at_ms if view.firing.model else 0, 1)
    (as_planned,) = weigh(view, (turn,), view.now_ms - AFTER)
    left_out = Written(2, HOUR, HOUR, Entry(EntryKind.PLUGS, "", "out", "Wren"))
    told_otherwise = replace(view, firing=write(view.firing, left_out))
    (plugs_out,) = weigh(told_otherwise, (turn,), view.now_ms - AFTER)
    assert as_planned[0] > plugs_out[0] > 0.0
    assert as_planned[2][-1][1] == after


def on_high(*, sure: bool, stronger: float) -> Belief:
    """The settled belief after minutes in which a kiln on high got so many times what it was believed to have."""
    last = len(PLAN.stages) - 1
    firing = replace(lit(), stage=last, switches=(Switch.HIGH,) * 3, sure=(sure,) * 3)
    known = certain(prior(KILN, (700.0,) * 3, 14 * HOUR))
    strong = replace(known.heat, full=known.heat.full * stronger, wall=known.heat.wall / stronger)
    found = follow(seen(firing, known, HIGH, HIGH, strong)).model
    assert found is not None
    return found.settled


def test_a_kiln_that_gets_more_than_high_gives_was_not_on_high_before() -> None:
    """Taken for high too early by the curve alone: all that was learned since is of other switches, and open again."""
    full = NODES * 3
    assert on_high(sure=False, stronger=2.0).deviation(full) > OPEN
    assert on_high(sure=True, stronger=2.0).deviation(full) < OPEN, "written down: that is a runaway, and nothing else"
    assert on_high(sure=False, stronger=1.05).deviation(full) < OPEN


def test_what_is_disbelieved_is_how_sure_it_was_and_not_what_it_was() -> None:
    known = certain(prior(KILN, (700.0,) * 3, 14 * HOUR))
    doubted = disbelieved(KILN, known)
    assert doubted.mean == known.mean
    nodes = NODES * 3
    assert [doubted.deviation(i) for i in range(nodes)] == [known.deviation(i) for i in range(nodes)]
    fresh = prior(KILN, (700.0,) * 3, 14 * HOUR)
    assert [doubted.deviation(i) for i in range(nodes, nodes + SHARED + 3)] == [
        fresh.deviation(i) for i in range(nodes, nodes + SHARED + 3)
    ]
