"""A model that was told the wrong switches, for nobody wrote them down, is no ground for an alarm by itself."""

from dataclasses import replace

import pytest

from spyhole.core.alarms.rules.climbing import runaway
from spyhole.core.alarms.rules.cooling import cooling_fast
from spyhole.core.alarms.rules.ending import no_cone_left, still_on
from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Written, advance, close, open_firing, write
from spyhole.core.kiln import Switch
from spyhole.core.modelling import follow
from spyhole.core.thermal.departure import Memory
from spyhole.core.thermal.physics import Outside
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE = 60_000
HOUR = 60 * MINUTE


def lit(*, logged: bool) -> Firing:
    firing = open_firing(Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren")), KILN, TONIGHT.plan, 20.0)
    turn = Written(2, MINUTE, MINUTE, Entry(EntryKind.SWITCH, "bottom", "low", "Wren"))
    return write(firing, turn) if logged else firing


def seen(
    firing: Firing,
    now_ms: int,
    celsius: float,
    climb: float,
    left: tuple[Residual, ...] = (),
    before: float | None = None,
) -> View:
    """Every ring at this temperature, having climbed like this [degC/h] for an hour.

    before: until twelve minutes ago like that instead.
    """
    bend = celsius - climb * 12 / 60
    minutes = tuple(
        (now_ms - m * MINUTE, celsius - climb * m / 60 if m <= 12 or before is None else bend - before * (m - 12) / 60)
        for m in range(60, -1, -1)
    )
    tracks = (Track(at_ms=now_ms, celsius=celsius, climb=climb, minutes=minutes),) * 3
    return View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (celsius,) * 3, left=left)


@pytest.mark.parametrize(("fall", "fast"), [(170.0, False), (600.0, True)])
def test_a_shut_kiln_falls_though_its_model_expects_it_to_stand(fall: float, fast: bool) -> None:
    """917 degC an hour after the end, and a model that expects 7 degC/h: what any shut kiln does is no open lid."""
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    nothing = Residual(917.0, 5.0, -7.0, 0.0, -1.0, 0.09)
    view = seen(firing, 16 * HOUR, 917.0, -fall, (nothing,) * 3)
    assert cooling_fast(view).holds is fast


@pytest.mark.parametrize(("odd_before", "fast"), [(False, True), (True, False)])
def test_what_a_model_took_for_losses_may_have_been_lost_watts(odd_before: bool, fast: bool) -> None:
    """A kiln that stalled at the end falls at 190 degC/h now; the model, which knew of no stall, expects 120."""
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    nothing = Outside((0.0,) * 3, (0.0,) * 3, 20.0)
    firing = replace(firing, memory=Memory(told=((0, nothing),), odd_before_end=odd_before))
    at_ms, left = 16 * HOUR + 10 * MINUTE, (Residual(790.0, 5.0, -120.0, 0.0, -0.19, 0.04),) * 3
    assert cooling_fast(seen(firing, at_ms, 790.0, -190.0, left, before=-120.0)).holds is fast
    assert cooling_fast(seen(firing, at_ms, 790.0, -500.0, left, before=-120.0)).holds


def test_a_kiln_that_falls_as_it_has_fallen_since_its_end_was_not_opened() -> None:
    """A light kiln loses more than its model thought; a lid that is opened bends the curve, and nothing else does."""
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    at_ms, left = 16 * HOUR + 10 * MINUTE, (Residual(790.0, 5.0, -120.0, 0.0, -0.19, 0.04),) * 3
    assert not cooling_fast(seen(firing, at_ms, 790.0, -260.0, left, before=-285.0)).holds
    assert cooling_fast(seen(firing, at_ms, 790.0, -420.0, left, before=-285.0)).holds


@pytest.mark.parametrize(
    ("falls", "opened"), [((120.0, 300.0), True), ((300.0, 120.0), False), ((120.0, 120.0), False)]
)
def test_of_two_probes_the_upper_one_shows_an_open_lid(falls: tuple[float, float], opened: bool) -> None:
    """The lower rings of a tall kiln hardly feel it; what the lower one does alone is no lid's doing."""
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    now_ms = 16 * HOUR + 15 * MINUTE
    left = tuple(
        Residual(700.0, 5.0, -120.0, 0.0, (120.0 - fall) / 800.0, 0.02) for fall in (falls[0], 120.0, falls[1])
    )
    low, high = (seen(firing, now_ms, 700.0, -fall, left, before=-130.0) for fall in falls)
    tracks = (low.tracks[0], low.tracks[1], high.tracks[2])
    assert bool(cooling_fast(replace(low, tracks=tracks, fit=(True, False, True))).holds) is opened


@pytest.mark.parametrize(("others", "on"), [(-0.05, True), (0.24, False)])
def test_a_ring_that_gets_more_than_the_others_soon_after_the_end_is_still_on(others: float, on: bool) -> None:
    """Nobody knows to a quarter of full watts what bricks give back then, but those of all rings do it alike."""
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    unsure, own = 0.1, 0.04
    left = [Residual(940.0, 5.0, -220.0, 0.0, others, unsure, own)] * 3
    left[1] = replace(left[1], share=0.25)
    assert still_on(seen(firing, 15 * HOUR + 20 * MINUTE, 950.0, -150.0, tuple(left))).holds is on


@pytest.mark.parametrize(("share", "on"), [(0.25, True), (0.17, None), (0.1, False)])
def test_a_ring_that_was_told_as_still_on_stays_so_while_its_model_learns_it_as_bricks(
    share: float, on: bool | None
) -> None:
    """One trouble is told once: well past the limit, then half of it, and only what is near nothing is its end."""
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    left = [Residual(940.0, 5.0, -220.0, 0.0, 0.0, 0.1, 0.03)] * 3
    left[2] = replace(left[2], share=share)
    assert still_on(seen(firing, 15 * HOUR + 20 * MINUTE, 950.0, -150.0, tuple(left))).holds is on
    lit_again = write(firing, Written(9, 16 * HOUR, 16 * HOUR, Entry(EntryKind.SWITCH, "top", "low", "Wren")))
    assert no_cone_left(seen(lit_again, 15 * HOUR + 20 * MINUTE, 950.0, -150.0, tuple(left))).holds is on


@pytest.mark.parametrize(("share", "on"), [(0.19, True), (0.14, None), (0.1, False)])
def test_with_one_probe_what_bricks_do_not_give_is_told_once_the_end_is_behind(share: float, on: bool | None) -> None:
    """Healthy kilns get 0.02 at most by then, a ring beside one on high 0.2, which the model learns to expect."""
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    view = seen(firing, 15 * HOUR + 44 * MINUTE, 950.0, -90.0, (Residual(960.0, 5.0, -155.0, 0.0, share, 0.043),) * 3)
    assert still_on(replace(view, fit=(False, True, False))).holds is on


@pytest.mark.parametrize(("share", "on"), [(0.2, False), (0.4, None), (0.85, True)])
def test_a_ring_that_keeps_its_heat_better_than_it_did_while_it_heated_has_a_lid_shut_over_it(
    share: float, on: bool | None
) -> None:
    """The lid stood ajar, the model learned it as loss, and whoever came by after the end has shut it."""
    nothing = Outside((0.0,) * 3, (0.0,) * 3, 20.0)
    ajar = replace(
        close(lit(logged=False), 15 * HOUR, 15 * HOUR), memory=Memory(told=((0, nothing),), odd_before_end=True)
    )
    left = (
        *(Residual(940.0, 5.0, -380.0, 0.0, 0.02, 0.1, 0.04),) * 2,
        Residual(940.0, 5.0, -250.0, 0.0, share, 0.1, 0.04),
    )
    assert still_on(seen(ajar, 15 * HOUR + 15 * MINUTE, 950.0, -140.0, left)).holds is on


def test_beside_a_ring_that_falls_as_under_an_open_lid_what_others_get_is_no_heat() -> None:
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    fed = Residual(640.0, 5.0, -360.0, 0.0, 0.3, 0.05, 0.03)
    view = seen(firing, 17 * HOUR, 650.0, -260.0, (fed, replace(fed, share=0.0), replace(fed, share=-1.5)))
    assert not still_on(view).holds
    assert still_on(replace(view, left=(fed, replace(fed, share=0.0), replace(fed, share=0.0)))).holds


@pytest.mark.parametrize(("minutes", "fast"), [(40, False), (80, True)])
def test_how_fast_a_kiln_cools_its_model_has_to_learn_first(minutes: int, fast: bool) -> None:
    firing = close(lit(logged=False), 15 * HOUR, 15 * HOUR)
    nothing = Outside((0.0,) * 3, (0.0,) * 3, 20.0)
    firing = replace(firing, memory=Memory(told=((0, nothing),)))
    left = (Residual(790.0, 5.0, -120.0, 0.0, -0.19, 0.04),) * 3
    at_ms = 15 * HOUR + minutes * MINUTE
    assert cooling_fast(seen(firing, at_ms, 790.0, -190.0, left, before=-120.0)).holds is fast
    opened = seen(firing, at_ms, 790.0, -360.0, left, before=-120.0)
    assert cooling_fast(opened).holds, "an open lid makes it fall three times as fast"


@pytest.mark.parametrize(("logged", "holds"), [(True, True), (False, False)])
def test_after_power_came_back_a_turn_that_nobody_wrote_may_be_behind_a_quick_climb(logged: bool, holds: bool) -> None:
    """On low by the plan, and climbing as only high does."""
    firing = follow(seen(lit(logged=logged), 2 * HOUR, 30.0, 0.0))
    firing = replace(firing, back_ms=2 * HOUR)
    view = seen(firing, 2 * HOUR + 20 * MINUTE, 180.0, 480.0)
    assert view.misled
    assert runaway(view).holds is holds


@pytest.mark.parametrize(("switch", "holds"), [(Switch.HIGH, False), (Switch.MEDIUM, True)])
@pytest.mark.parametrize(("minutes", "climb"), [(60, 480.0), (60, 900.0)])
def test_no_switch_is_too_high_on_a_kiln_that_is_on_high(
    switch: Switch, holds: bool, minutes: int, climb: float
) -> None:
    """It climbs at twice and more what the model expects: on high that is the model's ignorance, on medium a switch."""
    firing = replace(lit(logged=True), switches=(switch,) * 3)
    much = Residual(200.0, 5.0, 250.0, 1.0, 0.9, 0.15)
    assert runaway(seen(firing, minutes * MINUTE, 200.0, climb, (much,) * 3)).holds is holds


def test_a_climb_that_the_plan_forbids_is_a_runaway_on_high_too() -> None:
    firing = replace(lit(logged=True), switches=(Switch.HIGH,) * 3)
    slow = replace(firing.plan.stages[0], climb_limit=100.0)
    firing = replace(firing, plan=replace(firing.plan, stages=(slow, *firing.plan.stages[1:])))
    assert runaway(seen(firing, 60 * MINUTE, 200.0, 480.0)).holds


def test_a_turn_that_only_the_clock_knows_was_made_when_it_was_due() -> None:
    """Or the stage after it would be looked for that much too late, and its turn be taken for a runaway."""
    firing = follow(seen(lit(logged=False), 2 * HOUR, 30.0, 0.0))
    assert firing.now_stage.hours == 9.0
    assert advance(firing, 10 * HOUR, 120.0, False).stage == 0, "the curve is waited for"
    turned = advance(firing, round(10.6 * HOUR), 120.0, False)
    assert (turned.stage, turned.stage_ms) == (1, 9 * HOUR)
