"""For each alarm that a curve can show: a kiln on which it is raised, and one like it on which nothing is.

The kilns here are straight lines, so that each says one thing; whole firings are in `test_watch` and tests/proving.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from math import exp

import pytest

from spyhole.core import watch
from spyhole.core.alarms.rules.cooling import cooling_fast
from spyhole.core.alarms.rules.overfire import overfire
from spyhole.core.curve.heat import Work
from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, close, conclude, open_firing, write
from spyhole.core.journal import Clock, InReach, Row, Settings, Told, WatchFault, WatchTaken
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.outcome import Action, AlarmOutcome, Outcome, PromptOutcome
from spyhole.core.plan import Cooling, CoolingLimit, Plan, Spread, Stage, Ware
from spyhole.core.reading import Fault, ProbeReading, Reading, to_chip_step
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View, ceiling_celsius, warmer_than_last

LIT = 1_951_155_660_000
MINUTE = 60_000
RINGS = ("bottom", "middle", "top")
KILN = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in RINGS))
OFF, LOW, MEDIUM, HIGH = ((s,) * 3 for s in (Switch.OFF, Switch.LOW, Switch.MEDIUM, Switch.HIGH))
BOTTOM_LOW = (Switch.LOW, Switch.OFF, Switch.OFF)

Curve = Callable[[float], tuple[float, ...]]
"""Minutes since lighting -> degC of each ring."""
Rows = Iterable[tuple[float, Told]]


def plan(*stages: Stage, ware: Ware = Ware.BISQUE, **more: object) -> Plan:
    return Plan("Bisque", "05", stages, 1, "05", ware=ware, **more)  # type: ignore[arg-type]


HOLD = plan(Stage("high", HIGH, until_cone=True))
NIGHT = plan(Stage("candling", BOTTOM_LOW, hours=9), Stage("high", HIGH, until_cone=True))


def ramp(start: float, an_hour: float, most: float = 2000.0) -> Curve:
    return lambda minute: (min(start + an_hour * minute / 60, most),) * 3


def fold(
    curve: Curve,
    minutes: float,
    the_plan: Plan = HOLD,
    told: Rows = (),
    *,
    lit: bool = True,
    every: int = 30,
    cold: float | None = None,
) -> list[Outcome]:
    """What the watch says of this curve. told: (minute, what), in order."""
    state, said = watch.begin(), []
    for sequence, (at, what) in enumerate(_rows(curve, minutes, the_plan, told, lit, every, cold), 1):
        state, outcomes = watch.step(state, Row("Puffin", sequence, "boot", round(at * MINUTE), what))
        said += outcomes
    return said


def _rows(
    curve: Curve, minutes: float, the_plan: Plan, told: Rows, lit: bool, every: int, cold: float | None
) -> Iterator[tuple[float, Told]]:
    yield 0, Clock(LIT, synchronised=True)
    yield 0, Settings(KILN, the_plan)
    if lit:
        yield 0, Entry(EntryKind.START, "", "05", "Wren")
    waiting = list(told)
    for n in range(round(minutes * 60 / every)):
        at = (n + 1) * every / 60
        while waiting and waiting[0][0] <= at:
            yield waiting[0][0], waiting.pop(0)[1]
        yield at, Reading(tuple(ProbeReading(to_chip_step(c), None, cold) for c in curve(at)))


def raised(outcomes: list[Outcome]) -> list[str]:
    return list(dict.fromkeys(o.tag for o in outcomes if isinstance(o, AlarmOutcome) and o.action is Action.RAISE))


def prompted(outcomes: list[Outcome]) -> list[str]:
    return [o.tag for o in outcomes if isinstance(o, PromptOutcome)]


def note(kind: EntryKind, subject: str, value: str) -> Entry:
    return Entry(kind, subject, value, "Wren")


# Lit, and cold


@pytest.mark.parametrize("the_plan", [NIGHT, HOLD])
def test_a_kiln_that_was_lit_and_stays_cold_is_told_while_somebody_is_still_up(the_plan: Plan) -> None:
    """The timer is not wound, or the breaker is off: nothing falls, and nobody would know before the morning."""
    said = [o for o in fold(ramp(18, 3), 70, the_plan) if isinstance(o, AlarmOutcome) and o.action is Action.RAISE]
    assert [o.tag for o in said] == ["stall"]
    assert 40 <= (said[0].utc_ms - LIT) / MINUTE < 60


def test_a_kiln_that_warms_slowly_from_the_bottom_is_no_cold_one() -> None:
    def slow(minute: float) -> tuple[float, ...]:
        return (18 + minute * 0.3, 18 + minute / 40, 18.0)

    assert "stall" not in raised(fold(slow, 90, NIGHT))


# Damp ware


def test_damp_ware_that_is_hurried_through_the_steam_is_an_alarm() -> None:
    assert "damp-hurry" in raised(fold(ramp(20, 180), 60, NIGHT))


def test_the_air_that_leaps_after_a_turn_and_settles_hurries_no_ware() -> None:
    """For ten minutes the air between elements and ware climbs at 160 degC/h, and then as ware bears it."""

    def curve(minute: float) -> tuple[float, ...]:
        return (58 + 160 / 60 * min(minute, 12) + 0.5 * max(0, minute - 12), 58.0, 58.0)

    assert "damp-hurry" not in raised(fold(curve, 60, NIGHT))


def test_a_small_kiln_whose_air_leaps_when_it_is_lit_has_no_switch_too_high() -> None:
    """On low the air leaps by 70 degC, and the kiln goes on at 100 degC/h; on high it goes on leaping."""

    def small(minute: float) -> tuple[float, ...]:
        return (20 + 6.5 * min(minute, 11) + 1.7 * max(0, minute - 11), 20.0, 20.0)

    assert "runaway" not in raised(fold(small, 40, plan(*NIGHT.stages, ware=Ware.GLAZE)))
    assert "runaway" in raised(fold(ramp(20, 420), 60, plan(Stage("low", LOW, hours=9), *HOLD.stages, ware=Ware.GLAZE)))


@pytest.mark.parametrize(("an_hour", "told"), [(160, []), (430, ["runaway"])])
def test_the_air_that_leaps_when_rings_are_turned_up_has_no_switch_too_high(an_hour: float, told: list[str]) -> None:
    """Low for two hours, then medium as written: for some minutes 40 degC come besides what lasts."""

    def curve(minute: float) -> tuple[float, ...]:
        on = max(0.0, minute - 120)
        return (20 + min(minute, 120) * 1.3 + on / 60 * an_hour + 40 * (1 - exp(-on / 8)),) * 3

    by_steps = plan(Stage("low", LOW, hours=2), Stage("medium", MEDIUM, hours=4), *HOLD.stages, ware=Ware.GLAZE)
    turned = [(120, note(EntryKind.SWITCH, ring, "medium")) for ring in RINGS]
    assert raised(fold(curve, 175, by_steps, turned)) == told


def test_a_night_of_candling_and_then_the_same_climb_is_none() -> None:
    def curve(minute: float) -> tuple[float, ...]:
        return (min(20 + minute / 2, 70) + max(0, minute - 540) * 3,) * 3

    turned = [(540, note(EntryKind.SWITCH, ring, "high")) for ring in RINGS]
    said = fold(curve, 590, NIGHT, turned)
    assert "damp-hurry" not in raised(said)
    assert "steam-past" in prompted(said)


def test_a_glaze_firing_has_no_damp_ware() -> None:
    """On all high, as what is fired twice may be: of rings that are off, 180 degC/h would be a switch too high."""
    assert raised(fold(ramp(20, 180), 60, plan(*HOLD.stages, ware=Ware.GLAZE))) == []
    assert "damp-hurry" in raised(fold(ramp(20, 180), 60, HOLD))


# Heat that goes and comes


def lost_and_back(minute: float) -> tuple[float, ...]:
    up = 500 + min(minute, 60) * 1.6
    fallen = max(0.0, min(minute, 90) - 60) * 3
    return (up - fallen + max(0.0, minute - 90) * 2.5,) * 3


def test_heat_that_comes_back_unannounced_is_told_beside_its_loss() -> None:
    said = fold(lost_and_back, 110)
    assert raised(said) == ["heat-lost", "power-back"]
    assert [o.tag for o in said if isinstance(o, AlarmOutcome) and o.tell] == ["heat-lost", "power-back"]
    assert {o.episode for o in said if isinstance(o, AlarmOutcome)} == {"a1"}, "one trouble, though told twice"


def test_heat_that_somebody_gave_back_is_no_news() -> None:
    said = fold(lost_and_back, 110, told=[(89, note(EntryKind.POWER, "", "back"))])
    assert raised(said) == ["heat-lost"]


def test_that_the_power_went_is_written_from_afar_and_nobody_stands_at_the_kiln_when_it_is_back() -> None:
    said = fold(lost_and_back, 110, told=[(75, note(EntryKind.POWER, "", "lost"))])
    assert raised(said) == ["heat-lost", "power-back"]


def hours_without(minute: float) -> tuple[float, ...]:
    """A good climb on high, lost for two hours, then back on high into a kiln that has fallen far."""
    up = 500 + min(minute, 60) * 3
    fallen = max(0.0, min(minute, 180) - 60) * 3.5
    return (up - fallen + max(0.0, minute - 180) * 9,) * 3


def test_whoever_was_there_long_before_it_came_back_has_not_seen_to_that() -> None:
    said = fold(hours_without, 200, told=[(80, note(EntryKind.TIMER, "", "240"))])
    assert raised(said) == ["heat-lost", "power-back"]


def test_a_kiln_that_has_fallen_far_climbs_fast_when_the_power_is_back() -> None:
    """Five hundred and forty an hour is what high gives a kiln at 300 degC, and no switch too high."""
    assert "runaway" not in raised(fold(hours_without, 215))


def over_and_up(minute: float) -> tuple[float, ...]:
    return (900 - min(minute, 60) * 3 + max(0.0, minute - 60) * 2,) * 3


def test_a_kiln_that_heats_after_its_end_is_still_on() -> None:
    over = [(1, note(EntryKind.SHUTOFF, "", "tripped"))]
    assert "still-on" in raised(fold(over_and_up, 95, told=over))


def test_a_ring_that_hardly_falls_while_the_others_do_is_still_on() -> None:
    def curve(minute: float) -> tuple[float, ...]:
        return (1000 - 2.5 * minute, 1000 - 2.4 * minute, 1000 - 0.4 * minute)

    over = [(1, note(EntryKind.SHUTOFF, "", "tripped"))]
    assert "still-on" in raised(fold(curve, 90, told=over))
    assert raised(fold(lambda m: (1000 - 2.5 * m, 1000 - 2.4 * m, 1000 - 1.8 * m), 90, told=over)) == []


def test_a_kiln_that_stays_warm_for_hours_after_its_end_is_still_on() -> None:
    """A ring left on low keeps the others warm too; its model has long come to think that such bricks lose little."""
    over = [(1, note(EntryKind.SHUTOFF, "", "tripped"))]

    def cooling_to(celsius: float, minutes: float) -> Curve:
        return lambda m: tuple(
            celsius * share + (1000 - celsius * share) * exp(-m / minutes) for share in (1, 0.7, 0.5)
        )

    assert "still-on" in raised(fold(cooling_to(300.0, 60.0), 480, told=over))
    assert "still-on" not in raised(fold(cooling_to(20.0, 600.0), 480, told=over))


def test_a_kiln_thought_lost_and_turned_off_hours_later_was_heated_until_then() -> None:
    """One ring is gone, the others hold the kiln below its cone: heat seems lost, and somebody ends it much later."""
    said = fold(held_for_hours, 460, told=[(400, note(EntryKind.SWITCH, ring, "off")) for ring in RINGS])
    assert "heat-lost" in raised(said)
    assert not {"still-on", "cooling-fast"} & set(raised(said))


def held_for_hours(minute: float) -> tuple[float, ...]:
    peak = min(20.0 + 5.0 * minute, 820.0)
    sunk = 0.25 * max(0.0, min(minute, 400) - 160) if minute > 160 else 0.0
    after = max(0.0, minute - 400)
    return (peak - min(sunk, 30.0) - 760.0 * (1 - exp(-after / 150.0)),) * 3


@pytest.mark.parametrize(("share", "told"), [(0.75, True), (0.9, False)])
def test_a_ring_that_parts_from_the_others_since_the_end_is_still_on(share: float, told: bool) -> None:
    """Neighbours of a ring left on take so much from it that no moment shows it; what parts them does."""
    over = [(1, note(EntryKind.SHUTOFF, "", "tripped"))]

    def curve(minute: float) -> tuple[float, ...]:
        fall = 700.0 * (1.0 - exp(-minute / 150.0))
        return 1000.0 - fall, 1010.0 - share * fall, 1000.0 - fall

    assert ("still-on" in raised(fold(curve, 120, told=over))) is told


def test_a_lid_opened_later_lets_the_rings_below_it_part_and_is_no_switch() -> None:
    over = [(1, note(EntryKind.SHUTOFF, "", "tripped"))]

    def curve(minute: float) -> tuple[float, ...]:
        fall = 700.0 * (1.0 - exp(-minute / 150.0))
        drawn = 3.0 * max(minute - 60.0, 0.0)
        return 1005.0 - fall, 1000.0 - fall - 0.8 * drawn, 1000.0 - fall - drawn

    assert "still-on" not in raised(fold(curve, 120, told=over))


def test_a_hold_while_cooling_begins_above_its_own_end_and_passes_no_ceiling() -> None:
    held = plan(
        Stage("high", HIGH, until_celsius=900),
        Stage("hold", LOW, hours=2, expected_end_celsius=(700.0, 700.0, 700.0)),
        ware=Ware.GLAZE,
    )
    low = [(40, note(EntryKind.SWITCH, ring, "low")) for ring in RINGS]

    def curve(minute: float) -> tuple[float, ...]:
        return (860 + min(minute, 40) * 1.5 - max(0.0, minute - 40) * 0.3,) * 3

    assert "ceiling-passed" not in raised(fold(curve, 70, held, low))


def test_a_stage_that_most_rings_were_turned_on_from_is_no_ceiling() -> None:
    """One wrong word in the log, medium where low was meant, and no stage of the plan looks like what was turned."""
    candling = Stage("candling", BOTTOM_LOW, hours=2, expected_hours=2.0, expected_end_celsius=(120.0, 100.0, 90.0))
    start = Written(1, 0, LIT, note(EntryKind.START, "", "05"))
    firing = open_firing(start, KILN, plan(candling, *HOLD.stages), 20.0)
    turned_on = replace(firing, switches=(Switch.MEDIUM, Switch.LOW, Switch.LOW))
    too_high = replace(firing, switches=(Switch.HIGH, Switch.OFF, Switch.OFF))
    assert ceiling_celsius(firing, 60 * MINUTE) == ceiling_celsius(too_high, 60 * MINUTE) == 160.0
    assert (ceiling_celsius(turned_on, 60 * MINUTE) or 0.0) > 1000.0


def test_a_stage_with_half_the_ware_of_last_time_passes_no_ceiling() -> None:
    """With every ring on, the ware decides how far a stage rises; candling, the kiln's losses do."""
    ends = (430.0, 430.0, 400.0)
    medium = Stage("medium", (Switch.MEDIUM,) * 3, hours=2, expected_hours=1.7, expected_end_celsius=ends)
    start = Written(1, 0, LIT, note(EntryKind.START, "", "05"))
    firing = open_firing(start, KILN, plan(medium, *HOLD.stages), 20.0)
    assert (ceiling_celsius(firing, 60 * MINUTE) or 0.0) > 430.0 * 1.3


def test_what_a_stage_may_rise_more_than_last_time_goes_by_what_it_rose_then() -> None:
    """Not by what the stages before it did: 224 degC from low to medium leave room for 80 more, and not for 170."""
    low = Stage("low", LOW, hours=2, expected_hours=2.0, expected_end_celsius=(278.0, 279.0, 271.0))
    medium = Stage("medium", MEDIUM, hours=2, expected_hours=2.0, expected_end_celsius=(494.0, 503.0, 491.0))
    firing = open_firing(
        Written(1, 0, LIT, note(EntryKind.START, "", "05")), KILN, plan(low, medium, *HOLD.stages), 20.0
    )
    for n, ring in enumerate(RINGS, 2):
        firing = write(firing, Written(n, 120 * MINUTE, LIT, note(EntryKind.SWITCH, ring, "medium")))
    assert firing.stage == 1
    assert ceiling_celsius(firing, 180 * MINUTE) == pytest.approx(503.0 + 0.35 * 224.0)


def test_a_stage_that_begins_warmer_than_last_time_may_end_as_much_warmer() -> None:
    """What led there was the stage before's to tell: a short night, a light load, a warm kiln."""
    low = Stage("low", LOW, hours=1, expected_hours=1.0, expected_end_celsius=(119.0, 94.0, 90.0))
    medium = Stage("medium", (Switch.MEDIUM,) * 3, hours=2, expected_hours=2.0, expected_end_celsius=(250.0,) * 3)

    lit = open_firing(Written(1, 0, LIT, note(EntryKind.START, "", "05")), KILN, plan(low, medium, *HOLD.stages), 20.0)
    turned = replace(lit, stage=1, stage_ms=60 * MINUTE)
    minutes = tuple((m * MINUTE, 20.0 + 2.8 * m) for m in range(90))
    tracks = (Track(at_ms=90 * MINUTE, celsius=269.0, minutes=minutes),) * 3
    view = View(90 * MINUTE, 90 * MINUTE, turned, tracks, (None,) * 3, (True,) * 3, (269.0,) * 3)
    assert warmer_than_last(view) == (1, 69.0), "188 degC, and the hottest ring ended at 119 then"
    assert warmer_than_last(replace(view, firing=replace(lit, stage=0))) == (0, 0.0)
    warm = tuple(replace(track, minutes=tuple((t, c + 85.0) for t, c in minutes)) for track in tracks)
    assert warmer_than_last(replace(view, firing=lit, tracks=warm)) == (0, 85.0), "lit in a kiln still warm"
    untold = replace(turned, plan=plan(*HOLD.stages, *HOLD.stages))
    assert warmer_than_last(replace(view, firing=untold)) is None
    firing = open_firing(Written(1, 0, LIT, note(EntryKind.START, "", "05")), KILN, plan(medium, *HOLD.stages), 20.0)
    usual, warm = (ceiling_celsius(replace(firing, warmer=w), 60 * MINUTE) or 0.0 for w in (None, (0, 60.0)))
    assert warm - usual == 60.0
    assert ceiling_celsius(replace(firing, warmer=(1, 60.0)), 60 * MINUTE) == usual, "of another stage"


def test_a_turn_long_before_its_time_that_nobody_wrote_down_leaves_the_ceiling_where_it_was() -> None:
    medium = Stage("medium", MEDIUM, hours=3, expected_hours=3.0, expected_end_celsius=(650.0,) * 3)
    low = Stage("low", LOW, hours=2)
    firing = open_firing(
        Written(1, 0, LIT, note(EntryKind.START, "", "05")), KILN, plan(low, medium, *HOLD.stages), 20.0
    )
    for n, ring in enumerate(RINGS, 2):
        firing = write(firing, Written(n, 120 * MINUTE, LIT, note(EntryKind.SWITCH, ring, "medium")))
    early, late = (conclude(firing, HIGH, at * MINUTE, 2, seen=True) for at in (150, 280))
    before, after = (ceiling_celsius(one, 285 * MINUTE) or 0.0 for one in (firing, early))
    assert before == after < 1000.0
    assert (ceiling_celsius(late, 285 * MINUTE) or 0.0) > 1000.0


def test_a_turn_that_is_due_and_not_yet_written_down_passes_no_ceiling() -> None:
    ends = (145.0, 145.0, 140.0)
    low = Stage("low", (Switch.LOW,) * 3, hours=2, expected_hours=2.0, expected_end_celsius=ends)
    start = Written(1, 0, LIT, note(EntryKind.START, "", "05"))
    firing = open_firing(start, KILN, plan(low, *HOLD.stages), 20.0)
    early, due = (ceiling_celsius(firing, minutes * MINUTE) or 0.0 for minutes in (60, 100))
    assert due - early == 50.0


def passes(rings: tuple[float, float, float], *, middle_fit: bool = True) -> bool:
    """Whether rings this hot pass the ceiling on high; the middle one's cone decides."""
    firing = open_firing(Written(1, 0, LIT, note(EntryKind.START, "", "05")), KILN, HOLD, 20.0)
    tracks = tuple(Track(at_ms=MINUTE, celsius=c) for c in rings)
    view = View(MINUTE, MINUTE, firing, tracks, (None,) * 3, (True, middle_fit, True), rings)
    return any(one.tag == "ceiling-passed" and one.holds is True for one in overfire(view))


def test_beside_the_cone_that_decides_a_ring_may_be_hotter_than_its_end() -> None:
    """The middle ring has lost half its element, and ends late: the others are told of as what follows from that."""
    limit = ceiling_celsius(open_firing(Written(1, 0, LIT, note(EntryKind.START, "", "05")), KILN, HOLD, 20.0), 0)
    assert limit is not None
    assert not passes((limit + 5.0, limit - 40.0, limit - 30.0))
    assert passes((limit + 30.0, limit - 40.0, limit - 30.0))
    assert passes((limit - 30.0, limit + 5.0, limit - 30.0)), "the cone's own ring"
    assert passes((limit + 5.0, limit - 40.0, limit - 30.0), middle_fit=False), "nobody sees where the cone stands"


def past_its_cone(curve: Callable[[float], float], *, minutes: int) -> dict[str, bool | None]:
    """What is said of a kiln whose cones are all well down, on a curve that has come so far."""
    now_ms = minutes * MINUTE
    points = tuple((m * MINUTE, curve(m)) for m in range(minutes + 1))
    here = points[-1][1]
    firing = open_firing(Written(1, 0, LIT, note(EntryKind.START, "", "05")), KILN, HOLD, 20.0)
    work = Work(now_ms, here, guide=1e4, firing=1e4, guard=1e4, shutoff=1e4)
    firing = replace(firing, work=(work,) * 3, guard_bend_at_down=5.0, peaks=(max(c for _, c in points),) * 3)
    view = View(now_ms, now_ms, firing, (Track(at_ms=now_ms, celsius=here, minutes=points),) * 3, (None,) * 3,
                (True,) * 3, (here,) * 3)  # fmt: skip
    return {one.tag: one.holds for one in overfire(view)}


@pytest.mark.parametrize(
    ("what", "curve", "minutes", "told"),
    [
        ("it climbs", lambda m: 1000.0 + m, 40, True),
        ("it began to fall two minutes ago, and may have tripped", lambda m: 1000.0 + min(m, 190 - 4 * m), 40, None),
        ("it wavers as a thermocouple does", lambda m: 1040.0 - 1.5 * (m % 2), 40, True),
        ("it has fallen for long, and is still not found to be off", lambda m: 1100.0 - m, 40, True),
    ],
)
def test_that_a_kiln_was_not_shut_off_is_not_said_while_it_begins_to_fall(
    what: str, curve: Callable[[float], float], minutes: int, told: bool | None
) -> None:
    found = past_its_cone(curve, minutes=minutes)
    assert found["shutoff-overdue"] is told, what
    assert found["guard-cone"] is told, what


def test_lit_again_by_a_person_it_has_no_cone_left() -> None:
    over = [(1, note(EntryKind.SHUTOFF, "", "tripped")), (60, note(EntryKind.SWITCH, "middle", "high"))]
    said = raised(fold(over_and_up, 95, told=over))
    assert "no-cone-left" in said
    assert "still-on" not in said


def test_a_kiln_that_nobody_lit_and_that_heats_is_an_alarm() -> None:
    assert raised(fold(ramp(20, 120), 60, lit=False)) == ["unplanned-heat"]


def test_who_took_the_watch_well_before_has_not_claimed_the_heat() -> None:
    def curve(minute: float) -> tuple[float, ...]:
        return (20 + max(0.0, minute - 20) * 3,) * 3

    assert raised(fold(curve, 80, told=[(0, WatchTaken("Wren"))], lit=False)) == ["unplanned-heat"]


@pytest.mark.parametrize("claim", [WatchTaken("Wren"), InReach("Wren"), note(EntryKind.START, "", "05")])
def test_claimed_it_is_none_for_as_long_as_it_heats(claim: Told) -> None:
    said = fold(ramp(20, 60), 240, plan(Stage("high", LOW, until_cone=True), ware=Ware.GLAZE), [(45, claim)], lit=False)
    assert "unplanned-heat" not in raised(said)


def test_a_warm_day_is_no_unplanned_heat() -> None:
    assert raised(fold(ramp(18, 3, 38), 400, lit=False)) == []


# Cooling


def cooling(drop_after: float | None) -> Curve:
    def curve(minute: float) -> tuple[float, ...]:
        fall = 900 * 0.9985**minute
        if drop_after is not None and minute > drop_after:
            fall = 900 * 0.9985**drop_after * 0.99 ** (minute - drop_after)
        return (fall,) * 3

    return curve


OVER = [(1, note(EntryKind.SHUTOFF, "", "tripped"))]


@pytest.mark.parametrize("minute", [60, 200])
def test_a_lid_opened_hot_is_cooling_too_fast_and_stays_so(minute: float) -> None:
    said = fold(cooling(minute), minute + 60, told=OVER)
    assert [(o.tag, o.action) for o in said if isinstance(o, AlarmOutcome) and o.tag == "cooling-fast"] == [
        ("cooling-fast", Action.RAISE)
    ]


def test_after_a_kiln_was_heated_again_its_first_fall_is_no_lid() -> None:
    """An hour of heat after the end that the model was not told of, and then the air and the hot face fall first."""

    def curve(minute: float) -> tuple[float, ...]:
        peak = 900 * 0.9985**90 + max(0.0, min(minute, 150) - 90) * 2
        after = max(0.0, minute - 150)
        return (900 * 0.9985**minute if minute < 90 else peak * 0.9985**after - 45 * (1 - 0.93**after),) * 3

    assert "cooling-fast" not in raised(fold(curve, 400, told=OVER))


def test_a_shut_kiln_cools_as_it_cools() -> None:
    assert "cooling-fast" not in raised(fold(cooling(None), 600, told=OVER))


def test_a_band_of_the_plan_has_its_own_limit() -> None:
    banded = plan(Stage("high", HIGH, until_cone=True), cooling=Cooling(limits=(CoolingLimit(800, 600, 40),)))
    assert "cooling-fast" in raised(fold(cooling(None), 200, banded, OVER))


def test_where_nobody_writes_turns_down_the_end_of_a_hold_is_no_opened_lid() -> None:
    """The curve's first fall was the turn down to the hold; now low goes off, and the kiln falls faster again."""
    held = plan(Stage("high", HIGH, until_celsius=1100), Stage("hold", LOW, hours=1.0))

    def fast(of: Plan, minute: float, *entries: Entry) -> bool:
        firing = close(open_firing(Written(1, 0, 0, note(EntryKind.START, "", "05")), KILN, of, 20.0), 0, 0)
        for entry in entries:
            firing = write(firing, Written(2, 0, 0, entry))
        now_ms = round(minute * MINUTE)
        tracks = (Track(at_ms=now_ms, celsius=950.0, climb=-300.0),) * 3
        left = (Residual(950.0, 5.0, -80.0, 0.0, -0.4, 0.05),) * 3
        return cooling_fast(
            View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (950.0,) * 3, left=left)
        ).holds

    assert not fast(held, 80.0)
    assert fast(HOLD, 80.0), "a plan that ends with the cone has no such turn"
    assert fast(held, 80.0, note(EntryKind.SWITCH, "top", "off")), "whoever writes turns down has turned off"
    assert fast(held, 200.0), "and no hold lasts for hours more than planned"


# Rings


@pytest.mark.parametrize(("times", "fast"), [(1.0, False), (2.5, True)])
def test_a_shut_kiln_that_falls_through_a_band_just_after_its_end_has_no_lid_to_shut(times: float, fast: bool) -> None:
    """A low cone in a small kiln: it is in the band while it still falls fastest."""
    banded = plan(Stage("high", HIGH, until_cone=True), cooling=Cooling(limits=(CoolingLimit(900, 600, 40),)))
    firing = close(open_firing(Written(1, 0, 0, note(EntryKind.START, "", "05")), KILN, banded, 20.0), 0, 0)
    tracks = (Track(at_ms=40 * MINUTE, celsius=800.0, climb=-180.0 * times),) * 3
    left = (Residual(800.0, 5.0, -180.0, 0.0, (1.0 - times) * 0.4, 0.05),) * 3
    view = View(40 * MINUTE, 40 * MINUTE, firing, tracks, (None,) * 3, (True,) * 3, (800.0,) * 3, left=left)
    assert cooling_fast(view).holds is fast
    assert cooling_fast(replace(view, now_ms=120 * MINUTE)).holds, "hours later the band is the plan's word"


def test_rings_further_apart_than_the_plan_likes() -> None:
    def curve(minute: float) -> tuple[float, ...]:
        return (700 + minute, 700 + minute, 620 + minute)

    even = plan(Stage("high", HIGH, until_cone=True), spread=Spread(40, 600))
    assert "uneven" in raised(fold(curve, 90, even))
    usual = Stage("high", HIGH, until_cone=True, expected_end_celsius=(1040.0, 1040.0, 960.0))
    assert "uneven" not in raised(fold(curve, 90, plan(usual, spread=Spread(40, 600)))), "as in the last good firing"


def test_a_probe_that_answers_to_another_switch_is_swapped() -> None:
    def curve(minute: float) -> tuple[float, ...]:
        return (20 + minute / 20, 20 + minute / 10, 20 + min(minute * 0.7, 120))

    said = fold(curve, 150, NIGHT)
    named = {o.ring for o in said if isinstance(o, AlarmOutcome) and o.tag == "probe-swapped"}
    assert named == {"bottom", "top"}
    assert "probe-swapped" not in raised(fold(lambda m: curve(m)[::-1], 150, NIGHT))


def test_two_swapped_probes_are_told_within_half_an_hour_of_lighting() -> None:
    def curve(minute: float) -> tuple[float, ...]:
        return (20 + minute / 20, 20 + minute / 10, 20 + minute * 1.5)

    assert "probe-swapped" in raised(fold(curve, 30, NIGHT))


def test_a_switch_turned_beside_the_plan_and_written_down_late_is_no_swap() -> None:
    """After two hours the middle is to be turned on. So is the top, cold till then and the fastest now, and that is
    written down half an hour later."""

    def curve(minute: float) -> tuple[float, ...]:
        night, after = min(minute, 120), max(0.0, minute - 120)
        return (20 + night * 0.8 + 0.5 * after, 20 + night * 0.2 + 1.2 * after, 20 + night / 10 + 1.7 * after)

    two = (Switch.LOW, Switch.LOW, Switch.OFF)
    stages = (Stage("candling", BOTTOM_LOW, hours=2), Stage("two", two, hours=3), *HOLD.stages)
    turned = [(120.0, note(EntryKind.SWITCH, "middle", "low")), (150.0, note(EntryKind.SWITCH, "top", "low"))]
    assert "probe-swapped" not in raised(fold(curve, 180, plan(*stages, ware=Ware.GLAZE), turned))


def test_what_two_swapped_probes_taught_is_no_switch_too_high_at_the_next_turn() -> None:
    """While the top probe had the bottom ring's heat the model learned a bottom ring that gets nothing."""

    def curve(minute: float) -> tuple[float, ...]:
        night, after = min(minute, 120), max(0.0, minute - 120)
        lit = 130 * (1 - 0.985**night)
        return (20 + night / 8 + 3.2 * after, 20 + night / 5 + 3.2 * after, 20 + lit + after)

    stages = (Stage("candling", BOTTOM_LOW, hours=2), Stage("low", LOW, hours=2), *HOLD.stages)
    turned = [(120, note(EntryKind.SWITCH, ring, "low")) for ring in RINGS]
    said = raised(fold(curve, 150, plan(*stages, ware=Ware.GLAZE), turned))
    assert "probe-swapped" in said
    assert "runaway" not in said


# People


def climbing_to_the_cone(minute: float) -> tuple[float, ...]:
    return (600 + minute * 1.7,) * 3


@pytest.mark.parametrize(("until", "told"), [(6, False), (60, True)])
def test_a_cold_ring_just_switched_on_is_not_shorted_until_it_should_have_warmed(until: int, told: bool) -> None:
    """Room, amplifier and a far ring are all at 9 degC; its switch is turned on more than an hour after the first."""

    def curve(minute: float) -> tuple[float, ...]:
        return (20 + 1.6 * minute, 12 + 0.6 * minute, 9.0 + minute % 2 / 10 + max(0.0, minute - 80 - until) * 2)

    turned = [(80.0, note(EntryKind.SWITCH, name, "low")) for name in ("middle", "top")]
    night = plan(Stage("candling", BOTTOM_LOW, hours=1.2), Stage("low", LOW, hours=3), Stage("high", HIGH))
    assert ("probe-shorted" in raised(fold(curve, 135, night, turned, cold=9.5))) is told


def test_a_timer_that_ends_before_the_cone_is_told_in_time_to_wind_it() -> None:
    wound = [(5, note(EntryKind.TIMER, "", "60"))]
    said = fold(climbing_to_the_cone, 64, told=wound)
    (short,) = [o for o in said if isinstance(o, AlarmOutcome) and o.tag == "timer-short" and o.action is Action.RAISE]
    assert 40 * MINUTE < short.utc_ms - LIT < 55 * MINUTE


def test_a_timer_wound_again_and_again_is_a_habit() -> None:
    wound = [(minute, note(EntryKind.TIMER, "", "60")) for minute in range(1, 200, 35)]
    assert "timer-short" not in raised(fold(climbing_to_the_cone, 200, told=wound))


def test_nobody_who_answers_on_high_is_an_alarm_and_an_answer_ends_it() -> None:
    taken: list[tuple[float, Told]] = [(0.2, WatchTaken("Wren"))]
    said = fold(climbing_to_the_cone, 60, told=taken)
    assert "in-reach" in prompted(said)
    assert raised(said) == ["nobody-near"]
    answered = fold(climbing_to_the_cone, 60, told=[*taken, (25, InReach("Wren"))])
    assert "in-reach" in prompted(answered)
    assert raised(answered) == []


def test_nobody_is_asked_who_never_took_the_watch() -> None:
    assert prompted(fold(climbing_to_the_cone, 60)) == []


# The house


@pytest.mark.parametrize("tag", ["watch-disk", "watch-store", "watch-alerts", "watch-late"])
@pytest.mark.parametrize("lit", [True, False])
def test_what_ails_the_watch_is_an_alarm_lit_or_not_until_it_is_over(tag: str, lit: bool) -> None:
    said = fold(ramp(20, 1), 40, told=[(10, WatchFault(tag, True)), (20, WatchFault(tag, False))], lit=lit)
    found = [(o.action, round((o.utc_ms - LIT) / MINUTE)) for o in said if isinstance(o, AlarmOutcome) and o.tag == tag]
    assert [action for action, _ in found] == [Action.RAISE, Action.CLEAR]
    assert 10 <= found[0][1] <= 12


def test_a_clock_that_steps_is_told_and_one_that_is_set_at_last_is_not() -> None:
    stepped = [(10, Clock(LIT + 70 * MINUTE, synchronised=True))]
    assert raised(fold(ramp(20, 1), 30, told=stepped)) == ["watch-clock"]
    fine = [(10, Clock(LIT + 10 * MINUTE + 40, synchronised=True))]
    assert raised(fold(ramp(20, 1), 30, told=fine)) == []


@pytest.mark.parametrize(("lit", "found"), [(True, ["watch-gap"]), (False, [])])
def test_a_stretch_without_readings_is_told_low_while_a_firing_is_on(lit: bool, found: list[str]) -> None:
    state, said = watch.begin(), []
    curve = ramp(300, 250) if lit else ramp(20, 0)
    rows = [(at, what) for at, what in _rows(curve, 60, HOLD, (), lit, 30, None) if not 20 < at < 40]
    for sequence, (at, what) in enumerate(rows, 1):
        state, outcomes = watch.step(state, Row("Puffin", sequence, "boot", round(at * MINUTE), what))
        said += outcomes
    assert raised(said) == found


@pytest.mark.parametrize("every", [5, 30])
def test_a_wire_that_makes_and_breaks_is_open_though_no_break_lasts(every: int) -> None:
    """Open for a quarter of a minute in each two and a half; it is told once, and over when it is over."""

    def said(breaks: int) -> list[AlarmOutcome]:
        state, found = watch.begin(), []
        rows = _rows(ramp(300, 120), 60, HOLD, (), True, every, None)
        for sequence, (at, what) in enumerate(rows, 1):
            if isinstance(what, Reading) and at * 60 % 150 < 15 and 10 < at < 10 + 2.5 * breaks:
                what = Reading((ProbeReading(None, Fault.OPEN, None), *what.probes[1:]))
            state, outcomes = watch.step(state, Row("Puffin", sequence, "boot", round(at * MINUTE), what))
            found += [o for o in outcomes if isinstance(o, AlarmOutcome)]
        return [o for o in found if o.tag.startswith("probe")]

    assert [(o.tag, o.ring, o.action) for o in said(10)] == [
        ("probe-open", "bottom", Action.RAISE),
        ("probe-open", "bottom", Action.CLEAR),
    ]
    assert said(2) == []


def test_a_hot_amplifier_box() -> None:
    assert raised(fold(ramp(20, 1), 30, cold=71.0, lit=False)) == ["box-hot"]
    assert raised(fold(ramp(20, 1), 30, cold=41.0, lit=False)) == []
