"""A number that drifts and a ring that loses watts are told apart by what all rings have done since."""

from collections.abc import Callable
from dataclasses import replace
from math import log, sin

import pytest

from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.departure import Past
from spyhole.core.thermal.physics import NAMES, NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.thermal.suspects import Course, Suspects, apart, suspects

KILN = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle", "top")))
HIGH = Outside((1.0,) * 3, (0.0,) * 3, 20.0)
MINUTE, EACH, MINUTES, BEGINS = 60_000, 5, 90, 40
"""It goes wrong at the last of these minutes."""
Reads = Callable[[int, tuple[float, ...]], tuple[float, ...]]


def after(reads: Reads, gets: Callable[[int], tuple[float, float, float]] = lambda _: (1.0,) * 3) -> Course:
    """What is read in a kiln that shares its heat somewhat better, and whose rings differ somewhat from what is
    believed. gets: what share of its watts each ring has, by the minute."""
    belief = prior(KILN, (700.0,) * 3, 0)
    off = {NODES * 3 + NAMES.index("exchange"): log(1.15), len(belief.mean) - 1: 0.02, len(belief.mean) - 3: -0.02}
    heat = replace(belief, mean=tuple(m + off.get(i, 0.0) for i, m in enumerate(belief.mean))).heat
    nodes, read = belief.celsius, []
    for minute in range(1, MINUTES + 1):
        nodes = moved(heat, nodes, replace(HIGH, shares=gets(minute)), 1 / 60)
        if minute % EACH == 0:
            drafts = (0.8 * sin(minute * (1.1 + i)) for i in range(3))
            read.append(tuple(c + d for c, d in zip(reads(minute, tuple(nodes[::NODES])), drafts, strict=True)))
    times = tuple(range(0, MINUTES * MINUTE + 1, EACH * MINUTE))
    past = Past(0, tuple(belief.celsius), belief.mean[3 * NODES :])
    return Course(past, ((0, HIGH),), times, (0, 1, 2), tuple(read))


def as_it_is(_: int, rings: tuple[float, ...]) -> tuple[float, ...]:
    return rings


def asked(course: Course) -> Suspects:
    found = suspects(course)
    assert found is not None
    return found


def test_a_kiln_that_is_well_has_no_suspect() -> None:
    found = asked(after(as_it_is))
    assert max(one.gain for one in (*found.numbers, *found.rings)) < 4.0
    assert found.square < 1.0


@pytest.mark.parametrize("probe", [0, 1, 2])
@pytest.mark.parametrize("rate", [-25.0, 25.0])
def test_a_drift_is_the_number_s_and_its_rate_and_beginning_are_found(probe: int, rate: float) -> None:
    course = after(lambda minute, rings: tuple(
        c + (rate * max(0, minute - BEGINS) / 60 if i == probe else 0.0) for i, c in enumerate(rings)
    ))  # fmt: skip
    found = asked(course)
    one = max(found.numbers, key=lambda each: each.gain)
    assert one.place == probe
    assert one.amount == pytest.approx(rate, abs=5.0)
    assert one.since_ms / MINUTE == pytest.approx(BEGINS, abs=10.0)
    assert one.gain > max(ring.gain for ring in found.rings) + 3.0
    assert abs(apart(course)[-1][probe]) > 15.0


@pytest.mark.parametrize("ring", [0, 1, 2])
@pytest.mark.parametrize("lost", [0.15, 0.3])
def test_lost_watts_are_the_ring_s_and_how_many_is_found(ring: int, lost: float) -> None:
    def gets(minute: int) -> tuple[float, float, float]:
        low, middle, top = (1.0 - lost * (i == ring and minute > BEGINS) for i in range(3))
        return low, middle, top

    found = asked(after(as_it_is, gets))
    one = max(found.rings, key=lambda each: each.gain)
    assert one.place == ring
    assert one.amount == pytest.approx(lost, abs=0.05)
    assert one.since_ms / MINUTE == pytest.approx(BEGINS, abs=10.0)
    assert one.gain > max(number.gain for number in found.numbers) + 3.0
