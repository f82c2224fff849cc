"""A ring that is still on, told by what it goes on getting: a little, for long."""

from dataclasses import replace

from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.feeding import fed, long_fed
from spyhole.core.firing import Firing, Written, open_firing
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Plan, Stage
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View

KILN = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle")))
PLAN = Plan("Bisque", "05", (Stage("high", (Switch.HIGH,) * 2, until_cone=True),), 1, "05")
MINUTE = 60_000


def followed(shares: list[float], from_minute: int, celsius: float = 700.0) -> tuple[Firing, View]:
    """After so many minutes' shares of full watts that the bottom ring seems to get; the doubt of it is 0.03."""
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = replace(open_firing(start, KILN, PLAN, 20.0), off=True, off_ms=0)
    view = View(0, 0, firing, (), (), (True, True), (celsius,) * 2)
    for minute, share in enumerate(shares, from_minute):
        left = tuple(Residual(celsius, 5.0, -100.0, 0.0, s, 0.03) for s in (share, 0.0))
        tracks = (Track(at_ms=minute * MINUTE, celsius=celsius),) * 2
        view = View(minute * MINUTE, 0, firing, tracks, (None,) * 2, (True,) * 2, (celsius,) * 2, left=left)
        firing = replace(firing, fed=fed(view))
    return firing, replace(view, firing=firing)


def test_what_a_ring_surely_gets_for_an_hour_is_a_switch() -> None:
    firing, view = followed([0.12] * 62, 70)
    assert firing.fed == (70 * MINUTE, None)
    assert long_fed(view) == 0


def test_what_is_no_longer_beyond_all_doubt_but_likely_goes_on() -> None:
    _, view = followed([0.12] * 10 + [0.07] * 52, 70)
    assert long_fed(view) == 0


def test_a_kilns_mood_is_no_switch() -> None:
    _, view = followed(([0.12] * 10 + [0.0]) * 9, 70)
    assert long_fed(view) is None


def test_nothing_is_said_while_bricks_share_out_their_heat_nor_when_lids_are_opened() -> None:
    assert followed([0.3] * 50, 5)[0].fed == (None, None)
    assert followed([0.3] * 80, 70, celsius=150.0)[0].fed == (None, None)
