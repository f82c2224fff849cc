"""What stands is shown once, and what is put aside is never out of sight."""

from dataclasses import replace
from typing import Any

import pytest

from spyhole.core import watch
from spyhole.core.alarms.book import AlarmBook
from spyhole.core.alarms.life import Alarm, DeedKind
from spyhole.core.duty import ask
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, InReach, Row, Settings, Shelving, Told, WatchFault, WatchTaken
from spyhole.core.kiln import Kiln
from spyhole.core.moment import Moment
from spyhole.core.outcome import Priority
from spyhole.core.plan import Plan
from spyhole.core.reading import ProbeReading, Reading
from spyhole.core.words import Manner
from spyhole.services.portray import portray
from spyhole.services.snapshot import ConditionView, Snapshot
from spyhole.services.standing import DEED_WORDS

UTC_MS = 1_951_155_600_000
FULL = ConditionView("watch-disk", UTC_MS, "The disk is full. Make room on the card.")


class Seen:
    """A cold kiln, watched; what the page would show of it."""

    def __init__(self, kiln: Kiln, plan: Plan) -> None:
        self.state, self.ms, self.sequence = watch.begin(), 0, 0
        self.tell(Clock(UTC_MS, True))
        self.tell(Settings(kiln, plan))

    def tell(self, told: Told) -> None:
        self.sequence += 1
        self.state, _ = watch.step(self.state, Row("Puffin", self.sequence, "b", self.ms, told))

    def watch(self, minutes: float) -> None:
        for _ in range(round(minutes * 6)):
            self.ms += 10_000
            self.tell(Reading((ProbeReading(20.0),)))

    def shown(self, *conditions: ConditionView) -> Snapshot:
        now = Moment("b", self.ms, UTC_MS + self.ms, True)
        about: dict[str, Any] = {"speed": 1.0, "tick_seconds": 10.0, "emulated": False, "manner": Manner()}
        return portray(self.state, now, conditions=conditions, **about)


@pytest.fixture
def page(kiln: Kiln, plan: Plan) -> Seen:
    return Seen(kiln, plan)


def test_a_fault_of_the_watch_becomes_an_alarm_in_its_own_words_and_is_shown_once(page: Seen) -> None:
    page.watch(2)
    assert [one.code for one in page.shown(FULL).conditions] == ["watch-disk"], "before it is an alarm"
    page.tell(WatchFault("watch-disk", True))
    page.watch(10)
    shown = page.shown(FULL)
    assert shown.conditions == ()
    (alarm,) = shown.alarms
    assert (alarm.tag, alarm.ring) == ("watch-disk", None)
    assert alarm.seen.endswith(FULL.words)


def test_put_aside_it_stands_among_the_conditions_and_in_the_sentence(page: Seen) -> None:
    page.tell(WatchFault("watch-disk", True))
    page.watch(10)
    page.tell(Shelving("watch-disk", None, 30, "a new card is ordered", "Mina"))
    shown = page.shown(FULL)
    assert shown.alarms == ()
    assert [one.code for one in shown.conditions] == ["watch-disk"]
    assert [(one.tag, one.holds, one.who) for one in shown.shelved] == [("watch-disk", True, "Mina")]
    assert shown.shelved[0].until_utc_ms == UTC_MS + page.ms + 30 * 60_000
    assert shown.mood == "minded"
    assert "put aside until" in shown.sentence


def test_what_is_over_on_the_shelf_makes_nobody_worry(page: Seen) -> None:
    page.tell(WatchFault("watch-disk", True))
    page.watch(10)
    page.tell(Shelving("watch-disk", None, 60, "a new card is ordered", "Mina"))
    page.tell(WatchFault("watch-disk", False))
    page.watch(20)
    shown = page.shown()
    assert [one.holds for one in shown.shelved] == [False]
    assert (shown.mood, shown.alarms) == ("idle", ())
    assert "put aside" not in shown.sentence


def test_the_watch_says_who_holds_it_and_what_is_asked(page: Seen) -> None:
    page.tell(WatchTaken("Wren", "Medium since six"))
    page.ms += 60_000
    page.watch(1)
    page.state = replace(page.state, duty=ask(page.state.duty, "cone 06 should drop at 13:21", page.state.line.now_ms))
    duty = page.shown().duty
    assert (duty.holder, duty.note, duty.taken_utc_ms) == ("Wren", "Medium since six", UTC_MS)
    assert duty.asked is not None
    assert duty.asked.words == "Are you in reach? Cone 06 should drop at 13:21."


def test_whoever_is_given_the_watch_is_asked_and_not_shown_in_reach_before_they_answer(page: Seen) -> None:
    page.tell(WatchTaken("Mina"))
    page.watch(1)
    duty = page.shown().duty
    assert (duty.holder, duty.reached_by, duty.reached_utc_ms) == ("Mina", "", None)
    assert duty.asked is None, "nobody is asked about a cold kiln"
    page.tell(Entry(EntryKind.START, "", "06", "Mina"))
    page.watch(1)
    page.tell(WatchTaken("Wren", "Medium since six"))
    given_utc_ms = UTC_MS + page.ms
    page.watch(1)
    duty = page.shown().duty
    assert (duty.holder, duty.reached_by, duty.reached_utc_ms) == ("Wren", "", None)
    assert duty.asked is not None
    assert (duty.asked.words, duty.asked.since_utc_ms) == (
        "Are you in reach? The watch was handed to you.", given_utc_ms,
    )  # fmt: skip
    page.tell(InReach("Wren"))
    page.watch(1)
    duty = page.shown().duty
    assert duty.asked is None
    assert (duty.reached_by, duty.reached_utc_ms) == ("Wren", given_utc_ms + 60_000)


def test_every_deed_has_its_words() -> None:
    assert set(DEED_WORDS) == set(DeedKind)


def test_heat_that_has_come_back_is_said_before_heat_that_was_lost(page: Seen) -> None:
    """Both hold for some minutes; whoever reads it stands before a kiln that heats."""
    page.watch(1)
    lost, back = (
        Alarm(tag, None, holds=True, active=True, acknowledged=False, episode="a1", raised_utc_ms=raised, facts=facts)
        for tag, raised, facts in (
            ("heat-lost", UTC_MS, (("since_utc_ms", UTC_MS),)),
            ("power-back", UTC_MS + 2_400_000, (("minutes", 41),)),
        )
    )
    both = tuple(replace(alarm, priority=Priority.HIGH) for alarm in (lost, back))
    page.state = replace(page.state, alarms=AlarmBook(both, 1))
    shown = page.shown()
    (alarm,) = shown.alarms
    assert (alarm.tag, alarm.since_utc_ms) == ("power-back", UTC_MS + 2_400_000)
    assert alarm.first_action.startswith("All switches off before anything else")
    assert alarm.joined == ("The heat has gone",)
    assert "heats again after about 41 minutes" in shown.sentence
