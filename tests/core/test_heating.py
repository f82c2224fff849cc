"""A kiln whose supply is lost is told from one whose elements only give less: both fall at first."""

from dataclasses import replace

from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Stopped, Written, open_firing
from spyhole.core.heating import follow
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.modelling import share_lost
from spyhole.core.plan import Plan, Stage
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.view import View

KILN = Kiln("Puffin", 1290.0, (Ring("only", 4000.0, Probe()),))
PLAN = Plan("Bisque", "05", (Stage("high", (Switch.HIGH,), until_cone=True),), 0, "05")
MINUTE = 60_000
GOES_WRONG, TRAILS = 60, 12
"""Minutes after a steady hour at which less is given; that the settled model is behind."""


def stopped(left: float, minutes: int) -> tuple[Stopped, float, float]:
    """What is believed so long after full watts become this share of them: of the heat, degC fallen, share lost.

    The kiln is the model's own, hot and steady, so that any loss lets it fall.
    """
    known = prior(KILN, (850.0,), 0)
    heat = known.heat
    full = Outside((1.0,), (0.0,), 20.0)
    nodes = list(known.celsius)
    lived, said = [tuple(nodes)], []
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = replace(open_firing(start, KILN, PLAN, 20.0), peaks=(900.0,))
    most, lost = 0.0, 0.0
    for minute in range(GOES_WRONG + minutes):
        given = full if minute < GOES_WRONG else replace(full, shares=(left,))
        nodes = moved(heat, nodes, given, 1 / 60)
        lived.append(tuple(nodes))
        said.append((minute * MINUTE + 30_000, nodes[0]))
        if minute < TRAILS + 30:
            continue
        at = minute - TRAILS
        settled = replace(known, at_ms=at * MINUTE - 30_000, mean=(*lived[at], *known.mean[len(nodes) :]))
        firing = replace(firing, model=Model(settled, settled.at_ms, tuple(settled.celsius), ((0, full),)))
        now_ms = (minute + 1) * MINUTE + 10_000
        tracks = (Track(at_ms=now_ms, celsius=nodes[0], minutes=tuple(said)),)
        view = View(now_ms, now_ms, firing, tracks, (None,), (True,), (nodes[0],))
        lost = share_lost(view, 4)[0]
        firing = follow(view)
        most = max(most, nodes[0])
    return firing.stopped, most - nodes[0], lost


def test_a_supply_that_is_lost_is_known_in_minutes() -> None:
    found, fell, lost = stopped(0.0, 10)
    assert found in (Stopped.LOST, Stopped.SHORT)
    assert fell > 10.0
    assert lost > 0.9


def test_elements_that_give_less_let_the_kiln_fall_and_are_no_lost_supply() -> None:
    found, fell, lost = stopped(0.5, 40)
    assert fell > 10.0, "far enough to be taken for a loss"
    assert 0.3 < lost < 0.55
    assert found is Stopped.NOT


def test_a_kiln_that_has_its_heat_has_lost_none() -> None:
    found, _, lost = stopped(1.0, 30)
    assert abs(lost) < 0.05
    assert found is Stopped.NOT
