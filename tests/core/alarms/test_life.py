"""The life of one alarm against the state table of ISA-18.2 / IEC 62682 (from memory), as one machine.

state x condition x acknowledgement; on-delay and off-delay; latched until reset; told again while it holds.
"""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.alarms.life import Alarm, Change, Standing, acknowledge, reset, step

PLAIN = CATALOGUE["ceiling-passed"]  # on-delay 60 s, off-delay 120 s, again after 20 min
LATCHED = CATALOGUE["kiln-limit"]  # on-delay 20 s


def run(
    holds: list[bool | None], every_seconds: int = 10, declared: object = PLAIN
) -> list[tuple[Standing, Change | None]]:
    alarm, seen = Alarm("ceiling-passed", None), []
    for i, one in enumerate(holds):
        alarm, change = step(PLAIN, alarm, one, i * 10_000)
        seen.append((alarm.standing, change))
    return seen


def test_nothing_is_said_before_the_on_delay() -> None:
    seen = run([True] * 6 + [False])
    assert {s for s, _ in seen} == {Standing.NORMAL}
    assert run([True] * 7)[-1] == (Standing.UNACKNOWLEDGED, Change.RAISED)


def test_no_data_is_never_all_clear() -> None:
    seen = run([True] * 7 + [None] * 500)
    assert seen[-1][0] is Standing.UNACKNOWLEDGED


def test_noise_at_the_limit_says_nothing() -> None:
    assert all(change is None for _, change in run([True, False] * 200))


def test_it_clears_after_the_off_delay_and_then_waits_for_a_person() -> None:
    seen = run([True] * 7 + [False] * 13)
    assert seen[-1] == (Standing.RETURNED, Change.CLEARED)


def test_a_latched_alarm_waits_for_its_reset() -> None:
    alarm = Alarm("kiln-limit", None)
    for s in range(0, 60, 10):
        alarm, _ = step(LATCHED, alarm, True, s * 1000)
    for s in range(60, 300, 10):
        alarm, _ = step(LATCHED, alarm, False, s * 1000)
    assert alarm.standing is Standing.LATCHED
    assert reset(alarm).standing is Standing.LATCHED
    assert reset(acknowledge(alarm, "Wren", 300_000)).standing is Standing.NORMAL


def test_an_acknowledged_alarm_that_still_holds_is_told_again() -> None:
    alarm = Alarm("ceiling-passed", None)
    for s in range(0, 70, 10):
        alarm, _ = step(PLAIN, alarm, True, s * 1000)
    alarm = acknowledge(alarm, "Wren", 60_000)
    alarm, change = step(PLAIN, alarm, True, 60_000 + 19 * 60_000)
    assert (alarm.standing, change) == (Standing.ACKNOWLEDGED, None)
    alarm, change = step(PLAIN, alarm, True, 60_000 + 20 * 60_000)
    assert (alarm.standing, change) == (Standing.UNACKNOWLEDGED, Change.AGAIN)


class Life(RuleBasedStateMachine):
    """Walks one alarm and checks each move against the table."""

    def __init__(self) -> None:
        super().__init__()
        self.alarm = Alarm("kiln-limit", None)
        self.now_ms = 0
        self.holds: bool | None = False

    @rule(holds=st.sampled_from([True, False, None]), seconds=st.integers(1, 900))
    def time_passes(self, holds: bool | None, seconds: int) -> None:
        before = self.alarm.standing
        self.now_ms += seconds * 1000
        self.alarm, change = step(LATCHED, self.alarm, holds, self.now_ms)
        after = self.alarm.standing
        allowed = {
            Change.RAISED: {Standing.UNACKNOWLEDGED},
            Change.AGAIN: {Standing.UNACKNOWLEDGED},
            Change.CLEARED: {Standing.LATCHED},
            None: {before},
        }
        assert after in allowed[change]
        if change is Change.RAISED:
            assert before in {Standing.NORMAL, Standing.LATCHED}
            assert holds
        if change is Change.AGAIN:
            assert before is Standing.ACKNOWLEDGED
        if change is Change.CLEARED:
            assert before in {Standing.UNACKNOWLEDGED, Standing.ACKNOWLEDGED}
            assert holds is False

    @rule()
    def somebody_acknowledges(self) -> None:
        before = self.alarm.standing
        self.alarm = acknowledge(self.alarm, "Wren", self.now_ms)
        expected = Standing.ACKNOWLEDGED if before is Standing.UNACKNOWLEDGED else before
        assert self.alarm.standing is expected

    @precondition(lambda self: self.alarm.standing is Standing.LATCHED)
    @rule()
    def somebody_resets(self) -> None:
        seen = self.alarm.acknowledged
        self.alarm = reset(self.alarm)
        assert self.alarm.standing is (Standing.NORMAL if seen else Standing.LATCHED)

    @invariant()
    def an_unacknowledged_alarm_is_never_quiet(self) -> None:
        assert not (self.alarm.quiet and not self.alarm.acknowledged)


Life.TestCase.settings = settings(max_examples=60, stateful_step_count=40, deadline=None)
TestLife = Life.TestCase
