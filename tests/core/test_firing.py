"""What plan and entries make of a firing: evidence, not truth."""

from dataclasses import replace

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Written, advance, conclude, open_firing, strike, turn_due_ms, unturned, write
from spyhole.core.kiln import Switch
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

HOUR = 3_600_000
PLAN = TONIGHT.plan


def written(sequence: int, hours: float, kind: EntryKind, subject: str, value: str) -> Written:
    return Written(sequence, round(hours * HOUR), round(hours * HOUR), Entry(kind, subject, value, "Wren"))


def lit() -> Firing:
    return open_firing(written(1, 0, EntryKind.START, "", "05"), KILN, PLAN, 16.0)


def turn(firing: Firing, first: int, hours: float, setting: str) -> Firing:
    for i, ring in enumerate(("bottom", "middle", "top")):
        firing = write(firing, written(first + i, hours, EntryKind.SWITCH, ring, setting))
    return firing


def test_it_begins_on_the_first_stage_with_switches_as_planned_and_unsure() -> None:
    firing = lit()
    assert firing.now_stage.name == "candling"
    assert firing.switches == (Switch.LOW, Switch.OFF, Switch.OFF)
    assert not any(firing.sure)
    assert firing.candling


def test_a_cone_named_at_the_start_counts_over_the_plans() -> None:
    firing = open_firing(written(1, 0, EntryKind.START, "", "06"), KILN, PLAN, 16.0)
    assert firing.plan.cone == "06"


def test_turning_the_rings_moves_to_the_stage_with_those_switches() -> None:
    firing = turn(lit(), 2, 8.7, "low")
    assert (firing.now_stage.name, firing.stage_ms) == ("low", round(8.7 * HOUR))
    assert all(firing.sure)
    firing = turn(firing, 5, 10.3, "medium")
    assert firing.now_stage.name == "medium"


def test_a_ring_written_down_too_high_holds_no_stage_back() -> None:
    firing = lit()
    rings = [ring.name for ring in KILN.rings]
    for sequence, (ring, setting) in enumerate(zip(rings, ("low", "low", "medium"), strict=True), 2):
        assert firing.now_stage.name == "candling"
        firing = write(firing, written(sequence, 8.7, EntryKind.SWITCH, ring, setting))
    assert firing.now_stage.name == "low"


def test_a_stage_that_was_never_logged_is_skipped_when_the_next_one_is() -> None:
    assert turn(lit(), 2, 13.0, "high").now_stage.name == "high"


def test_without_entries_the_plans_clock_turns_the_stage() -> None:
    firing = lit()
    assert advance(firing, round(8.9 * HOUR), 90.0, False).stage == 0
    firing = advance(firing, 9 * HOUR, 90.0, False)
    assert firing.now_stage.name == "low"
    assert firing.switches == (Switch.LOW,) * 3
    assert not any(firing.sure)


def test_with_entries_only_a_step_in_the_climb_turns_the_stage_unlogged() -> None:
    firing = turn(lit(), 2, 9.0, "low")
    late = round(11.5 * HOUR)
    assert advance(firing, late, 240.0, False).now_stage.name == "low"
    assert advance(firing, late, 240.0, True).now_stage.name == "medium"
    assert advance(firing, round(9.5 * HOUR), 240.0, True).now_stage.name == "low"


def test_a_turn_is_due_by_the_clock_except_on_the_last_stage() -> None:
    assert turn_due_ms(lit()) == 9 * HOUR
    assert turn_due_ms(turn(lit(), 2, 13.0, "high")) is None


def test_every_switch_off_ends_it_and_undoing_one_takes_that_back() -> None:
    firing = turn(turn(lit(), 2, 13.0, "high"), 5, 15.0, "off")
    assert firing.off
    assert firing.off_ms == 15 * HOUR
    back = strike(firing, 7)
    assert not back.off
    assert back.switches == (Switch.OFF, Switch.OFF, Switch.HIGH)
    assert [w.sequence for w in back.written] == [w.sequence for w in firing.written]


def test_a_timer_ends_so_many_minutes_after_it_was_wound() -> None:
    firing = write(lit(), written(2, 9.0, EntryKind.TIMER, "", "240"))
    assert firing.timer_ends_ms == 13 * HOUR
    assert strike(firing, 2).timer_ends_ms is None


def test_a_trip_that_was_seen_ends_it() -> None:
    firing = write(turn(lit(), 2, 13.0, "high"), written(5, 16.0, EntryKind.SHUTOFF, "", "tripped"))
    assert firing.off
    assert firing.tripped


HOT = replace(
    PLAN,
    stages=(
        replace(PLAN.stages[0], hours=None, until_celsius=120.0, soak_minutes=45.0),
        *PLAN.stages[1:],
    ),
)


def held() -> Firing:
    """Lit on a plan whose first stage ends at 120 degC, held for three quarters of an hour; there after two hours."""
    firing = open_firing(written(1, 0, EntryKind.START, "", "05"), KILN, HOT, 16.0)
    assert turn_due_ms(firing) is None
    return advance(advance(firing, 1 * HOUR, 119.0, False), 2 * HOUR, 120.5, False)


def test_a_stage_that_is_held_is_due_once_it_has_been_held() -> None:
    firing = held()
    assert firing.stage == 0
    assert turn_due_ms(firing) == round(2.75 * HOUR)
    cooler = advance(firing, round(2.5 * HOUR), 118.0, False)
    assert turn_due_ms(cooler) == round(2.75 * HOUR), "a plug pulled for a look does not begin the hold anew"


def test_without_entries_a_held_stage_ends_after_its_hold_and_not_before() -> None:
    assert advance(held(), round(2.7 * HOUR), 140.0, False).stage == 0
    assert advance(held(), round(2.8 * HOUR), 140.0, False).stage == 1


def test_the_next_stage_is_not_held_for_what_the_one_before_reached() -> None:
    firing = advance(held(), round(2.8 * HOUR), 140.0, False)
    assert turn_due_ms(firing) == round((2.8 + (HOT.stages[1].hours or 0.0)) * HOUR)


def turned_by_curve(hours: float, *, logged: bool = True) -> Firing:
    """Low from nine hours on; the curve shows medium from then on. logged: somebody wrote low down."""
    low = turn(lit(), 2, 9.0, "low") if logged else replace(lit(), stage=1, stage_ms=9 * HOUR)
    return conclude(low, PLAN.stages[2].switches, round(hours * HOUR), 2, seen=True)


def test_a_turn_that_the_curve_shows_long_before_its_time_may_be_a_switch_too_high() -> None:
    """It is believed, as the curve shows it; but what the stage before allows is still what a ring should not pass."""
    due = 9.0 + (PLAN.stages[1].hours or 0.0)
    early = turned_by_curve(due - 0.8)
    assert early.stage == 2
    assert unturned(early).stage == 1
    assert unturned(early).stage_ms == 9 * HOUR
    assert unturned(early).switches == PLAN.stages[1].switches
    assert unturned(turned_by_curve(due - 0.3)).stage == 2
    assert unturned(turned_by_curve(due - 0.8, logged=False)).stage == 2, "nobody writes turns down"
    confirmed = turn(early, 5, due - 0.7, "medium")
    assert unturned(confirmed).stage == 2
