"""A kiln whose supply is lost is told from one whose elements only give less: both fall at first."""

from dataclasses import replace
from math import exp
from random import Random

import pytest

from spyhole.core.curve.heat import Work
from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Stopped, Written, open_firing, write
from spyhole.core.heating import follow, verdict
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.last_minutes import share_lost
from spyhole.core.plan import Plan, Stage
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.view import View

KILN = Kiln("Puffin", 1290.0, (Ring("only", 4000.0, Probe()),))
PLAN = Plan("Bisque", "05", (Stage("high", (Switch.HIGH,), until_cone=True),), 0, "05")
PLAN_HIGH = Stage("high", (Switch.HIGH,) * 3, until_cone=True)
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


def test_what_falls_by_most_of_its_heat_is_given_the_time_to_stand_again() -> None:
    """The model knows a kiln's watts to a third only: what seems to lack two thirds of them may lack two fifths."""
    found, fell, lost = stopped(0.35, 12)
    assert fell > 10.0
    assert 0.55 < lost < 0.75
    assert found is Stopped.NOT
    assert stopped(0.35, 20)[0] in (Stopped.LOST, Stopped.SHORT)


def held(given: float, relaxes: float, minutes: int, *then: Stage, work: float = 3.0) -> Firing:
    """What is believed so long after a kiln was turned from high to low, as its plan has it.

    given: of low's watts. relaxes: what it loses beyond what its model has, in the first half hour, as a share of full.
    then: what follows in the plan. work: of its cone, which is down at 1.
    """
    known = prior(KILN, (1050.0,), 0)
    full, low = (Outside((KILN.switch.of(s),), (0.0,), 20.0) for s in (Switch.HIGH, Switch.LOW))
    nodes = list(known.celsius)
    lived, said = [tuple(nodes)], []
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    up = Stage("high", (Switch.HIGH,), until_celsius=1060.0)
    plan = replace(PLAN, stages=(up, Stage("hold", (Switch.LOW,), hours=1.0), *then))
    firing = replace(open_firing(start, KILN, plan, 20.0), peaks=(1060.0,), work=(Work(firing=work),))
    turned_ms = GOES_WRONG * MINUTE
    for minute in range(GOES_WRONG + minutes):
        share = low.shares[0] * given - (relaxes if minute < GOES_WRONG + 30 else 0.0)
        nodes = moved(known.heat, nodes, full if minute < GOES_WRONG else replace(low, shares=(share,)), 1 / 60)
        lived.append(tuple(nodes))
        said.append((minute * MINUTE + 30_000, nodes[0]))
        if minute < GOES_WRONG:
            continue
        if minute == GOES_WRONG:
            firing = replace(firing, stage=1, switches=(Switch.LOW,), stage_ms=turned_ms, turned_ms=turned_ms)
        at = minute - TRAILS
        settled = replace(known, at_ms=at * MINUTE - 30_000, mean=(*lived[at], *known.mean[len(nodes) :]))
        told = ((0, full), (turned_ms, low))
        firing = replace(firing, model=Model(settled, settled.at_ms, tuple(settled.celsius), told))
        now_ms = (minute + 1) * MINUTE + 10_000
        tracks = (Track(at_ms=now_ms, celsius=nodes[0], minutes=tuple(said)),)
        firing = follow(View(now_ms, now_ms, firing, tracks, (None,), (True,), (nodes[0],)))
    return firing


def test_a_kiln_that_is_held_on_its_way_down_falls_and_is_still_lit() -> None:
    """Its walls take more than four nodes say, at first; and low may give less than its number."""
    assert held(1.0, 0.1, 60).heating
    assert held(0.7, 0.0, 60).heating
    ended = held(0.0, 0.0, 60)
    assert ended.stopped is Stopped.DONE, "nothing heats it at all"


def test_heat_that_is_lost_in_a_soak_on_the_way_up_is_lost_as_soon_as_anywhere() -> None:
    assert held(0.0, 0.0, 13, PLAN.stages[0], work=0.1).stopped is Stopped.LOST
    assert held(1.0, 0.0, 60, PLAN.stages[0], work=0.1).heating


def test_a_kiln_that_has_its_heat_has_lost_none() -> None:
    found, _, lost = stopped(1.0, 30)
    assert abs(lost) < 0.05
    assert found is Stopped.NOT


def night(lost_minute: int | None, *, minutes: int = 600, lit_warm: bool = False, given: float = 0.2) -> Firing:
    """Some hours of one ring on low that no probe sees, with the two above it off; the supply is lost at some minute.

    lit_warm: as after a firing, the shelves at 200 degC and the wall cooler; low is less than such a kiln loses.
    """
    rings = (Ring("bottom", 3000.0), Ring("middle", 3000.0, Probe()), Ring("top", 3000.0, Probe()))
    kiln = Kiln("Puffin", 1290.0, rings)
    switches = (Switch.LOW, Switch.OFF, Switch.OFF)
    plan = Plan("Bisque", "05", (Stage("candling", switches, hours=10.0), PLAN_HIGH), 1, "05")
    known = prior(kiln, (200.0 if lit_warm else 20.0,) * 3, 0)
    low = Outside((0.04 if lit_warm else given, 0.0, 0.0), (0.0,) * 3, 20.0)
    nodes = list(known.celsius)
    if lit_warm:
        nodes = [celsius if node % NODES < 2 else 120.0 for node, celsius in enumerate(nodes)]
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = open_firing(start, kiln, plan, 20.0)
    said: tuple[list[tuple[int, float]], ...] = ([], [])
    for minute in range(minutes):
        gets = low if lost_minute is None or minute < lost_minute else replace(low, shares=(0.0,) * 3)
        nodes = moved(known.heat, nodes, gets, 1 / 60)
        seen = (nodes[NODES], nodes[2 * NODES])
        for points, celsius in zip(said, seen, strict=True):
            points.append((minute * MINUTE + 30_000, celsius))
        now_ms = (minute + 1) * MINUTE + 10_000
        tracks = tuple(
            Track(at_ms=now_ms, celsius=celsius, minutes=tuple(points[-200:]))
            for points, celsius in zip(said, seen, strict=True)
        )
        firing = follow(View(now_ms, now_ms, firing, tracks, (None,) * 2, (True,) * 2, seen))
    return firing


def test_power_lost_at_night_shows_though_no_probe_sees_the_ring_that_is_on() -> None:
    """The ring above it falls, while the one above that still takes heat from it and rises."""
    firing = night(lost_minute=240)
    assert not firing.heating
    assert firing.stopped is Stopped.LOST
    assert firing.off_ms is not None
    assert abs(firing.off_ms - 240 * MINUTE) < 60 * MINUTE


def test_a_fall_too_slow_for_minutes_shows_within_two_hours() -> None:
    """Half of the watts, and what it falls by in twenty minutes is noise."""
    assert night(lost_minute=300, minutes=420, given=0.1).stopped is Stopped.LOST


@pytest.mark.parametrize("given", [0.1, 0.2])
def test_the_same_night_with_its_power_loses_nothing(given: float) -> None:
    assert night(lost_minute=None, given=given).heating


def test_a_kiln_lit_warm_falls_at_first_where_nothing_is_on_and_has_lost_nothing() -> None:
    assert night(lost_minute=None, minutes=120, lit_warm=True).heating


def lit_and_read(celsius: float, climbs: float, *, room: float = 20.0, minutes: int = 60) -> Firing:
    """What is believed of a kiln that was just lit, whose only probe reads so much and moves so [degC/h]."""
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = open_firing(start, KILN, PLAN, room)
    said: list[tuple[int, float]] = []
    for minute in range(minutes):
        said.append((minute * MINUTE + 30_000, celsius + climbs * minute / 60))
        now_ms = (minute + 1) * MINUTE + 10_000
        tracks = (Track(at_ms=now_ms, celsius=said[-1][1], climb=climbs, minutes=tuple(said)),)
        firing = follow(View(now_ms, now_ms, firing, tracks, (None,), (True,), (said[-1][1],)))
    return firing


def test_a_kiln_that_never_was_warm_has_no_heat_to_lose() -> None:
    """A wire the wrong way round shows what is ever colder than the room, as the kiln warms."""
    assert lit_and_read(20.0, -90.0).heating
    assert not lit_and_read(300.0, -90.0).heating, "lit warm, and nothing comes"


def heats_again(climbs: float, minutes: int) -> bool:
    """Whether a kiln without heat is taken to heat again, its noisy probe climbing so fast [degC/h]."""
    noise = Random(7)
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    lost = replace(open_firing(start, KILN, PLAN, 20.0), heating=False, stopped=Stopped.LOST, off_ms=0)
    said: list[tuple[int, float]] = []
    for minute in range(minutes):
        said.append((minute * MINUTE + 30_000, 45.0 + climbs * minute / 60 + noise.gauss(0.0, 0.8)))
        now_ms = (minute + 1) * MINUTE + 10_000
        tracks = (Track(at_ms=now_ms, celsius=said[-1][1], minutes=tuple(said[-60:])),)
        lost = follow(View(now_ms, now_ms, lost, tracks, (None,), (True,), (said[-1][1],)))
        if lost.heating:
            return True
    return False


def test_a_noisy_probe_in_a_cold_kiln_is_no_heat_that_is_back() -> None:
    assert not heats_again(0.0, 12 * 60)
    assert heats_again(45.0, 25), "what low gives a cold kiln is seen within half an hour"


def end_of_heat(short_celsius: float, last_celsius: float | None = None, *, believed: bool = True) -> Stopped:
    """What an end is so far below the cone's number, by the probe; last_celsius: what that read at the last end."""
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    stage = replace(PLAN.stages[0], expected_hours=4.0, expected_end_celsius=(last_celsius,))
    firing = open_firing(start, KILN, replace(PLAN, stages=(stage,)), 20.0)
    one, celsius = firing.pack.firing, firing.pack.firing.end_60_celsius - short_celsius
    work = replace(firing.work[0], firing=exp(-short_celsius / one.width_celsius(celsius)))
    firing = replace(firing, work=(work,), peaks=(celsius,))
    view = View(MINUTE, MINUTE, firing, (Track(at_ms=MINUTE, celsius=celsius),), (None,), (believed,), (celsius,))
    return verdict(view)


@pytest.mark.parametrize(("short_celsius", "ended"), [(6.0, Stopped.DONE), (18.0, Stopped.SHORT)])
def test_a_cone_that_has_hardly_begun_is_short_whatever_ended_the_heat(short_celsius: float, ended: Stopped) -> None:
    """How early a shut-off may be that nobody has seen trip is no excuse for the ware: a timer may have run out."""
    assert end_of_heat(short_celsius) is ended


def test_an_end_far_below_the_last_good_one_is_short_though_the_probe_may_be_off() -> None:
    """It was off by as much the last time: a timer that ran out twenty minutes early looks like a good end else."""
    lit = open_firing(Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren")), KILN, PLAN, 20.0)
    end = lit.pack.firing.end_60_celsius
    assert end_of_heat(6.0, end + 20.0) is Stopped.SHORT
    assert end_of_heat(6.0, end + 8.0) is Stopped.DONE
    assert end_of_heat(-4.0, end + 30.0) is Stopped.DONE, "by its number the cone is down"
    assert end_of_heat(6.0, end + 20.0, believed=False) is Stopped.DONE, "of a probe in doubt that says nothing"


@pytest.mark.parametrize(("was_seen", "ended"), [(970.0, Stopped.SHORT), (31.0, Stopped.DONE)])
def test_a_ring_that_no_probe_ever_saw_hot_may_be_hotter_than_its_neighbours_are(
    was_seen: float, ended: Stopped
) -> None:
    """A tall kiln whose middle probe was wired the wrong way round: its ends say too little of its middle."""
    rings = tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle", "top"))
    kiln = Kiln("Puffin", 1290.0, rings)
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = open_firing(start, kiln, Plan("Bisque", "05", (PLAN_HIGH,), 1, "05"), 20.0)
    celsius = firing.pack.firing.end_60_celsius - 35.0
    firing = replace(firing, peaks=(celsius, was_seen, celsius), work=(Work(firing=0.05),) * 3)
    tracks = (Track(at_ms=MINUTE, celsius=celsius),) * 3
    assert verdict(View(MINUTE, 0, firing, tracks, (None,) * 3, (True, False, True), (celsius,) * 3)) is ended


def closed_at(minute: int, *, turns: int, falls: float, climbs: float = 1.0) -> Firing:
    """What is believed after an end written down at `minute`, of a kiln that climbs by so much a minute until `turns`
    and falls from then on; half an hour later."""
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    firing = open_firing(start, KILN, PLAN, 20.0)
    said = tuple((m * MINUTE + 30_000, 1000.0 + (climbs * m if m < turns else climbs * turns - falls * (m - turns)))
                 for m in range(90))  # fmt: skip
    for m in range(minute, 90):
        now_ms = (m + 1) * MINUTE + 10_000
        if m == minute:
            tripped = Entry(EntryKind.SHUTOFF, "", "tripped", "Wren")
            firing = write(firing, Written(2, now_ms, now_ms + 7, tripped))
        points = said[: m + 1]
        tracks = (Track(at_ms=now_ms, celsius=points[-1][1], minutes=points),)
        firing = follow(View(now_ms, now_ms + 7, firing, tracks, (None,), (True,), (points[-1][1],)))
    return firing


def test_an_end_noticed_late_came_when_the_curve_turned() -> None:
    firing = closed_at(68, turns=60, falls=4.0)
    assert firing.off
    assert firing.off_ms == pytest.approx(60 * MINUTE, abs=MINUTE)
    assert firing.off_utc_ms == (firing.off_ms or 0) + 7


def test_an_end_written_down_at_once_stands() -> None:
    firing = closed_at(60, turns=60, falls=4.0)
    assert firing.off_ms == 61 * MINUTE + 10_000


def test_a_kiln_that_stood_or_sank_before_it_was_turned_off_was_lit_until_then() -> None:
    for climbs, falls in ((0.0, 0.1), (0.5, 0.1)):
        firing = closed_at(68, turns=30, falls=falls, climbs=climbs)
        assert firing.off_ms == 69 * MINUTE + 10_000
