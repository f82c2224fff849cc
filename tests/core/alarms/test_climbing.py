"""A kiln that gets more since a turn than the turn can give: somebody set a switch too high, and wrote down another."""

from dataclasses import replace

import pytest

from spyhole.core.alarms.rules.climbing import HIGHER, HIGHER_FIRST, HIGHER_LIT, TOLD_AFTER_MS, runaway
from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import UNTAUGHT, Written, open_firing
from spyhole.core.kiln import Switch
from spyhole.core.learned import Belief, Learned
from spyhole.core.thermal.departure import Memory, Past
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE = 60_000
TURNED_MS = 300 * MINUTE
LOW, CANDLING = (0.33, 0.33, 0.33), (0.33, 0.0, 0.0)
AFTER_MINUTES = TOLD_AFTER_MS // MINUTE + 5


def turned(
    grown: float,
    *,
    before: tuple[float, ...] = LOW,
    to: Switch = Switch.MEDIUM,
    written: bool = True,
    minutes: int = AFTER_MINUTES,
    lacked: tuple[int | None, ...] = (),
    taught: float | None = 0.0,
) -> View:
    """So many minutes after a turn since which the logarithm of what the kiln is believed to get has grown so much.

    taught: by how much that was more in earlier firings than it was before the turn, None for a kiln nobody has fired.
    """
    firing = open_firing(Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren")), KILN, TONIGHT.plan, 20.0)
    told = ((0, Outside(before, (0.0,) * 3, 20.0)), (TURNED_MS, Outside((0.6,) * 3, (0.0,) * 3, 20.0)))
    was = prior(KILN, (300.0,) * 3, TURNED_MS)
    logs = was.mean[NODES * 3 :]
    settled = replace(
        was, at_ms=TURNED_MS + minutes * MINUTE, mean=(*was.mean[: NODES * 3], logs[0] + grown, *logs[1:])
    )
    now_ms = settled.at_ms + 12 * MINUTE
    firing = replace(
        firing,
        switches=(to,) * 3,
        sure=(written,) * 3,
        turned_ms=TURNED_MS,
        lacked=lacked,
        learned=UNTAUGHT if taught is None else Learned(model=(("full", Belief(logs[0] + taught, 0.1)),)),
        model=Model(settled, settled.at_ms, tuple(settled.celsius), told),
        memory=Memory(told, (Past(TURNED_MS - 8 * MINUTE, tuple(was.celsius), logs),), changed_ms=TURNED_MS),
    )
    tracks = (Track(at_ms=now_ms, celsius=380.0, climb=200.0),) * 3
    return View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (380.0,) * 3)


def lit(grown: float, *, written: bool = True, minutes: int = 50) -> View:
    """So many minutes after it was lit for the night, the lowest ring on low, and believed to get so much more."""
    view = turned(grown, taught=0.0)
    firing, model = view.firing, view.firing.model
    assert model is not None
    told = ((0, Outside(CANDLING, (0.0,) * 3, 20.0)),)
    firing = replace(
        firing,
        switches=(Switch.LOW, Switch.OFF, Switch.OFF),
        sure=(written, False, False),
        turned_ms=MINUTE,
        model=replace(model, settled=replace(model.settled, at_ms=minutes * MINUTE), told=told),
        memory=Memory(told, (Past(0, model.settled.celsius, ()),), changed_ms=MINUTE),
    )
    now_ms = (minutes + 12) * MINUTE
    tracks = (Track(at_ms=now_ms, celsius=110.0, climb=90.0),) * 3
    return View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (110.0,) * 3)


def test_a_kiln_lit_too_high_runs_away_where_it_was_fired_before() -> None:
    """Nobody writes down which rings stay off. Half the ware of last time is no switch too high."""
    assert runaway(lit(HIGHER_FIRST + 0.01)).holds
    assert runaway(lit(HIGHER_FIRST - 0.01)).holds is False
    assert runaway(lit(0.6, written=False)).holds is False, "then it may stand higher, and rightly"
    assert runaway(lit(0.6, minutes=10)).holds is False, "elements and air hide it yet"


def test_a_kiln_that_gets_half_as_much_again_as_the_turn_gives_runs_away_and_says_by_how_much() -> None:
    found = runaway(turned(0.4))
    assert found.holds
    assert dict(found.facts)["limit"] == pytest.approx(200.0 / 1.49, abs=1.0)


def test_what_a_model_may_be_wrong_by_is_no_runaway() -> None:
    assert runaway(turned(HIGHER - 0.01)).holds is False
    assert runaway(turned(-0.5)).holds is False


def test_where_rings_were_off_before_nothing_was_known_of_them() -> None:
    assert runaway(turned(HIGHER_LIT - 0.01, before=CANDLING)).holds is False
    assert runaway(turned(HIGHER_LIT + 0.01, before=CANDLING)).holds


@pytest.mark.parametrize(
    "view",
    [
        pytest.param(turned(0.6, written=False), id="nobody wrote the turn down"),
        pytest.param(turned(0.6, to=Switch.HIGH), id="no switch is higher than high"),
        pytest.param(turned(0.6, minutes=5), id="elements and air hide it yet"),
        pytest.param(turned(0.6, taught=None), id="nobody knows this kiln"),
        pytest.param(turned(0.6, taught=0.5), id="it always got as much"),
        pytest.param(turned(0.6, lacked=(None, 1, None)), id="a ring that lacked heat may have it again"),
    ],
)
def test_what_may_have_another_reason_is_no_runaway(view: View) -> None:
    assert runaway(view).holds is False
