"""A stage that is held at its temperature: foretold with its hold, whether that has begun or not."""

from dataclasses import replace

from spyhole.core.ahead import next_turn
from spyhole.core.curve.track import Track
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Written, advance, open_firing
from spyhole.core.foresight import along_the_plan
from spyhole.core.modelling import follow
from spyhole.core.view import View
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

MINUTE = 60_000
HOUR = 60 * MINUTE
LOW, MEDIUM = TONIGHT.plan.stages[1:3]


def lit(soak_minutes: float) -> Firing:
    """On a plan whose first stage ends at 120 degC and is then held."""
    first = replace(LOW, hours=None, until_celsius=120.0, soak_minutes=soak_minutes)
    plan = replace(TONIGHT.plan, stages=(first, *TONIGHT.plan.stages[2:]))
    return open_firing(Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren")), KILN, plan, 20.0)


def seen(firing: Firing, now_ms: int, celsius: float) -> View:
    minutes = tuple((now_ms - m * MINUTE, celsius - m * 0.5) for m in range(60, -1, -1))
    tracks = (Track(at_ms=now_ms, celsius=celsius, climb=30.0, minutes=minutes),) * 3
    return View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (celsius,) * 3)


def modelled(soak_minutes: float, now_ms: int, celsius: float) -> View:
    view = seen(lit(soak_minutes), now_ms, celsius)
    return replace(view, firing=follow(view))


def test_before_its_temperature_the_hold_is_added_to_the_climb() -> None:
    at_once, held = (next_turn(modelled(minutes, 2 * HOUR, 80.0)) for minutes in (0.0, 45.0))
    assert at_once is not None
    assert held is not None
    assert 2 * HOUR < at_once.median < 40 * HOUR
    assert [held.low - at_once.low, held.median - at_once.median, held.high - at_once.high] == [45 * MINUTE] * 3


def test_once_there_the_turn_is_due_by_the_clock() -> None:
    view = modelled(45.0, 2 * HOUR, 121.0)
    view = replace(view, firing=advance(view.firing, 2 * HOUR, 121.0, False))
    later = replace(view, now_ms=2 * HOUR + 20 * MINUTE, utc_ms=2 * HOUR + 20 * MINUTE)
    turn = next_turn(later)
    assert turn is not None
    assert turn.median == 2 * HOUR + 45 * MINUTE


def test_the_forecast_of_the_cone_turns_no_sooner_than_after_the_hold() -> None:
    told = along_the_plan(modelled(45.0, 2 * HOUR, 100.0), 900.0)

    def shares(hours: float, celsius: float) -> tuple[float, ...]:
        return told(hours, [celsius] * 3)[0].shares

    here, following = (tuple(KILN.switch.of(s) for s in stage.switches) for stage in (LOW, MEDIUM))
    assert shares(0.5, 110.0) == here
    assert shares(1.0, 121.0) == here
    assert shares(1.7, 130.0) == here
    assert shares(1.8, 131.0) == following
