"""A turn that nobody wrote down is believed when it fits, and nothing else is taken for one."""

from dataclasses import replace

from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Written, advance, open_firing, write
from spyhole.core.kiln import Switch
from spyhole.core.modelling import weigh
from spyhole.core.thermal.belief import moved, predict, see
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NODES, Outside
from spyhole.core.thermal.prior import bounds, prior
from spyhole.core.turns import (
    BRIDGED_MS,
    DUE_SURE,
    SURE,
    Rise,
    Turn,
    at_minute,
    candidates,
    gain,
    likeliest,
    needed,
    stays_cold,
    with_turn,
)
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

LOW = Outside((0.25,) * 3, (0.0,) * 3, 20.0)
MEDIUM = (Switch.MEDIUM,) * 3


def _rises(seen: tuple[float, ...], as_told: float = 15.0, turned: float = 45.0) -> list[Rise]:
    return [Rise(s, as_told, turned, 30.0) for s in seen]


def test_a_turn_that_fits_is_believed() -> None:
    assert gain(_rises((44.0, 47.0, 42.0)), 0.3) > SURE


def test_a_kiln_stronger_than_thought_may_turn_too() -> None:
    assert gain(_rises((56.0, 58.0, 55.0)), 0.45) > SURE


def test_nothing_turned_is_no_turn() -> None:
    assert gain(_rises((15.0, 17.0, 13.0)), 0.3) < SURE


def test_one_ring_alone_is_not_the_whole_kiln_turned() -> None:
    assert gain(_rises((45.0, 15.0, 15.0)), 0.3) < SURE


def test_three_times_the_watts_is_not_the_next_stage() -> None:
    assert gain(_rises((105.0, 106.0, 104.0)), 0.3) < SURE


def of_rings_lit_for_the_first_time(own: float) -> float:
    """Two rings that were off all night, turned to low ten minutes ago: the one does a quarter less than expected, the
    other half as much again. own: how little is known of either."""
    rises = [Rise(16.4, 0.3, 19.4, 60.0), Rise(36.0, 2.1, 43.6, 18.0, own), Rise(50.3, -0.4, 33.7, 18.0, own)]
    return gain(rises, 0.26)


def test_what_a_ring_does_that_was_off_until_now_nobody_knows_to_a_tenth() -> None:
    assert of_rings_lit_for_the_first_time(0.12) > SURE
    assert of_rings_lit_for_the_first_time(0.03) == 0.0, "of a ring that has shown its watts so much more is no turn"
    one_alone = [Rise(16.4, 0.3, 19.4, 60.0), Rise(2.0, 2.1, 43.6, 18.0, 0.12), Rise(60.0, -0.4, 33.7, 18.0, 0.12)]
    assert gain(one_alone, 0.26) == 0.0


def test_what_is_told_changes_from_the_turn_on() -> None:
    after = replace(LOW, shares=(0.5,) * 3)
    told = with_turn(((0, LOW),), Turn(MEDIUM, 600_000, 1), after)
    assert told == ((0, LOW), (600_000, after))
    assert with_turn(told, Turn(MEDIUM, 0, 1), after) == ((0, after),)


HOUR = 3_600_000
PLAN = TONIGHT.plan


def lit(*, logged: bool = False) -> Firing:
    """On candling for nine hours, then low for an hour and a half. logged: somebody wrote a switch down."""
    firing = open_firing(Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren")), KILN, PLAN, 16.0)
    turn = Written(2, HOUR, HOUR, Entry(EntryKind.SWITCH, "bottom", "low", "Wren"))
    return write(firing, turn) if logged else firing


def at(hours: float, firing: Firing, celsius: float = 150.0) -> View:
    now_ms = round(hours * HOUR)
    return View(now_ms, now_ms, firing, (), (), (), (celsius,) * 3)


def stages(view: View) -> set[int]:
    return {turn.stage for turn in candidates(view, view.now_ms - 900_000, view.now_ms)}


def test_where_nobody_writes_turns_down_the_plans_clock_is_the_other_witness() -> None:
    assert [stage.hours for stage in PLAN.stages[:2]] == [9.0, 1.5]
    turn = Turn(PLAN.stages[1].switches, 0, 1)
    assert needed(at(9.1, lit()), turn) == DUE_SURE < SURE
    assert needed(at(10.5, lit()), turn) == SURE
    assert needed(at(9.1, lit(logged=True)), turn) == SURE, "who writes turns down will write this one"
    assert needed(at(9.1, lit()), Turn(PLAN.stages[2].switches, 0, 2)) == SURE


def test_long_before_it_is_due_a_turn_has_to_fit_far_better_whoever_writes_down_what() -> None:
    """A kiln that is stronger than thought climbs as if it had been turned up."""
    turn = Turn(PLAN.stages[1].switches, 0, 1)
    for logged in (False, True):
        early = [needed(at(hours, lit(logged=logged)), turn) for hours in (6.0, 7.0, 8.0, 8.7)]
        assert early == sorted(early, reverse=True)
        assert early[0] > early[1] > 10 * SURE
        assert SURE < early[-1] < 1.1 * SURE, "a keeper who is half an hour early is nothing rare"


def test_near_the_temperature_that_ends_a_stage_its_turn_is_near_too() -> None:
    to_hot = replace(
        lit(), plan=replace(PLAN, stages=(replace(PLAN.stages[0], hours=None, until_celsius=150.0), *PLAN.stages[1:]))
    )
    turn = Turn(PLAN.stages[1].switches, 0, 1)
    assert needed(at(5.0, to_hot, 140.0), turn) == DUE_SURE
    assert needed(at(5.0, to_hot, 120.0), turn) == SURE


def test_once_the_next_stage_may_be_over_too_the_one_after_is_tried() -> None:
    assert stages(at(9.1, lit())) == {1}
    assert stages(at(9.9, lit())) == {1, 2}
    assert stages(at(9.9, lit(logged=True))) == {1}


def test_the_next_stage_is_likelier_than_the_one_after_it() -> None:
    """Of a kiln nobody knows, a turn to low that is stronger than expected looks like one to medium; but whoever turned
    to that has turned to low before, and nothing was seen of it."""
    view = at(9.9, lit())

    def taken(view: View, passing_over: float) -> int:
        weighed = [(54.6, Turn(PLAN.stages[1].switches, 0, 1), ()), (passing_over, Turn(MEDIUM, 0, 2), ())]
        best = likeliest(view, weighed)
        assert best is not None
        return best[1].stage

    assert taken(view, 56.7) == 1
    assert taken(view, 62.0) == 2
    assert taken(at(3.0, replace(lit(), back_ms=round(2.9 * HOUR))), 56.7) == 2, "nobody saw what was done meanwhile"
    assert likeliest(view, []) is None


def test_what_somebody_denied_is_not_looked_for_meanwhile() -> None:
    denied = replace(lit(), denied=((1, round(9.5 * HOUR)),))
    assert stages(at(9.1, denied)) == set()
    assert stages(at(9.6, denied)) == {1}


def test_when_power_was_away_the_clock_says_little_and_later_stages_are_tried_at_once() -> None:
    back = replace(lit(), back_ms=round(2.9 * HOUR))
    assert stages(at(3.0, back)) == {1, 2}
    assert stages(at(3.5, back)) == set(), "half an hour on it has shown what it does"
    assert stages(at(3.0, replace(lit(logged=True), back_ms=round(2.9 * HOUR)))) == set()


def test_what_is_written_down_and_is_no_stage_of_the_plan_is_believed_less() -> None:
    slip = Written(3, 2 * HOUR, 2 * HOUR, Entry(EntryKind.SWITCH, "top", "medium", "Wren"))
    as_planned = Turn(PLAN.stages[0].switches, 0, 0)
    assert needed(at(2.2, lit(logged=True)), as_planned) == SURE
    assert needed(at(2.2, write(lit(logged=True), slip)), as_planned) == DUE_SURE


def cold_for_an_hour(top_rose: float, *, stage: int = 0) -> bool:
    """Whether a ring that the next stage lights is seen to stay cold; top_rose: by so much in the last hour [degC]."""
    known = prior(KILN, (100.0, 60.0, 40.0), 10 * HOUR)
    outside = Outside((0.25, 0.0, 0.0), (0.0,) * 3, 16.0)
    firing = replace(
        lit(), model=Model(known, known.at_ms, tuple(known.celsius), ((0, outside),)), stage=stage,
        switches=PLAN.stages[stage].switches,
    )  # fmt: skip
    now_ms = round(10.6 * HOUR)
    tracks = tuple(
        Track(celsius=40.0 + top_rose, minutes=((now_ms - HOUR, 40.0), (now_ms, 40.0 + top_rose))) for _ in range(3)
    )
    return stays_cold(View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (40.0,) * 3))


def test_a_ring_that_the_next_stage_lights_and_that_stays_cold_was_not_turned() -> None:
    """Damp ware takes hours more than planned: the clock says low, and no ring but the first has warmed."""
    assert cold_for_an_hour(4.0)
    assert not cold_for_an_hour(60.0)
    assert not cold_for_an_hour(4.0, stage=1), "every ring is on already: nothing plain would show"


def looked_for(times: float, *, logged: bool, lit_too: bool = False) -> bool:
    """Whether the next stage is looked for an hour into this one, whose upper rings are off and warm by the lowest, for
    the last quarter of an hour so many times as fast as before. lit_too: this stage has all of them on."""
    stages = PLAN.stages[1:] if lit_too else PLAN.stages
    stages = (replace(stages[0], hours=1.5), *stages[1:])
    firing = replace(lit(logged=logged), plan=replace(PLAN, stages=stages), switches=stages[0].switches)
    now_ms, minute = HOUR, HOUR // 60
    curve = tuple((at * minute, 20.0 + 2.0 * at + 2.0 * (times - 1.0) * max(0, at - 45)) for at in range(61))
    tracks = (Track(celsius=curve[-1][1], minutes=curve),) * 3
    view = View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (curve[-1][1],) * 3)
    return 1 in {turn.stage for turn in candidates(view, now_ms - 15 * minute, now_ms)}


def test_a_ring_that_warms_as_it_always_did_was_not_turned_where_turns_are_written_down() -> None:
    """Seen above, lit below: once taken for lit above after 40 minutes, 50 before it was."""
    assert PLAN.stages[0].switches[1:] == (Switch.OFF,) * 2
    assert not looked_for(1.0, logged=True)
    assert not looked_for(1.4, logged=True)
    assert looked_for(1.6, logged=True)
    assert looked_for(1.0, logged=False), "it may have been turned before anybody looked for it"
    assert looked_for(1.0, logged=True, lit_too=True), "of a ring that is on, the model knows what a turn does"


def lit_minutes_ago(minutes: int) -> bool:
    """Whether a ring that was cold until so lately, and has warmed by two degrees a minute since, is said to be."""
    known = prior(KILN, (100.0, 60.0, 40.0), 10 * HOUR)
    outside = Outside((0.25, 0.0, 0.0), (0.0,) * 3, 16.0)
    firing = replace(lit(), model=Model(known, known.at_ms, tuple(known.celsius), ((0, outside),)))
    now_ms, minute = round(10.6 * HOUR), HOUR // 60
    cold = tuple((now_ms - ago * minute, 40.0 + 2.0 * max(0, minutes - ago)) for ago in range(140, -1, -1))
    tracks = (Track(celsius=cold[-1][1], minutes=cold),) * 3
    return stays_cold(View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (40.0,) * 3))


def test_a_ring_that_warms_only_now_was_not_turned_when_the_clock_says() -> None:
    """Hours late; the clock would have the turn made when it was due, and its curve be the stage after."""
    assert lit_minutes_ago(20)
    assert not lit_minutes_ago(60)


def test_the_clock_turns_no_stage_that_a_cold_ring_denies() -> None:
    firing = replace(lit(), model=Model(prior(KILN, (40.0,) * 3, 0), 0, (40.0,) * 12, ((0, LOW),)))
    assert advance(firing, 11 * HOUR, 120.0, False).stage == 1
    assert advance(firing, 11 * HOUR, 120.0, False, stays_cold=True).stage == 0


def turned_to_high(*, known_to_lack: bool) -> float:
    """By how much better a turn to high fits the last quarter of an hour, in which two rings did turn and the middle
    one got nothing; known_to_lack: it has been known to lack heat before."""
    minute, lasted = 60_000, 15
    known = prior(KILN, (600.0,) * 3, 0)
    shares = tuple(KILN.switch.of(s) for s in MEDIUM)
    told = Outside(shares, (0.0,) * 3, 20.0)
    given = Outside((1.0, 0.0, 1.0), (0.0,) * 3, 20.0)
    nodes, said = list(known.celsius), [tuple(known.celsius)]
    for _ in range(lasted):
        nodes = moved(known.heat, nodes, given, 1 / 60)
        said.append(tuple(nodes))
    settled = replace(known, at_ms=-90_000, mean=known.mean)
    firing = replace(
        lit(), stage=2, switches=MEDIUM, lacked=(None, 0 if known_to_lack else None, None),
        model=Model(settled, settled.at_ms, tuple(settled.celsius), ((-HOUR, told),)),
    )  # fmt: skip
    tracks = tuple(
        Track(minutes=tuple((settled.at_ms + m * minute, each[NODES * ring]) for m, each in enumerate(said)))
        for ring in range(3)
    )
    to_ms = settled.at_ms + lasted * minute
    view = View(to_ms + 90_000, to_ms, firing, tracks, (None,) * 3, (True,) * 3, (600.0,) * 3)
    (found,) = weigh(view, (Turn((Switch.HIGH,) * 3, settled.at_ms, 3),), to_ms)
    return found[0]


def test_a_ring_that_gets_nothing_is_no_witness_against_a_turn_of_the_others() -> None:
    assert turned_to_high(known_to_lack=True) > SURE > turned_to_high(known_to_lack=False)


def first_low(top_times: float, *, top_on_before: bool) -> float:
    """By how much better a turn to low fits ten minutes in which the top ring warmed so many times as fast as its watts
    would have it. top_on_before: it had been on all night."""
    minute, lasted = 60_000, 12
    night = (Switch.LOW, Switch.OFF, Switch.LOW if top_on_before else Switch.OFF)
    before = Outside(tuple(KILN.switch.of(s) for s in night), (0.0,) * 3, 20.0)
    known = prior(KILN, (60.0,) * 3, 0)
    for step in range(1, 49):
        known = predict(known, step * 10 * minute, before)
        for ring in range(3):
            known = see(known, ring, known.celsius[NODES * ring], 2.0, bounds(KILN))
    given = replace(before, shares=(0.25, 0.25, 0.25 * top_times))
    nodes, said = list(known.celsius), [tuple(known.celsius)]
    for _ in range(lasted):
        nodes = moved(known.heat, nodes, given, 1 / 60)
        said.append(tuple(nodes))
    at_ms = known.at_ms
    firing = replace(lit(), switches=night, model=Model(known, at_ms, tuple(known.celsius), ((at_ms - HOUR, before),)))
    tracks = tuple(
        Track(minutes=tuple((at_ms + m * minute, each[NODES * ring]) for m, each in enumerate(said)))
        for ring in range(3)
    )
    to_ms = at_ms + lasted * minute
    view = View(to_ms, to_ms, firing, tracks, (None,) * 3, (True,) * 3, (150.0,) * 3)
    (found,) = weigh(view, (Turn((Switch.LOW,) * 3, at_ms, 1),), to_ms)
    return found[0]


def test_a_ring_lit_for_the_first_time_may_do_far_more_than_expected() -> None:
    """Its load, its place and its watts were never seen; nobody wrote the turn down."""
    assert first_low(1.8, top_on_before=False) > SURE
    assert first_low(1.8, top_on_before=True) == 0.0, "it has shown all night what it does"


def test_a_minute_that_is_missing_is_read_off_the_line_between_its_neighbours() -> None:
    """A wire that makes and breaks in step with the model's pace was never heard at the minutes that count."""
    before, after = (HOUR, 500.0), (HOUR + BRIDGED_MS, 504.0)
    assert at_minute((before, after), HOUR + BRIDGED_MS // 4) == 501.0
    assert at_minute((before, after), HOUR) == 500.0
    assert at_minute((before, after), HOUR + 2 * BRIDGED_MS) is None, "what is not read yet is not known"
    assert at_minute((before, (HOUR + 2 * BRIDGED_MS, 504.0)), HOUR + BRIDGED_MS) is None, "a turn may lie in it"
