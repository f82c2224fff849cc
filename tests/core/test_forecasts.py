"""Forecasts: how a move is explained, what earlier firings say of them, and a model that has not settled."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from math import exp

import pytest

from spyhole.core.cooldown import cools
from spyhole.core.entering import lessons
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import UNTAUGHT, Firing, Stopped, Written, write
from spyhole.core.foresight import cones_fall, lateness_hours
from spyhole.core.kiln import Switch
from spyhole.core.last_minutes import what_is_left
from spyhole.core.learned import DOUBTED_SLIPS, LEADS, Belief, Learned, Slip, late_minutes
from spyhole.core.learning import NEVER, Odd, after_firing, foretelling, odd, overruled
from spyhole.core.outcome import Forecast
from spyhole.core.plan import Stage
from spyhole.core.state import view_of
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.cooling_law import hours_left
from spyhole.core.thermal.fall import Fall
from spyhole.core.thermal.model import whole_minute_ms
from spyhole.core.thermal.physics import NAMES
from spyhole.core.view import View

MINUTE = 60_000
HOUR = 60 * MINUTE


def slip(*late: float | None) -> Slip:
    return Slip(late, late)


def test_nothing_is_added_before_a_firing_taught_it() -> None:
    assert late_minutes((), 2.0) == 0.0


def test_what_comes_late_each_time_is_expected_late_pulled_towards_none() -> None:
    slips = (slip(30.0, 20.0, 10.0),) * 2
    assert late_minutes(slips, LEADS[1]) == pytest.approx(20.0 * 2 / (2 + DOUBTED_SLIPS))
    assert 0.0 < late_minutes(slips[:1], LEADS[1]) < late_minutes(slips, LEADS[1]) < late_minutes(slips * 4, 2.0) < 20.0
    assert late_minutes(slips, 2.5) == pytest.approx((late_minutes(slips, 2.0) + late_minutes(slips, 3.0)) / 2)
    assert late_minutes(slips, 9.0) == late_minutes(slips, 3.0)
    assert late_minutes(slips, 0.0) == 0.0


def test_a_lead_that_was_jumped_past_says_nothing() -> None:
    assert late_minutes((slip(None, 12.0, None),), 2.0) == pytest.approx(12.0 / (1 + DOUBTED_SLIPS))
    assert late_minutes((slip(None, 12.0, None),), 3.0) == 0.0


def test_how_a_kiln_slipped_that_nothing_was_known_of_says_nothing_of_a_known_one() -> None:
    untaught = replace(slip(40.0, 40.0, 40.0), taught=False)
    known = slip(-10.0, -10.0, -10.0)
    assert late_minutes((untaught,), 2.0) == 0.0
    assert late_minutes((untaught, known), 2.0) == late_minutes((known,), 2.0) < 0.0


@pytest.fixture(scope="module")
def over(fired: Callable[..., object]) -> View:
    """A healthy firing of Puffin that is over."""
    view = view_of(fired("none").state)  # type: ignore[attr-defined]
    assert view is not None
    assert view.firing.ended
    return view


def of(view: View, firing: Firing) -> View:
    return replace(view, firing=firing)


def wrote(firing: Firing, value: str) -> Firing:
    return write(firing, Written(10**9, 0, 0, Entry(EntryKind.LESSON, "", value, "Mina")))


def test_who_turned_late_will_turn_late_again_but_who_waited_for_wet_ware_will_not(over: View) -> None:
    firing = over.firing
    planned = firing.plan.stages[0].hours
    assert planned is not None

    def begun(hours_late: float) -> Firing:
        return replace(firing, stage=1, stage_ms=firing.started_ms + round((planned + hours_late) * HOUR))

    assert lateness_hours(begun(0.6)) > lateness_hours(begun(0.1)) > lateness_hours(begun(-0.4))
    assert lateness_hours(begun(5.0)) == lateness_hours(begun(-3.0)) == lateness_hours(replace(firing, stage=0))


def test_a_good_firing_teaches_how_the_kiln_takes_heat_and_by_how_much_the_cone_was_missed(over: View) -> None:
    learned = after_firing(over, Learned())
    names = [name for name, _ in learned.model]
    assert names[:3] == ["full", "wall", "leak"]
    assert [name for name, _ in learned.cooling] == names
    assert len(learned.slips) == 1
    assert any(missed is not None for missed in learned.slips[0].missed)


def test_what_is_learned_waits_for_the_next_firing(fired: Callable[..., object]) -> None:
    state = fired("none").state  # type: ignore[attr-defined]
    assert not state.learned.model
    assert state.firing is not None
    assert not state.firing.learned.model
    assert lessons(state).model


def test_the_same_forecast_a_second_time_has_no_slip_of_its_own(over: View) -> None:
    """late is what the model by itself missed, so that what was added before is not learned twice."""
    first = replace(after_firing(over, Learned()).slips[0], taught=True)
    again = of(over, replace(over.firing, learned=Learned(slips=(first,) * 4)))
    second = after_firing(again, Learned()).slips[0]
    for lead, missed, late in zip(LEADS, second.missed, second.late, strict=True):
        if missed is not None and late is not None:
            assert late - missed == pytest.approx(late_minutes((first,) * 4, lead), abs=0.11)


def test_odd_firings_teach_nothing_and_say_why(over: View) -> None:
    good = over.firing
    known = tuple((name, Belief(b.value + 3.0, 0.05)) for name, b in good.heated)
    for firing, why in (
        (replace(good, cone_down_ms=None), Odd.NOT_DONE),
        (replace(good, stopped=Stopped.SHORT), Odd.NOT_DONE),
        (replace(good, lost_ms=1), Odd.HEAT_LOST),
        (replace(good, astray=True), Odd.ASTRAY),
        (replace(good, model=None), Odd.UNSEEN),
        (replace(good, learned=Learned(model=known)), Odd.UNLIKE),
    ):
        assert odd(of(over, firing)) is why
        assert after_firing(of(over, firing), Learned()) == Learned()
    assert odd(over) is None


def test_a_keeper_may_overrule_either_way_and_take_it_back(over: View) -> None:
    power_cut = replace(over.firing, lost_ms=1)
    assert after_firing(of(over, wrote(power_cut, "keep")), Learned()).model
    left = wrote(over.firing, "leave")
    assert after_firing(of(over, left), Learned()) == Learned()
    undone = replace(left, written=tuple(replace(w, undone=True) for w in left.written))
    assert overruled(undone) is None
    assert after_firing(of(over, undone), Learned()).model


def test_a_forecast_is_kept_once_for_each_lead(over: View) -> None:
    firing = replace(over.firing, foretold=())

    def said(left_minutes: float) -> Forecast:
        return Forecast(0, round(left_minutes * MINUTE), 0)

    firing = foretelling(firing, said(200.0), 0, 0)
    assert firing.foretold == ()
    firing = foretelling(firing, said(178.0), 0, 0)
    assert firing.foretold == (178 * MINUTE,)
    firing = foretelling(firing, said(90.0), HOUR, 0)
    assert firing.foretold == (178 * MINUTE, NEVER), "it jumped past two hours"
    firing = foretelling(firing, None, HOUR, 0)
    firing = foretelling(firing, said(59.0), 2 * HOUR, 0)
    assert firing.foretold == (178 * MINUTE, NEVER, 179 * MINUTE)
    assert foretelling(firing, said(1.0), 3 * HOUR, 0) is firing


def test_a_model_that_foretells_frost_still_foretells(over: View) -> None:
    """A belief gone astray may cool below zero, where there is no logarithm: a forecast, or none, and no fault."""
    model = over.firing.model
    assert model is not None
    cold = tuple(60.0 if i % 4 == 0 else -150.0 for i in range(len(model.celsius)))
    logs = list(model.settled.mean[len(cold) :])
    logs[:4] = [8.0, 0.7, -2.0, 1.6]
    settled = replace(model.settled, mean=(*cold, *logs))
    still = replace(model.told[-1][1], shares=(0.0,) * len(over.firing.kiln.rings), room_celsius=-30.0)
    assert max(moved(settled.heat, list(cold), still, 0.1)[::4]) < 0.0
    astray = replace(model, at_ms=over.now_ms, celsius=cold, settled=settled, told=((model.told[-1][0], still),))
    view = replace(over, fit=(False,) * len(over.fit))
    firing = replace(view.firing, model=astray, room_celsius=-30.0, off=True)
    found = dict(cools(of(view, firing), (200, 100, 50)))
    assert found[200] is found[100] is None, "it is cooler than that"
    forecast = found[50]
    assert forecast is not None
    assert view.utc_ms <= forecast.low <= forecast.median <= forecast.high < view.utc_ms + HOUR


def test_a_kiln_that_was_seen_to_cool_before_is_foretold_more_narrowly(over: View) -> None:
    model = over.firing.model
    assert model is not None
    hot = replace(model, celsius=tuple(700.0 for _ in model.celsius), at_ms=over.now_ms)
    cooling = after_firing(over, Learned()).cooling

    def width(learned: Learned) -> int:
        firing = replace(over.firing, model=hot, learned=learned)
        found = dict(cools(replace(over, fit=(False,) * len(over.fit), firing=firing), (100,)))[100]
        assert found is not None
        return found.high - found.low

    assert 0 < width(Learned(cooling=cooling)) < width(Learned())


def curve(over: View, rate: float, hours: float = 2.0) -> Fall:
    """A kiln that has fallen from 1040 degC by this rate [1/h], the later the slower."""
    room, points = over.firing.room_celsius, round(hours * 12) + 1
    told = tuple(room + (1040.0 - room) * exp(-rate * (i / 12) ** 0.85) for i in range(points))
    return Fall(whole_minute_ms(over.now_ms) - round(hours * HOUR), 1040.0, over.fit, told)


def foretold(over: View, fall: Fall | None, learned: Learned = UNTAUGHT, crack_celsius: float = 150.0) -> Forecast:
    model = over.firing.model
    assert model is not None
    hot = replace(model, celsius=tuple(over.firing.room_celsius + 750.0 for _ in model.celsius), at_ms=over.now_ms)
    plan = replace(over.firing.plan, cooling=replace(over.firing.plan.cooling, crack_below_celsius=crack_celsius))
    off_ms = over.now_ms - 2 * HOUR
    firing = replace(over.firing, model=hot, learned=learned, fall=fall, off_ms=off_ms, plan=plan)
    found = dict(cools(replace(over, fit=(False,) * len(over.fit), firing=firing), (100,)))[100]
    assert found is not None
    return found


def test_the_curve_itself_is_heard_beside_the_model_most_in_a_kiln_never_seen_to_cool(over: View) -> None:
    room, known = over.firing.room_celsius, Learned(cooling=after_firing(over, Learned()).cooling)
    alone = foretold(over, None)
    for rate in (0.28, 0.34):
        fall = curve(over, rate)
        said = [left + bend.hours for bend in fall.bends(room) if (left := hours_left(bend)) is not None]
        by_law = over.utc_ms + (sum(said) / len(said) - 2.0) * HOUR
        both = foretold(over, fall)
        assert min(alone.median, by_law) < both.median < max(alone.median, by_law)
        moved_new = abs(both.median - alone.median)
        moved_known = abs(foretold(over, fall, known).median - foretold(over, None, known).median)
        assert 0 < moved_known < 0.8 * moved_new


def test_two_that_know_it_together_are_surer_than_one(over: View) -> None:
    alone, both = foretold(over, None), foretold(over, curve(over, 0.31))

    def width(found: Forecast) -> float:
        return (found.high - found.low) / (found.median - over.utc_ms)

    assert width(both) < 0.9 * width(alone)


def test_a_model_that_is_far_from_the_curve_is_hardly_heard(over: View) -> None:
    room, alone = over.firing.room_celsius, foretold(over, None)
    fall = curve(over, 0.2)
    said = [left + bend.hours for bend in fall.bends(room) if (left := hours_left(bend)) is not None]
    by_law = sum(said) / len(said) - 2.0
    assert by_law > 1.6 * (alone.median - over.utc_ms) / HOUR
    assert (foretold(over, fall).median - over.utc_ms) / HOUR == pytest.approx(by_law, rel=0.05)


def test_a_lid_that_the_plan_opens_early_is_reckoned_with_all_the_same(over: View) -> None:
    fall = curve(over, 0.31)
    sooner, shut = foretold(over, fall, crack_celsius=400.0), foretold(over, fall)
    assert sooner.median < shut.median
    by_model = (foretold(over, None, crack_celsius=400.0).median - over.utc_ms) / (
        foretold(over, None).median - over.utc_ms
    )
    assert (sooner.median - over.utc_ms) / (shut.median - over.utc_ms) == pytest.approx(by_model, rel=0.03)


def test_what_a_kiln_loses_hotter_than_it_has_been_is_open_most_where_it_hardly_gets_there(over: View) -> None:
    model, plan = over.firing.model, over.firing.plan
    assert model is not None
    rings = len(over.firing.kiln.rings)
    on = replace(model.told[-1][1], shares=(1.0,) * rings, vents=(0.0,) * rings)
    hot = tuple(700.0 - 150.0 * (i % 4) for i in range(len(model.celsius)))
    known = Learned(model=after_firing(over, Learned()).model)

    def width(peak: float, learned: Learned, gain: float = 1.0) -> int:
        slopes = (-0.1, gain, 0.1, 0.1, 0.1, 0.1, 0.1)
        heating = replace(
            model, celsius=hot, at_ms=over.now_ms, told=((model.told[-1][0], on),), sensitivity=slopes, lately=()
        )
        firing = replace(
            over.firing, model=heating, stage=len(plan.stages) - 1, stage_ms=over.now_ms, off=False, learned=learned,
            peaks=(peak,) * len(over.firing.peaks),
        )  # fmt: skip
        view = replace(over, fit=(False,) * len(over.fit), firing=firing)
        (down,) = cones_fall(view, ((view.pack.firing, 0.0, 3.0),))
        assert down is not None
        return down.high - down.low

    end = over.pack.firing.end_60_celsius
    assert width(700.0, Learned()) > width(700.0, known), "a firing before has been there"
    assert width(700.0, Learned()) > 1.05 * width(end - 20.0, Learned()), "little is ahead that it has not shown"
    assert width(700.0, Learned(), gain=3.0) > 1.3 * width(700.0, Learned()), "a weak kiln"


def test_a_plan_that_takes_heat_away_near_where_the_cone_falls_means_to_have_it_down(over: View) -> None:
    model, plan, kiln = over.firing.model, over.firing.plan, over.firing.kiln
    assert model is not None
    rings = len(kiln.rings)
    on = replace(model.told[-1][1], shares=(1.0,) * rings, vents=(0.0,) * rings)
    hot = tuple(900.0 - 150.0 * (i % 4) for i in range(len(model.celsius)))
    heating = replace(model, celsius=hot, at_ms=over.now_ms, told=((model.told[-1][0], on),), lately=())
    up, hold = replace(plan.stages[-1], expected_hours=None), Stage("hold", (Switch.MEDIUM,) * rings, hours=1.0)

    def down(doubt_celsius: float, *last: Stage) -> Forecast | None:
        stages = (*plan.stages[:-1], *last)
        firing = replace(
            over.firing, model=heating, stage=len(plan.stages) - 1, stage_ms=over.now_ms, off=False,
            plan=replace(plan, stages=stages), switches=(Switch.HIGH,) * rings,
        )  # fmt: skip
        view = replace(over, fit=(False,) * len(over.fit), firing=firing)
        return cones_fall(view, ((view.pack.firing, 0.0, doubt_celsius),))[0]

    plain = down(3.0, up)
    assert plain is not None
    end = round(over.pack.firing.end_60_celsius)

    def says(doubt_celsius: float) -> list[bool]:
        """Whether the cone is foretold as without the turn down, for turns ever hotter."""
        ends = [replace(up, until_cone=False, until_celsius=float(end + c)) for c in range(-40, 40, 4)]
        found = [down(doubt_celsius, one, hold) for one in ends]
        return [f is not None and abs(f.median - plain.median) < 10 * MINUTE for f in found]

    surely, unsure = says(0.05), says(10.0)
    assert surely == sorted(surely)
    assert unsure == sorted(unsure), "the hotter it may get, the surer"
    assert not unsure[0], "taken away long before"
    assert surely[-1], "long down by then"
    assert 1 <= sum(unsure) - sum(surely) <= 4, "some degrees short of it, it is the number that is doubted"


def test_the_last_minutes_count_for_what_is_foretold_and_for_nothing_else(over: View) -> None:
    model = over.firing.model
    assert model is not None
    assert model.lately == (), "hours after the end nothing near is foretold"
    assert model.heat == model.settled.heat
    hot = replace(model, celsius=tuple(700.0 for _ in model.celsius), at_ms=over.now_ms)
    quick = list(model.settled.mean[len(model.celsius) :])
    quick[NAMES.index("pace")] += 0.5
    seen, left = [], []
    for one in (hot, replace(hot, lately=tuple(quick))):
        view = replace(over, fit=(False,) * len(over.fit), firing=replace(over.firing, model=one))
        seen.append(dict(cools(view, (100,)))[100])
        left.append(what_is_left(view))
    assert seen[0] is not None
    assert seen[1] is not None
    assert seen[1].median < seen[0].median - 10 * MINUTE
    assert left[0] == left[1]


def test_the_forecast_stands_between_steps_of_the_model_and_tells_why_it_moved(fired: Callable[..., object]) -> None:
    estimates = fired("none").estimates  # type: ignore[attr-defined]
    pairs = [(a, b) for a, b in pairwise(estimates) if a.cone_down is not None and b.cone_down is not None]
    far = [(a, b) for a, b in pairs if b.cone_down.median - b.utc_ms > HOUR]
    stood = sum(a.cone_down == b.cone_down for a, b in far)
    assert stood > 0.6 * len(far)
    for a, b in pairs:
        by_minutes = (b.cone_down.median - a.cone_down.median) / MINUTE
        if abs(by_minutes) > 6.0 and abs(by_minutes) > 0.08 * (b.cone_down.median - b.utc_ms) / MINUTE:
            assert b.moved is not None
            assert b.moved.minutes == round(by_minutes)


def test_cone_progress_has_an_interval_that_holds_it(fired: Callable[..., object]) -> None:
    for e in fired("none").estimates:  # type: ignore[attr-defined]
        assert e.progress_between is not None
        low, high = e.progress_between
        assert 0.0 <= low <= e.cone_progress <= high
