"""Whom to tell what now: a pure function, so its steps are exact, survive any restart, and stop at an answer."""

from datetime import UTC

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.outcome import Priority
from spyhole.services.escalation import LADDERS, MINUTE_MS, Due, Instant, Ladder, Notice, Trouble, due
from spyhole.services.people import Channel, People, Person, Role

WAY = (Channel("phone", "json://localhost/"),)
RUTH, INES = Person("Ruth", Role.KEEPER, WAY), Person("Ines", Role.KEEPER, WAY)
OTTO = Person("Otto", Role.HELPER, WAY)
STUDIO = People((RUTH, INES, OTTO))
NOON = 12 * 3600_000
MIDNIGHT = 0


def trouble(priority: Priority = Priority.HIGH, tag: str = "kiln-limit", since_ms: int = 0) -> Trouble:
    return Trouble("a1", 0, since_ms, tag, priority)


def told(found: list[Due]) -> list[tuple[str, str]]:
    return [(one.person.name, one.step) for one in found]


def ask(
    one: Trouble, minutes: float, *, people: People = STUDIO, holder: str = "Ruth", utc_ms: int = NOON
) -> list[Due]:
    return due((one,), (), people, holder, Instant(round(minutes * MINUTE_MS), utc_ms), UTC)


def test_the_one_who_holds_the_watch_first_then_the_keepers_then_everybody() -> None:
    assert told(ask(trouble(), 0)) == [("Ruth", "0")]
    assert told(ask(trouble(), 2.99)) == [("Ruth", "0")]
    assert told(ask(trouble(), 3)) == [("Ruth", "0.1"), ("Ines", "0.1")]
    assert told(ask(trouble(), 6)) == [("Ruth", "0.2"), ("Ines", "0.2"), ("Otto", "0.2")]
    assert told(ask(trouble(), 16)) == [("Ruth", "0.3"), ("Ines", "0.3"), ("Otto", "0.3")]
    assert [one.loud for one in ask(trouble(), 0) + ask(trouble(), 3)] == [False, True, True]


def test_where_nobody_holds_the_watch_all_keepers_are_told_at_once() -> None:
    for holder in ("", "somebody who left"):
        assert told(ask(trouble(), 0, holder=holder)) == [("Ruth", "0"), ("Ines", "0")]
    assert told(ask(trouble(), 0, holder="", people=People((OTTO,)))) == [("Otto", "0")]
    assert told(ask(trouble(), 0, people=People((Person("Ruth"), INES)))) == [("Ines", "0")], "Ruth has no channel"


def test_when_the_holder_is_the_trouble_others_are_told_at_once() -> None:
    assert told(ask(trouble(tag="nobody-near"), 0)) == [("Ruth", "0"), ("Ines", "0"), ("Otto", "0")]


def test_high_ignores_quiet_hours_and_medium_waits_for_their_end_and_then_says_the_newest_step() -> None:
    quiet = People((Person("Ruth", Role.KEEPER, WAY, quiet=(22 * 60, 7 * 60)), INES))
    assert told(ask(trouble(), 0, people=quiet, utc_ms=MIDNIGHT)) == [("Ruth", "0")]
    medium = trouble(Priority.MEDIUM, "stall")
    assert told(ask(medium, 0, people=quiet, utc_ms=MIDNIGHT)) == []
    assert told(ask(medium, 20, people=quiet, utc_ms=MIDNIGHT)) == [("Ines", "0.1")]
    assert told(ask(medium, 30, people=quiet, utc_ms=NOON)) == [("Ruth", "0.1"), ("Ines", "0.1")]


def test_while_candling_lost_heat_waits_for_the_morning_also_for_who_has_no_quiet_hours() -> None:
    lost = trouble(Priority.MEDIUM, "heat-lost")
    assert told(ask(lost, 0, utc_ms=MIDNIGHT)) == []
    assert told(ask(lost, 0, utc_ms=7 * 3600_000)) == [("Ruth", "0")]
    assert told(ask(trouble(Priority.HIGH, "heat-lost"), 0, utc_ms=MIDNIGHT)) == [("Ruth", "0")]


def test_low_is_told_once() -> None:
    assert told(ask(trouble(Priority.LOW), 600)) == [("Ruth", "0")]


def test_a_prompt_goes_to_the_holder_outside_quiet_hours_while_it_is_news() -> None:
    notice, sleeps = (Notice("p7", 60_000),), People((Person("Ruth", Role.KEEPER, WAY, quiet=(1320, 420)), INES))
    assert told(due((), notice, STUDIO, "Ruth", Instant(0, NOON), UTC)) == [("Ruth", "0")]
    assert due((), notice, sleeps, "Ruth", Instant(0, MIDNIGHT), UTC) == []
    assert due((), notice, STUDIO, "Ruth", Instant(60_000, NOON), UTC) == []


@given(
    after=st.lists(st.floats(0.5, 100), min_size=0, max_size=4, unique=True).map(sorted),
    again=st.floats(1, 60),
    ticks=st.lists(st.integers(1, 1000), min_size=1, max_size=300),
    answered=st.integers(0, 200_000_000),
)
def test_whoever_looks_each_second_tells_each_step_once_and_in_time_and_stops_at_the_answer(
    after: list[float], again: float, ticks: list[int], answered: int
) -> None:
    """ticks: sixtieths of the time between looks [ms]. Nothing but the keys is remembered, and the record has those."""
    ladders = {Priority.HIGH: Ladder(tuple(after), again, 5, quiet=False)}
    steps = [0.0, *after, *((after[-1] if after else 0.0) + again * n for n in range(1, 6))]
    keys: list[tuple[int, str]] = []
    now, last = 0, 0
    for tick in [0, *ticks * 5]:
        last, now = now, now + tick * 60
        known = {step for _, step in keys}
        if now >= answered:
            break
        for one in due((trouble(),), (), People((RUTH,)), "Ruth", Instant(now, NOON), UTC, ladders):
            if one.step not in known:
                keys.append((now, one.step))
    assert len({step for _, step in keys}) == len(keys)
    for at, step in keys:
        due_ms = steps[int(step.partition(".")[2] or 0)] * MINUTE_MS
        assert due_ms <= at + 1
        assert at < max(answered, 1)
    newest = max((n for n, minutes in enumerate(steps) if minutes * MINUTE_MS <= min(last, answered - 1)), default=-1)
    if newest >= 0:
        assert any(int(step.partition(".")[2] or 0) >= newest for _, step in keys)


def test_every_priority_has_a_ladder_whose_steps_come_in_order() -> None:
    for priority in Priority:
        assert list(LADDERS[priority].after_minutes) == sorted(LADDERS[priority].after_minutes)
    assert not LADDERS[Priority.HIGH].quiet
