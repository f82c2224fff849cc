"""The last quarter of an hour of a kiln that was told one thing and given another."""

from dataclasses import replace

from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Written, open_firing
from spyhole.core.kiln import Switch
from spyhole.core.thermal.belief import Belief, moved, square, triangle
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NODES, Heat, Outside
from spyhole.core.thermal.prior import outside_of
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE, HOUR = 60_000, 3_600_000
LASTED = 14
AFTER = 90_000
"""A minute of a probe is known once it is whole for sure."""
PLAN = TONIGHT.plan
ROOM = 16.0
HIGH = outside_of(KILN, PLAN, PLAN.stages[-1], (Switch.HIGH,) * 3, ROOM)


def lit() -> Firing:
    """Nobody writes anything down but the start."""
    return open_firing(Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren")), KILN, PLAN, ROOM)


def seen(firing: Firing, known: Belief, told: Outside, given: Outside, heat: Heat | None = None) -> View:
    """The last minutes of a kiln that was told one thing and given another; heat: what it truly is."""
    nodes = list(known.celsius)
    said = [nodes]
    for _ in range(LASTED):
        nodes = moved(heat or known.heat, nodes, given, 1 / 60)
        said.append(nodes)
    known = replace(known, at_ms=known.at_ms - AFTER)
    to_ms = known.at_ms + LASTED * MINUTE
    tracks = tuple(
        Track(
            celsius=nodes[NODES * ring],
            minutes=tuple((known.at_ms + m * MINUTE, each[NODES * ring]) for m, each in enumerate(said)),
        )
        for ring in range(3)
    )
    model = Model(known, known.at_ms, tuple(known.celsius), ((known.at_ms - HOUR, told),))
    firing = replace(firing, model=model)
    return View(to_ms + AFTER, to_ms + AFTER, firing, tracks, (None,) * 3, (True,) * 3, tuple(nodes[::NODES]))


def certain(known: Belief) -> Belief:
    """The same, surer of everything than any firing makes it."""
    whole = square(known.spread)
    return replace(known, spread=triangle([[cell / 25.0 for cell in row] for row in whole]))
