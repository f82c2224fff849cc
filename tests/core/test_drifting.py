"""A probe that drifts is found in the hour after a turn as well, and a ring that gets less is never taken for one."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from spyhole.core.curve.track import Track
from spyhole.core.curve.trust import Doubt, Reason
from spyhole.core.drifting import drifting, gave_water, goes_on
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, open_firing
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Plan, Stage
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.departure import Memory, Past
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.thermal.suspects import Course, Suspect, apart
from spyhole.core.view import View

KILN = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle", "top")))
PLAN = Plan("Bisque", "05", (Stage("high", (Switch.HIGH,) * 3, until_cone=True),), 1, "05")
MINUTE = 60_000
TURNED, WRONG, LAST, TRAILS, EACH = 95, 110, 200, 12, 5
PAST_EACH, KEPT = 20, 82
"""Minutes: all switches from medium to high; it goes wrong; it is watched until; the settled model is behind by; it is
asked each; between what is remembered of the model, and how long that is kept."""
MEDIUM, HIGH = (Outside((share,) * 3, (0.0,) * 3, 20.0) for share in (0.5, 1.0))
ON_HIGH = (1.03, 0.97, 1.0)
"""What the switches truly give on high, against what is believed."""
Reads = Callable[[float, tuple[float, ...]], tuple[float, ...]]
"""Minutes since it went wrong, less than none before, and the rings' temperatures -> what their probes say."""


def found(
    reads: Reads,
    gets: tuple[float, float, float] = (1.0,) * 3,
    lacked: int | None = None,
    odd_ms: int | None = None,
    turned: int = TURNED,
) -> tuple[int, int, Doubt] | None:
    """How many minutes after it went wrong which probe is doubted. gets: what share of its watts each ring has since.
    lacked: the ring that is known to lack heat. odd_ms: when the kiln last did what no drift does.
    turned: minutes after which a turn is known to have been."""
    known = prior(KILN, (550.0,) * 3, 0)
    logs = known.mean[3 * NODES :]
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = replace(
        open_firing(start, KILN, PLAN, 20.0), turned_ms=turned * MINUTE, switches=(Switch.HIGH,) * 3,
        lacked=tuple(MINUTE if ring == lacked else None for ring in range(3)),
    )  # fmt: skip
    nodes, lived = known.celsius, [tuple(known.celsius)]
    points: list[tuple[tuple[int, float], ...]] = [()] * 3
    for minute in range(LAST):
        outside = MEDIUM if minute < TURNED else HIGH
        own = (1.0,) * 3 if minute < TURNED else ON_HIGH
        lost = gets if minute >= WRONG else (1.0,) * 3
        shares = tuple(s * a * b for s, a, b in zip(outside.shares, own, lost, strict=True))
        nodes = moved(known.heat, nodes, replace(outside, shares=shares), 1 / 60)
        lived.append(tuple(nodes))
        said = reads(minute - WRONG, tuple(nodes[::NODES]))
        points = [(*p, (minute * MINUTE + 30_000, c)) for p, c in zip(points, said, strict=True)]
        if minute < TRAILS + 2 or minute % EACH:
            continue
        at = minute - TRAILS
        settled = replace(known, at_ms=at * MINUTE - 30_000, mean=(*lived[at], *logs))
        told = ((0, MEDIUM), (TURNED * MINUTE, HIGH)) if minute >= TURNED else ((0, MEDIUM),)
        now_ms = (minute + 1) * MINUTE + 10_000
        pasts = tuple(Past(t * MINUTE - 30_000, lived[t], logs) for t in range(PAST_EACH // 2, at, PAST_EACH))
        memory = Memory(told=told, pasts=pasts).since(now_ms - KEPT * MINUTE)
        seemed = None if firing.memory is None else firing.memory.drifts
        firing = replace(
            firing,
            model=Model(settled, settled.at_ms, tuple(settled.celsius), told),
            memory=replace(memory, judged_ms=now_ms, odd_ms=odd_ms, drifts=seemed),
        )
        tracks = tuple(Track(at_ms=now_ms, celsius=p[-1][1], minutes=p) for p in points)
        firing, doubts = drifting(View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, said))
        for probe, doubt in enumerate(doubts):
            if doubt is not None:
                return minute - WRONG, probe, doubt
    return None


def as_it_is(_: float, rings: tuple[float, ...]) -> tuple[float, ...]:
    return rings


def drifts(probe: int, rate: float) -> Reads:
    def reads(since: float, rings: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(c + rate * max(0.0, since) / 60 * (i == probe) for i, c in enumerate(rings))

    return reads


@pytest.mark.parametrize(("probe", "rate"), [(0, -20.0), (1, -45.0), (1, -20.0), (1, 20.0), (2, 45.0), (2, -30.0)])
def test_a_drift_that_begins_soon_after_a_turn_is_found_within_the_hour(probe: int, rate: float) -> None:
    told = found(drifts(probe, rate))
    assert told is not None
    minutes, which, doubt = told
    assert which == probe
    assert 15 < minutes < 60
    assert doubt.reason is Reason.DOUBTFUL
    assert doubt.beside is not None
    assert abs(doubt.beside) < 12.0, "beside the others, as all rings are nearly alike"


def test_what_begins_just_after_a_turn_has_to_be_surer() -> None:
    """A switch that gives somewhat else than its name says looks so, and begins there."""
    later, at_once = found(drifts(1, -20.0)), found(drifts(1, -20.0), turned=WRONG - 5)
    assert later is not None
    assert at_once is None or at_once[0] > later[0]


def test_a_kiln_whose_switches_give_somewhat_else_than_believed_accuses_no_probe() -> None:
    assert found(as_it_is) is None


@pytest.mark.parametrize(("ring", "left"), [(0, 0.75), (0, 0.9), (1, 0.0), (1, 0.5), (1, 0.85), (2, 0.75), (2, 0.9)])
def test_a_ring_that_gets_less_is_no_drift(ring: int, left: float) -> None:
    low, middle, top = (left if i == ring else 1.0 for i in range(3))
    assert found(as_it_is, (low, middle, top)) is None


@pytest.mark.parametrize(("ring", "more"), [(0, 1.2), (1, 1.25), (2, 1.2)])
def test_a_ring_that_catches_up_as_if_it_got_more_than_high_gives_is_no_drift(ring: int, more: float) -> None:
    """A dense load lags its neighbours while its clay dries, and is with them again hours later."""
    low, middle, top = (more if i == ring else 1.0 for i in range(3))
    assert found(as_it_is, (low, middle, top)) is None


def course_of(shape: Callable[[float], float], celsius: float = 550.0, clay: float = 40.0) -> tuple[Course, Suspect]:
    """Eighty minutes at nearly one temperature, in which the bottom's number parts from its model by this shape [degC]
    over the minutes since the fortieth; and a drift of -30 degC/h from then on."""
    known = prior(KILN, (celsius,) * 3, 0)
    told = ((0, Outside((0.5,) * 3, (0.0,) * 3, 20.0, clay=clay)),)
    times = tuple(minute * MINUTE for minute in range(0, 81, EACH))
    past = Past(0, tuple(known.celsius), known.mean[3 * NODES :])
    silent = Course(past, told, times, (0, 1, 2), ((0.0,) * 3,) * (len(times) - 1))
    read = tuple(
        tuple(-off + (shape(max(0.0, t / MINUTE - 40.0)) if place == 0 else 0.0) for place, off in enumerate(row))
        for t, row in zip(times[1:], apart(silent), strict=True)
    )
    return replace(silent, read=read), Suspect(0, -30.0, 40 * MINUTE, 20.0)


def test_a_ring_whose_clay_gives_up_its_water_after_the_others_parts_from_them_and_comes_back_a_drift_goes_on() -> None:
    assert goes_on(*course_of(lambda minutes: -0.5 * minutes))
    assert not goes_on(*course_of(lambda minutes: -0.5 * min(minutes, 30.0))), "it stands beside them"
    assert not goes_on(*course_of(lambda minutes: -0.5 * (30.0 - abs(minutes - 30.0)))), "it comes back"


def test_it_is_asked_whether_a_drift_goes_on_only_where_clay_may_have_given_up_water_since() -> None:
    assert gave_water(*course_of(lambda _: 0.0))
    assert not gave_water(*course_of(lambda _: 0.0, clay=0.0))
    assert not gave_water(*course_of(lambda _: 0.0, celsius=900.0))


def test_a_probe_that_goes_faster_than_any_drift_is_left_to_others() -> None:
    assert found(drifts(1, -150.0)) is None


def test_a_ring_that_surely_lacks_heat_is_no_drift_and_a_drift_that_looked_so_is_one_still() -> None:
    assert found(as_it_is, (1.0, 0.8, 1.0), lacked=1) is None
    told, soon = found(drifts(1, -40.0), lacked=1), found(drifts(1, -40.0))
    assert told is not None
    assert soon is not None
    assert soon[0] <= told[0] < 60


def test_where_the_kiln_went_as_no_model_has_it_before_no_probe_is_accused() -> None:
    assert found(drifts(1, -40.0), odd_ms=(WRONG - 20) * MINUTE) is None
    assert found(drifts(1, -40.0), odd_ms=(WRONG + 20) * MINUTE) is not None, "the drift itself looks so"


def test_beside_a_ring_that_lacks_heat_a_drift_has_to_be_surer() -> None:
    """How well a cold ring cools its neighbours nobody knows, and they part from it."""
    alone, beside = found(drifts(0, -20.0)), found(drifts(0, -20.0), lacked=2)
    assert alone is not None
    assert beside is None or beside[0] > alone[0]
    assert found(drifts(0, -40.0), lacked=2) is not None


def test_hours_after_the_kiln_went_as_no_model_has_it_a_drift_has_to_be_surer() -> None:
    """A ring that went out was learned as weak, and its neighbours as cooled by it: then they part by themselves."""
    never, before = found(drifts(0, -20.0)), found(drifts(0, -20.0), odd_ms=MINUTE)
    assert never is not None
    assert before is None or before[0] > never[0]
    assert found(drifts(0, -40.0), odd_ms=MINUTE) is not None
