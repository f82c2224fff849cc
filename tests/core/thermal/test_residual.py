"""What a ring surely lacks beside the others, in a kiln whose rings heat each other well."""

from dataclasses import replace
from math import log

import pytest

from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, open_firing
from spyhole.core.kiln import Switch
from spyhole.core.lacking import lacks
from spyhole.core.last_minutes import what_is_left
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NAMES, NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE = 60_000
SINCE_TURN, WARMED = 18, 60
"""Minutes since all were turned to high, and before that on medium, from an even 700 degC."""
WEAK = 0.7
"""Of its full watts."""
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


def lacks_together(gets: float, clay_kelvin: float) -> tuple[bool, float]:
    """Whether every ring surely lacks heat while its clay gives its water up, and by how much it has climbed in the
    quarter of an hour that is looked at [degC]: when from then on it gets so much of its watts, and its clay asks for
    so much instead of the 30 that are believed. The kiln has come there from the room, and is too weak to be fast.
    """
    known = prior(KILN, (20.0,) * 3, 0)
    told = Outside((WEAK,) * 3, (0.0,) * 3, 20.0, clay=30.0)
    nodes = list(known.celsius)
    while nodes[0] < 535.0:
        nodes = moved(known.heat, nodes, told, 1 / 60)
    settled = replace(known, at_ms=30_000, mean=(*nodes, *known.mean[NODES * 3 :]))
    said = [(30_000, nodes[0])]
    for minute in range(1, 16):
        nodes = moved(known.heat, nodes, replace(told, shares=(gets * WEAK,) * 3, clay=clay_kelvin), 1 / 60)
        said.append((minute * MINUTE + 30_000, nodes[0]))
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = replace(
        open_firing(start, KILN, TONIGHT.plan, 20.0), stage=len(TONIGHT.plan.stages) - 1,
        switches=(Switch.HIGH,) * 3, sure=(True,) * 3, stage_ms=-90 * MINUTE, turned_ms=-90 * MINUTE,
        model=Model(settled, settled.at_ms, tuple(settled.celsius), ((0, told),)),
    )  # fmt: skip
    now_ms = 16 * MINUTE + 10_000
    track = Track(at_ms=now_ms, celsius=nodes[0], minutes=tuple(said))
    left = what_is_left(View(now_ms, now_ms, firing, (track,) * 3, (None,) * 3, (True,) * 3, (nodes[0],) * 3))
    return all(map(lacks, left)), nodes[0] - said[0][1]


@pytest.mark.parametrize("clay_kelvin", [30.0, 90.0])
def test_a_kiln_that_climbs_no_more_lacks_watts_whatever_its_clay_asks_for(clay_kelvin: float) -> None:
    short, climbed = lacks_together(0.35, clay_kelvin)
    assert climbed < 0.0
    assert short


def test_clay_that_asks_for_three_times_as_much_as_is_believed_slows_a_kiln_and_is_no_lack() -> None:
    short, climbed = lacks_together(1.0, 90.0)
    assert climbed < 0.85 * lacks_together(1.0, 30.0)[1]
    assert not short
