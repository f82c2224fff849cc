"""What sounder and lamp say. The patterns are ours, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.alarms.life import Alarm, Shelf, acknowledge, cover, step
from spyhole.core.outcome import Priority
from spyhole.services.signals import LAMPS, SILENCE, SOUNDS, TEST, Call, Lamp, Pattern, call, lamp, sound

MINUTE = 60_000
ALL = [pattern for steps in SOUNDS.values() for _, pattern in steps] + list(LAMPS.values()) + [TEST, SILENCE]


def raised(tag: str, at_ms: int = 0, ring: str | None = None) -> Alarm:
    declared = CATALOGUE[tag]
    alarm, _ = step(declared, Alarm(tag, ring), True, at_ms - declared.on_delay_seconds * 1000, declared.priority)
    alarm, change = step(declared, alarm, True, at_ms, declared.priority)
    assert change is not None
    return alarm


def share(pattern: Pattern) -> float:
    return sum(end - begin for begin, end in pattern.on) / pattern.period


def test_nothing_is_said_where_nothing_stands() -> None:
    assert call((), 0) is None
    assert sound(None) is SILENCE
    assert not any(SILENCE.at(s / 10) for s in range(1000))


def test_the_sounder_grows_denser_the_longer_nobody_answers() -> None:
    for priority in Priority:
        shares = [share(sound(Call(priority, minutes * MINUTE))) for minutes in (0, 2, 5, 10, 30)]
        assert shares == sorted(shares)
        assert shares[0] < shares[-1]


def test_a_high_alarm_is_denser_than_any_other() -> None:
    assert share(sound(Call(Priority.HIGH, 0))) > share(sound(Call(Priority.MEDIUM, 60 * MINUTE)))


def test_each_pattern_begins_with_sound_so_that_none_is_waited_for() -> None:
    assert all(pattern.at(0.0) for steps in SOUNDS.values() for _, pattern in steps)


def test_it_falls_silent_when_somebody_has_seen_it_and_sounds_when_it_is_told_again() -> None:
    declared = CATALOGUE["guard-cone"]
    alarm = raised("guard-cone")
    assert call((alarm,), 3 * MINUTE) == Call(Priority.HIGH, 3 * MINUTE)
    alarm = acknowledge(alarm, "Jo", 4 * MINUTE)
    assert call((alarm,), 5 * MINUTE) is None
    again_ms = 4 * MINUTE + declared.again_minutes * MINUTE
    alarm, _ = step(declared, alarm, True, again_ms, declared.priority)
    assert call((alarm,), again_ms + MINUTE) == Call(Priority.HIGH, MINUTE)


def test_a_shelf_silences_it() -> None:
    alarm, _ = cover(raised("ring-behind"), 5, shelf=Shelf(5, 50, "known", "Jo"), out=False, by_design=False)
    assert call((alarm,), 6) is None


def test_the_worst_is_what_is_heard_and_for_as_long_as_it_waits() -> None:
    alarms = raised("ring-behind", 0), raised("guard-cone", 10 * MINUTE)
    assert call(alarms, 11 * MINUTE) == Call(Priority.HIGH, MINUTE)


@pytest.mark.parametrize(
    ("alarms", "awake", "says"),
    [
        ((), True, Lamp.AWAKE),
        ((), False, Lamp.DARK),
        ((raised("ring-behind"),), True, Lamp.SLOW),
        ((raised("guard-cone"), raised("ring-behind")), True, Lamp.FAST),
        ((acknowledge(raised("guard-cone"), "Jo", 1),), True, Lamp.LIT),
        ((raised("guard-cone"),), False, Lamp.FAST),
    ],
)
def test_the_lamp(alarms: tuple[Alarm, ...], awake: bool, says: Lamp) -> None:
    assert lamp(alarms, call(alarms, 1), awake=awake) is says


@pytest.mark.parametrize("says", [says for says in Lamp if says is not Lamp.DARK])
def test_a_lamp_of_a_watch_that_goes_on_never_stands_at_one_level(says: Lamp) -> None:
    """A Pi keeps the level of a dead process: a lamp that does not move says nothing."""
    pattern = LAMPS[says]
    assert len({pattern.at(s / 100) for s in range(int(pattern.period * 100))}) == 2


@given(st.sampled_from(ALL), st.floats(0, 1e6))
def test_nothing_changes_before_the_next_change(pattern: Pattern, seconds: float) -> None:
    following = pattern.next_change(seconds)
    assert seconds < following <= seconds + pattern.period + 1e-6
    halfway = (seconds + following) / 2
    if halfway < following - 1e-6:
        assert pattern.at(halfway) == pattern.at(seconds + 1e-9) or following - seconds < 1e-6
