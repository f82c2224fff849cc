"""Plans before they are lit: the shelf they stand on, what they should do, and what speaks against them."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spyhole.core import watch
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.forms.plan_toml import plan_from_table, plan_table
from spyhole.core.journal import Clock, PlanEdit, PlanKept, Row, Settings, Told
from spyhole.core.kiln import Switch
from spyhole.core.leaning import Said
from spyhole.core.plan import Plan, Plugs, Stage
from spyhole.core.plans import copy_name, key_of, shelve
from spyhole.core.plans_course import expect, light_by, timer_minutes
from spyhole.core.plans_doubts import doubts, refuse_impossible
from spyhole.core.preparation import Preparation
from spyhole.core.refusal import Refusal
from spyhole.core.state import State
from spyhole_hardware.emulated.puffin import BISQUE_04, BISQUE_05, GLAZE_05, KILN, LAST_BISQUE_05, TONIGHT

HIGH = (Switch.HIGH,) * 3
LOW = (Switch.LOW,) * 3


def with_stages(*stages: Stage) -> Plan:
    return replace(BISQUE_05, stages=stages)


def fold(*told: Told) -> State:
    state = watch.begin()
    for number, one in enumerate(told, 1):
        state, _ = watch.step(state, Row("Puffin", number, "boot", number * 1000, one))
    return state


# The shelf


@given(st.lists(st.text(max_size=60), max_size=8))
def test_every_plan_has_a_key_of_its_own(names: list[str]) -> None:
    keys: list[str] = []
    for name in names:
        keys.append(key_of(name, keys))
    assert len(set(keys)) == len(keys)
    assert all(key and key.strip("-") == key and key.isascii() for key in keys)


def test_a_copy_is_called_otherwise() -> None:
    assert copy_name("Glaze", ["Glaze"]) == "Glaze, copy"
    assert copy_name("Glaze", ["Glaze", "Glaze, copy", "Glaze, copy 2"]) == "Glaze, copy 3"


def test_a_plan_written_anew_stays_in_its_place() -> None:
    shelf = shelve(shelve((), "bisque", BISQUE_05, 3), "glaze", GLAZE_05, 4)
    shelf = shelve(shelf, "bisque", BISQUE_04, 9)
    assert [(one.key, one.version) for one in shelf] == [("bisque", 9), ("glaze", 4)]
    assert [one.key for one in shelve(shelf, "bisque", None, 10)] == ["glaze"]


def test_the_plan_of_the_settings_is_on_the_shelf_and_a_restart_leaves_what_was_kept() -> None:
    settled = Settings(KILN, BISQUE_05)
    key = key_of(BISQUE_05.name)
    changed = replace(BISQUE_05, timer_margin_minutes=45)
    state = fold(Clock(0, True), settled, PlanKept(key, changed, "Mina"), PlanKept("glaze", GLAZE_05), settled)
    assert [(one.key, one.plan, one.version) for one in state.shelf] == [(key, changed, 3), ("glaze", GLAZE_05, 4)]
    another = fold(Clock(0, True), settled, PlanKept(key, changed), Settings(KILN, replace(BISQUE_05, cone="06")))
    assert another.shelf[0].plan.cone == "06"  # somebody changed the file since


def test_a_firing_carries_how_the_kiln_was_made_ready_and_the_next_does_not() -> None:
    seen = Preparation(damp=True, seated=True, rod_centred=True, gap_millimetres=4.8, who="Mina")
    lit = Entry(EntryKind.START, "", "05")
    once = fold(Clock(0, True), Settings(KILN, BISQUE_05), seen, lit)
    assert once.firing is not None
    assert once.firing.prepared == seen
    again = fold(Clock(0, True), Settings(KILN, BISQUE_05), seen, lit, lit)
    assert again.firing is not None
    assert again.firing.prepared is None


def test_the_plan_of_the_next_firing_is_not_the_one_that_cools() -> None:
    lit = (Clock(0, True), Settings(KILN, BISQUE_05), Entry(EntryKind.START, "", "05"))
    heats = fold(*lit, PlanEdit(BISQUE_04, "Mina"))
    assert heats.firing is not None
    assert heats.firing.plan == BISQUE_04
    cools = fold(*lit, Entry(EntryKind.SHUTOFF, "", "tripped"), PlanEdit(BISQUE_04, "Mina"))
    assert cools.firing is not None
    assert (cools.firing.plan, cools.plan) == (BISQUE_05, BISQUE_04)


def test_what_was_said_of_one_plan_holds_back_nothing_of_another() -> None:
    state = fold(Clock(0, True), Settings(KILN, BISQUE_05), Entry(EntryKind.START, "", "05"))
    assert state.firing is not None
    said = Said(1e7, 1.0, 0)
    state = replace(state, firing=replace(state.firing, down_said=said, off_said=said))
    state, _ = watch.step(state, Row("Puffin", 4, "boot", 4000, PlanEdit(BISQUE_04, "Mina")))
    assert state.firing is not None
    assert (state.firing.down_said, state.firing.off_said) == (None, None)


@pytest.mark.parametrize("plan", [BISQUE_04, BISQUE_05, GLAZE_05, TONIGHT.plan])
def test_a_plan_as_a_table_is_the_same_plan(plan: Plan) -> None:
    assert plan_from_table(plan_table(plan, KILN), KILN) == plan


def test_a_refusal_of_a_table_names_the_field_alone() -> None:
    table = plan_table(BISQUE_05, KILN)
    with pytest.raises(Refusal) as refused:
        plan_from_table({**table, "cone": "5"}, KILN)
    assert refused.value.where == "cone"
    assert "was 05 meant?" in str(refused.value)


# What a plan should do


def test_the_course_goes_through_the_last_good_firing_it_was_told_of() -> None:
    """Against the emulated kiln's own last firing: hours within a quarter, stage ends within 25 degC."""
    expected = expect(KILN, TONIGHT.plan, TONIGHT.plan)
    took = sum(hours for hours, _ in LAST_BISQUE_05)
    assert expected.known
    assert expected.likely.off_hours == pytest.approx(took, abs=0.75)
    for number, (_, ends) in enumerate(LAST_BISQUE_05[:3], 1):
        at = expected.likely.hours.index(expected.likely.stages[number])
        for ring, end in enumerate(ends):
            assert expected.likely.rings[ring][at] == pytest.approx(end, abs=25.0)


@settings(max_examples=20, deadline=None)
@given(st.sampled_from([BISQUE_04, BISQUE_05, GLAZE_05]), st.floats(0.5, 12), st.floats(-5, 30))
def test_a_better_kiln_is_done_sooner_and_the_clock_never_stands(plan: Plan, candling: float, room: float) -> None:
    plan = replace(plan, stages=(replace(plan.stages[0], hours=candling), *plan.stages[1:]))
    expected = expect(KILN, plan, room_celsius=room)
    quick, likely, slow = (c.off_hours for c in (expected.quick, expected.likely, expected.slow))
    assert quick is not None
    assert likely is not None
    assert slow is not None
    assert quick < likely < slow
    for one in (expected.quick, expected.likely, expected.slow):
        assert all(a < b for a, b in zip(one.hours, one.hours[1:], strict=False))
        assert all(len(ring) == len(one.hours) for ring in one.rings)


def test_a_kiln_nobody_has_fired_is_less_sure() -> None:
    new, known = expect(KILN, BISQUE_05), expect(KILN, BISQUE_05, TONIGHT.plan)

    def width(e: object) -> float:
        return e.slow.off_hours - e.quick.off_hours  # type: ignore[attr-defined, no-any-return]

    assert not new.known
    assert width(new) > 2 * width(known)


def test_light_so_that_nobody_has_to_be_there_before_they_said() -> None:
    expected = expect(KILN, BISQUE_05, TONIGHT.plan)
    there = 1_793_354_400_000
    lighting = light_by(expected, there)
    assert lighting is not None
    assert expected.quick.off_hours is not None
    assert expected.slow.off_hours is not None
    assert lighting.down_low_utc_ms == there
    assert lighting.light_utc_ms + expected.quick.off_hours * 3_600_000 == pytest.approx(there, abs=1)
    assert lighting.down_high_utc_ms - there == pytest.approx(
        (expected.slow.off_hours - expected.quick.off_hours) * 3_600_000, abs=2
    )


def test_the_timer_runs_to_the_late_end_and_the_margin() -> None:
    expected = expect(KILN, BISQUE_05, TONIGHT.plan)
    advised = timer_minutes(expected, BISQUE_05)
    assert advised is not None
    assert expected.slow.off_hours is not None
    assert abs(advised - (expected.slow.off_hours * 60 + BISQUE_05.timer_margin_minutes)) <= 5


# What speaks against it


def said(plan: Plan, damp: bool) -> dict[str, str]:
    return {one.field: one.words for one in doubts(KILN, plan, expect(KILN, plan, TONIGHT.plan), damp)}


@pytest.mark.parametrize("plan", [BISQUE_04, BISQUE_05, TONIGHT.plan])
def test_nothing_speaks_against_the_common_overnight_plan(plan: Plan) -> None:
    refuse_impossible(KILN, plan, expect(KILN, plan, TONIGHT.plan))
    assert said(plan, damp=True) == {}


def test_damp_ware_on_high_at_once_is_a_doubt_and_dry_ware_is_not() -> None:
    hurried = with_stages(Stage("high", HIGH, until_cone=True, plugs=Plugs.IN))
    found = said(hurried, damp=True)
    assert "damp ware bears about 50" in found["stage 1, switches"]
    assert "plugs are in" in found["stage 1, plugs"]
    assert said(hurried, damp=False) == {}


def test_a_cone_this_kiln_cannot_reach_on_this_plan_is_refused() -> None:
    plan = with_stages(Stage("low", LOW, until_cone=True))
    with pytest.raises(Refusal) as refused:
        refuse_impossible(KILN, plan, expect(KILN, plan, TONIGHT.plan))
    assert refused.value.where == "stage 1, switches"
    assert "would not reach cone 05" in str(refused.value)


def test_stages_out_of_order_are_refused() -> None:
    plan = with_stages(
        Stage("medium", (Switch.MEDIUM,) * 3, until_celsius=600),
        Stage("low", LOW, until_celsius=200),
        Stage("high", HIGH, until_cone=True),
    )
    with pytest.raises(Refusal) as refused:
        refuse_impossible(KILN, plan, expect(KILN, plan, TONIGHT.plan))
    assert refused.value.where == "stage 2, until_celsius"
    assert "order of the firing" in str(refused.value)


def test_a_firing_of_weeks_is_refused_and_not_run_to_its_end() -> None:
    plan = with_stages(*[Stage("low", LOW, hours=100.0)] * 50)
    expected = expect(KILN, plan)
    assert len(expected.likely.hours) < 2000
    with pytest.raises(Refusal, match="all stages together take 5000 hours"):
        refuse_impossible(KILN, plan, expected)


def test_a_ceiling_below_its_own_stage_is_a_doubt() -> None:
    plan = with_stages(*BISQUE_05.stages[:-1], replace(BISQUE_05.stages[-1], ceiling_celsius=900.0))
    assert "above its own ceiling" in said(plan, damp=False)["stage 4, ceiling_celsius"]


def test_a_cooler_cone_in_the_shut_off_is_a_doubt_and_so_is_a_plan_that_waits_for_no_cone() -> None:
    assert "drops before cone 05" in said(replace(BISQUE_05, shutoff_cone="08"), damp=False)["shutoff_cone"]
    by_clock = with_stages(Stage("low", LOW, hours=2))
    assert "No stage waits for the cone" in said(by_clock, damp=False)["stage 1"]
