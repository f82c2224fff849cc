"""The life of one alarm against the table of ISA-18.2-2016 / IEC 62682:2014, shelving and latching as in OPC UA Part 9.

The table is from memory of those standards. A machine walks an alarm through everything that can happen to it, in any
order, and a second, plainer account of the same table says where it must stand.
"""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from pydantic import TypeAdapter

from spyhole.core.alarms.book import AlarmBook, Judgement, acknowledge_episode, judge, reset_episode, serve, shelve
from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.alarms.life import HISTORY_AT_MOST, Alarm, Change, Standing, acknowledge, beyond, cover, reset, step
from spyhole.core.journal import OutOfService, Shelving
from spyhole.core.outcome import Action, AlarmOutcome, Priority

PLAIN = CATALOGUE["ceiling-passed"]
LATCHED = CATALOGUE["kiln-limit"]
TICK = 10

TABLE = {
    ("normal", "true for its on-delay"): "unacknowledged",
    ("unacknowledged", "acknowledged"): "acknowledged",
    ("unacknowledged", "clears"): "returned",
    ("unacknowledged", "worse level"): "unacknowledged",
    ("acknowledged", "clears"): "normal",
    ("acknowledged", "re-alarm time"): "unacknowledged",
    ("acknowledged", "worse level"): "unacknowledged",
    ("returned", "acknowledged"): "normal",
    ("returned", "true for its on-delay"): "unacknowledged",
    ("latched", "true for its on-delay"): "unacknowledged",
    ("latched", "acknowledged"): "latched",
    ("latched", "reset once acknowledged"): "normal",
}
"""From, on, to. A latched rule goes to latched wherever another clears."""


def run(holds: list[bool | None]) -> list[tuple[Standing, Change | None]]:
    alarm, seen = Alarm("ceiling-passed", None), []
    for i, one in enumerate(holds):
        alarm, change = step(PLAIN, alarm, one, i * 1000 * TICK)
        seen.append((alarm.standing, change))
    return seen


ON, OFF = PLAIN.on_delay_seconds // TICK, PLAIN.off_delay_seconds // TICK


def test_nothing_is_said_before_the_on_delay() -> None:
    seen = run([True] * ON + [False])
    assert {s for s, _ in seen} == {Standing.NORMAL}
    assert run([True] * (ON + 1))[-1] == (Standing.UNACKNOWLEDGED, Change.RAISED)


def test_no_data_is_never_all_clear() -> None:
    assert run([True] * (ON + 1) + [None] * 500)[-1][0] is Standing.UNACKNOWLEDGED


def test_noise_at_the_limit_says_nothing() -> None:
    assert all(change is None for _, change in run([True, False] * 200))


def test_clear_is_beyond_the_deadband_for_the_off_delay() -> None:
    """Limit 100, deadband 5: 97 neither raises nor clears; 94 clears, after its delay."""
    raised = [beyond(101.0, 100.0, 5.0)] * (ON + 1)
    assert run([*raised, *[beyond(97.0, 100.0, 5.0)] * 500])[-1][0] is Standing.UNACKNOWLEDGED
    below = [beyond(94.0, 100.0, 5.0)]
    assert run([*raised, *below * OFF])[-1][0] is Standing.UNACKNOWLEDGED
    assert run([*raised, *below * (OFF + 1)])[-1] == (Standing.RETURNED, Change.CLEARED)
    assert {s for s, _ in run([beyond(97.0, 100.0, 5.0)] * 500)} == {Standing.NORMAL}


def test_a_latched_alarm_waits_for_its_reset() -> None:
    alarm = Alarm("kiln-limit", None)
    for s in range(0, LATCHED.on_delay_seconds + TICK, TICK):
        alarm, _ = step(LATCHED, alarm, True, s * 1000)
    for s in range(100, 100 + LATCHED.off_delay_seconds + TICK, TICK):
        alarm, _ = step(LATCHED, alarm, False, s * 1000)
    assert alarm.standing is Standing.LATCHED
    assert reset(alarm).standing is Standing.LATCHED
    assert reset(acknowledge(alarm, "Wren", 300_000)).standing is Standing.NORMAL


def test_a_history_says_who_did_what_and_has_an_end() -> None:
    alarm = Alarm("ceiling-passed", None)
    for s in range(0, PLAIN.on_delay_seconds + TICK, TICK):
        alarm, _ = step(PLAIN, alarm, True, s * 1000)
    alarm = acknowledge(alarm, "Wren", 61_000)
    assert [(d.at_ms, d.kind.value, d.who) for d in alarm.history] == [
        (PLAIN.on_delay_seconds * 1000, "raised", ""),
        (61_000, "acknowledged", "Wren"),
    ]
    for i in range(200):
        alarm, _ = cover(alarm, i, shelf=None, out=i % 2 == 0, by_design=False, who="Mina", reason="a lead")
    assert len(alarm.history) == HISTORY_AT_MOST
    assert alarm.history[-1].who == "Mina"


class Account:
    """The table, applied by hand. Knows the condition, its delays, and overlays; nothing of the code under test."""

    def __init__(self, tag: str) -> None:
        self.declared = CATALOGUE[tag]
        self.state, self.acked = "normal", True
        self.raw, self.raw_since, self.on = False, 0, False
        self.acked_at, self.level = 0, 0
        self.shelved_until: int | None = None
        self.out = self.designed = False

    @property
    def overlay(self) -> str | None:
        if self.out:
            return "out of service"
        return "shelved" if self.shelved_until is not None else "suppressed by design" if self.designed else None

    def event(self, what: str) -> None:
        if what == "clears" and self.declared.latched:
            self.state = "latched"
        else:
            self.state = TABLE.get((self.state, what), self.state)
        if self.state != "latched":
            self.acked = self.state in ("normal", "acknowledged")

    def tick(self, holds: bool | None, now: int, level: int) -> None:
        if holds is None:
            return
        if holds != self.raw:
            self.raw, self.raw_since = holds, now
        held = now - self.raw_since
        if holds and not self.on and held >= self.declared.on_delay_seconds:
            self.on, self.level = True, level
            self.event("true for its on-delay")
        elif not holds and self.on and held >= self.declared.off_delay_seconds:
            self.on = False
            self.event("clears")
        elif self.on and level > self.level:
            self.level = level
            self.event("worse level")
        elif self.overlay is None and now - self.acked_at >= self.declared.again_minutes * 60:
            self.event("re-alarm time")

    def acknowledge(self, now: int) -> None:
        if not self.acked:
            self.acked_at = now
            self.acked = True
            self.event("acknowledged")

    def uncovered(self) -> None:
        """An overlay has gone. Judged again: true is unacknowledged."""
        if self.overlay is not None:
            return
        if self.on:
            self.state, self.acked = "unacknowledged", False
        elif self.state != "latched":
            self.state, self.acked = "normal", True


class Life(RuleBasedStateMachine):
    """Walks one alarm through the book and holds each stand against the account."""

    @initialize(tag=st.sampled_from(["ceiling-passed", "kiln-limit", "heat-lost", "blind"]))
    def begin(self, tag: str) -> None:
        self.tag, self.book, self.account = tag, AlarmBook(), Account(tag)
        self.now = 0
        self.candling = True
        self.said: list[AlarmOutcome] = []
        self.episodes: list[str] = []

    @property
    def alarm(self) -> Alarm | None:
        return self.book.alarms[0] if self.book.alarms else None

    def take(self, after: tuple[AlarmBook, tuple[AlarmOutcome, ...]]) -> None:
        before = None if self.alarm is None else self.alarm.episode
        self.book, outcomes = after
        for one in outcomes:
            if one.tell:
                assert self.alarm is not None
                assert one.action is Action.RAISE
                assert self.alarm.calls, "who is told is waited for"
            if one.episode not in self.episodes:
                assert before in (None, "", one.episode), "what recurs stays in its episode"
                number = int(one.episode[1:])
                assert all(int(old[1:]) < number for old in self.episodes), "no number comes twice"
                self.episodes.append(one.episode)
        self.said += outcomes

    @rule(holds=st.sampled_from([True, True, False, None]), ticks=st.integers(1, 60), candling=st.booleans())
    def time_passes(self, holds: bool | None, ticks: int, candling: bool) -> None:
        self.candling = candling
        account = self.account
        for _ in range(ticks):
            self.now += TICK
            priority = account.declared.priority_when(candling)
            account.tick(holds, self.now, ["low", "medium", "high"].index(priority.value))
            if account.shelved_until is not None and self.now >= account.shelved_until:
                account.shelved_until = None
                account.uncovered()
            by_design = frozenset({self.tag} if account.designed else ())
            found = Judgement(self.tag, "top", holds)
            self.take(judge(self.book, (found,), candling, self.now * 1000, self.now * 1000, by_design))
            self.it_stands_where_the_table_says()

    @rule()
    def somebody_acknowledges(self) -> None:
        if self.alarm is not None and self.alarm.episode:
            self.account.acknowledge(self.now)
            self.book = acknowledge_episode(self.book, self.alarm.episode, "Wren", self.now * 1000)

    @rule()
    def somebody_resets(self) -> None:
        if self.alarm is not None:
            if self.account.acked:
                self.account.event("reset once acknowledged")
            self.book = reset_episode(self.book, self.alarm.episode, "Wren", self.now * 1000)

    @rule(minutes=st.integers(1, 90))
    def somebody_shelves(self, minutes: int) -> None:
        at_most = 15 if self.account.declared.priority is Priority.HIGH else 60
        self.account.shelved_until = self.now + min(minutes, at_most) * 60
        told = Shelving(self.tag, "top", minutes, "looked at it", "Mina")
        self.take(shelve(self.book, told, self.now * 1000, self.now * 1000))

    @precondition(lambda self: self.account.shelved_until is not None)
    @rule()
    def somebody_takes_it_back(self) -> None:
        self.account.shelved_until = None
        self.account.uncovered()
        self.take(shelve(self.book, Shelving(self.tag, "top", 0, "", "Mina"), self.now * 1000, self.now * 1000))

    @rule()
    def the_probe_goes_out_of_service_or_comes_back(self) -> None:
        self.account.out = not self.account.out
        if not self.account.out:
            self.account.uncovered()
        told = OutOfService("top", self.account.out, "a worn lead", "Mina")
        self.take(serve(self.book, told, self.now * 1000, self.now * 1000))

    @rule()
    def a_phase_begins_or_ends(self) -> None:
        """Seen with the next round."""
        self.account.designed = not self.account.designed
        by_design = frozenset({self.tag} if self.account.designed else ())
        if not self.account.designed:
            self.account.uncovered()
        self.take(judge(self.book, (), self.candling, self.now * 1000, self.now * 1000, by_design))

    @rule()
    def the_daemon_starts_again(self) -> None:
        """All of it is in the state, and the state in a checkpoint."""
        kept = TypeAdapter(AlarmBook)
        self.book = kept.validate_json(kept.dump_json(self.book))

    @invariant()
    def it_stands_where_the_table_says(self) -> None:
        account, alarm = self.account, self.alarm
        if alarm is None:
            assert (account.state, account.on, account.shelved_until) == ("normal", False, None)
            return
        assert alarm.standing.value == (account.overlay or account.state)
        assert alarm.active == account.on, "an overlay stops nothing beneath it"
        assert alarm.calls == (account.overlay is None and not account.acked and account.state != "returned")
        assert alarm.episode or not alarm.active

    @invariant()
    def the_record_has_a_clear_for_each_raise(self) -> None:
        up = False
        for one in self.said:
            assert up or one.action is Action.RAISE
            up = one.action is Action.RAISE

    @invariant()
    def nothing_is_told_under_an_overlay(self) -> None:
        assert not any(one.tell and "overlay" in dict(one.facts) for one in self.said)


Life.TestCase.settings = settings(max_examples=100, stateful_step_count=30, deadline=None)
TestLife = Life.TestCase
