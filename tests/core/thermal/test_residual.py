"""What a ring surely lacks beside the others, in a kiln whose rings heat each other well."""

from dataclasses import replace
from math import log

from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, open_firing
from spyhole.core.kiln import Switch
from spyhole.core.lacking import lacks
from spyhole.core.modelling import what_is_left
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NAMES, NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE = 60_000
SINCE_TURN, WARMED = 18, 60
"""Minutes since all were turned to high, and before that on medium, from an even 700 degC."""
QUICK = log(2.0)
"""A kiln with twice the watts for its load is warm again soon, and what a ring lacks comes to it from the others."""


def missing(on_high: tuple[float, float, float], *, written: bool = True) -> list[bool]:
    """Which rings surely lack heat beside the others when they were given so much of their watts, all on high.

    written: whether a person said so.
    """
    known = prior(KILN, (700.0,) * 3, 0)
    logs = list(known.mean[NODES * 3 :])
    logs[NAMES.index("full")] += QUICK
    known = replace(known, mean=(*known.celsius, *logs))
    medium, high = ((KILN.switch.of(s),) * 3 for s in (Switch.MEDIUM, Switch.HIGH))
    told = ((0, Outside(medium, (0.0,) * 3, 20.0)), (WARMED * MINUTE + 30_000, Outside(high, (0.0,) * 3, 20.0)))
    nodes, said = list(known.celsius), [tuple(known.celsius)]
    for minute in range(WARMED + SINCE_TURN):
        given = medium if minute < WARMED else on_high
        nodes = moved(known.heat, nodes, Outside(given, (0.0,) * 3, 20.0), 1 / 60)
        said.append(tuple(nodes))
    began = WARMED + SINCE_TURN - 14
    settled = replace(known, at_ms=began * MINUTE + 30_000, mean=(*said[began], *logs))
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = open_firing(start, KILN, TONIGHT.plan, 20.0)
    last = len(TONIGHT.plan.stages) - 1
    firing = replace(
        firing, stage=last, switches=(Switch.HIGH,) * 3, sure=(written,) * 3, stage_ms=told[1][0], turned_ms=told[1][0],
        model=Model(settled, settled.at_ms, tuple(settled.celsius), told),
    )  # fmt: skip
    now_ms = (WARMED + SINCE_TURN) * MINUTE + 30_000 + 90_000
    tracks = tuple(
        Track(
            celsius=nodes[NODES * ring],
            minutes=tuple((m * MINUTE + 30_000, each[NODES * ring]) for m, each in enumerate(said)),
        )
        for ring in range(3)
    )
    view = View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, tuple(nodes[::NODES]))
    left = what_is_left(view)
    shares = [one.share or 0.0 for one in left]
    return [lacks(one, (*shares[:i], *shares[i + 1 :])) for i, one in enumerate(left)]


def test_a_ring_left_on_medium_is_missed_though_its_neighbours_keep_it_near() -> None:
    assert missing((1.0, 1.0, KILN.switch.of(Switch.MEDIUM))) == [False, False, True]


def test_where_nobody_wrote_the_turns_down_the_others_may_stand_higher_than_is_thought() -> None:
    assert missing((1.0, 1.0, 0.55)) == [False, False, True]
    assert missing((1.0, 1.0, 0.55), written=False) == [False] * 3


def test_what_rings_of_a_healthy_kiln_differ_by_is_no_lack() -> None:
    assert missing((1.0, 1.06, 0.92)) == [False] * 3


def test_what_all_rings_lack_a_little_the_model_may_be_wrong_about() -> None:
    assert missing((0.88, 0.88, 0.88)) == [False] * 3
