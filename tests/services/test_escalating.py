"""Fault 22, and telling as the watch goes on: steps in time, also across a restart and without any reading."""

import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from spyhole.app.codec import codec
from spyhole.core import watch
from spyhole.core.duty import Duty
from spyhole.core.outcome import PromptOutcome
from spyhole.core.words import Manner
from spyhole.services import keeping as fold
from spyhole.services.archive import ArchiveTrouble, Message
from spyhole.services.conditions import Conditions
from spyhole.services.escalation import LADDERS, MINUTE_MS
from spyhole.services.keeping import Keeping, Said
from spyhole.services.outbox import Outbox
from spyhole.services.people import Channel, People, Person, Role
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import open_archive

PHONE, CALL = Channel("phone", "json://localhost/"), Channel("call", "json://localhost/", loud=True)
PEOPLE = People(
    (
        Person("Ruth", Role.KEEPER, (PHONE, CALL)),
        Person("Ines", Role.KEEPER, (PHONE,)),
        Person("Otto", Role.HELPER, (PHONE,)),
    )
)
FIRST = {"Ruth/phone"}
SECOND = {"Ruth/phone", "Ruth/call", "Ines/phone"}
THIRD = SECOND | {"Otto/phone"}


class Heard(Telling):
    """Nobody carries: what is to be carried is written down, with the time."""

    def __init__(self, outbox: Outbox, now: Callable[[], int]) -> None:
        super().__init__(outbox=outbox)
        self.heard: list[tuple[int, Message]] = []
        self._now = now

    def tell(self, messages: Any) -> None:
        self.heard += [(self._now(), message) for message in messages]


class Room:
    """A watch, held by Ruth, with a real record; `again` is the same room after a restart."""

    def __init__(
        self, tools: Any, kiln: Any, plan: Any, folder: Path, clock: Any = None, people: People = PEOPLE
    ) -> None:
        self.tools, self.kiln, self.plan, self.folder = tools, kiln, plan, folder
        self.clock = clock or tools.clock()
        self.conditions = Conditions(lambda: self.clock.now().utc_ms)
        self.record = open_archive(folder, seconds=time.monotonic, tell=self.conditions.told)
        link = lambda purpose, subject, person, utc_ms: f"http://kiln/link/{purpose}.{subject}.{person}"  # noqa: E731
        outbox = Outbox(lambda: people, self.record.told_keys(1000), link, rule="phone Mina.")
        self.telling = Heard(outbox, lambda: self.clock.ms)
        self.telling.kept = lambda: people
        studio = Studio(kiln, plan, "", "", Manner(), 10.0)
        self.keeper = Watchkeeper(studio, self.clock, self.record, self.telling, self.conditions, codec())
        self.keeper.recover()
        self.next: Room | None = None

    def close(self) -> None:
        if self.next is not None:
            self.next.close()
        else:
            self.keeper.close()
            assert self.record.close(30.0)

    def again(self) -> "Room":
        self.keeper.close()
        assert self.record.close(30.0)
        self.clock.boot = f"{self.clock.boot}x"
        self.next = Room(self.tools, self.kiln, self.plan, self.folder, self.clock)
        return self.next

    def heat_until_told(self) -> None:
        celsius = 20.0
        self.keeper.take_watch("Ruth", "")
        self.keeper.enter("start", "", "06", "Ruth")
        while not [m for _, m in self.telling.heard if "/a1/" in m.key]:
            self.clock.ms += 10_000
            celsius += 3
            self.keeper.take(self.tools.reading(round(celsius * 128) / 128))
            assert celsius < 1400

    def wait(self, seconds: float) -> None:
        """Nothing is read; somebody looks each second, as the daemon does."""
        for _ in range(round(seconds)):
            self.clock.ms += 1000
            self.keeper.escalate()

    def told(self, episode: str = "a1") -> dict[str, tuple[int, set[str]]]:
        """When each step was told, and to whom."""
        steps: dict[str, tuple[int, set[str]]] = {}
        for at, message in self.telling.heard:
            _, subject, rest = message.key.split("/", 2)
            step = rest.rpartition("/")[2]
            if subject == episode:
                when, who = steps.get(step, (at, set()))
                assert message.recipient not in who, "nobody is told the same twice"
                steps[step] = when, who | {message.recipient}
        return steps


@pytest.fixture
def room(tools: Any, kiln: Any, plan: Any, tmp_path: Path) -> Iterator[Room]:
    made = Room(tools, kiln, plan, tmp_path / "room")
    made.heat_until_told()
    yield made
    made.close()


def test_fault_22_nobody_acknowledges_three_steps_each_in_time_and_an_answer_ends_it(room: Room) -> None:
    began = room.clock.ms
    room.wait(17 * 60)
    told = room.told()
    assert {step: who for step, (_, who) in told.items()} == {"0": FIRST, "0.1": SECOND, "0.2": THIRD, "0.3": THIRD}
    for step, minutes in (("0", 0), ("0.1", 3), ("0.2", 6), ("0.3", 16)):
        assert 0 <= told[step][0] - began - minutes * MINUTE_MS <= 2000, step
    room.keeper.acknowledge("a1", "Ines")
    room.wait(3600)
    assert room.told() == told


def test_a_restart_goes_on_where_it_was(room: Room) -> None:
    began = room.clock.ms
    room.wait(4 * 60)
    assert set(room.told()) == {"0", "0.1"}
    second = room.again()
    second.wait(60)
    assert second.told() == {}
    second.wait(90)
    assert second.told()["0.2"][1] == THIRD
    assert abs(second.told()["0.2"][0] - began - 6 * MINUTE_MS) <= 2000


def test_after_a_gap_only_the_newest_step_is_told(room: Room) -> None:
    second = room.again()
    second.clock.ms += 40 * MINUTE_MS
    second.keeper.escalate()
    assert set(second.told()) == {"0.5"}


def test_later_steps_say_how_long_nobody_has_answered_and_carry_each_persons_own_link(room: Room) -> None:
    room.wait(181)
    texts = {message.recipient: message.text for _, message in room.telling.heard if message.key.endswith("/0.1")}
    assert texts["Ines/phone"].startswith("Nobody has answered for 3 minutes. The middle ring")
    _, end, link = texts["Ines/phone"].split("\n")
    assert end == "If you are away, phone Ruth or Otto. If nobody is there in ten minutes: phone Mina."
    assert link == "http://kiln/link/acknowledge.a1.Ines"
    assert all(message.urgent for _, message in room.telling.heard if "/a1/" in message.key)


def test_who_takes_the_watch_is_told_what_stands(room: Room) -> None:
    room.keeper.take_watch("Ines", "it has been quiet")
    assert room.told()["0"][1] == {"Ruth/phone", "Ines/phone"}


def test_every_message_is_in_the_record_before_it_is_carried(room: Room) -> None:
    room.wait(200)
    assert room.record.flush(30.0)
    assert {m.key for _, m in room.telling.heard} == set(room.record.told_keys(1000))


def test_a_turn_is_said_once_to_whoever_holds_the_watch(tools: Any, kiln: Any, plan: Any) -> None:
    turn = PromptOutcome(0, "turn-due", (("stage", "high"), ("turns", "bottom high")))
    held = replace(watch.begin(), duty=Duty("Ines"))
    keeping = Keeping(held, said=(Said(7, 180 * MINUTE_MS, turn),))
    studio, outbox = Studio(kiln, plan, "", "", Manner(), 10.0), Outbox(lambda: PEOPLE)
    (message,) = outbox.draw(keeping, studio, tools.clock().now())
    assert (message.key, message.recipient) == ("Puffin/p7/Ines/phone/0", "Ines/phone")
    assert message.title == "Puffin: Time to turn (p7-0)"
    assert not message.urgent
    assert outbox.draw(keeping, studio, tools.clock().now()) == [message], "until it was handed over"
    outbox.posted([message])
    assert outbox.draw(keeping, studio, tools.clock().now()) == []


def test_quiet_hours_are_for_turns_and_not_for_the_question_whether_you_are_in_reach(
    tools: Any, kiln: Any, plan: Any
) -> None:
    ruth = Person("Ruth", Role.KEEPER, (PHONE,), quiet=(22 * 60, 7 * 60))
    turn = PromptOutcome(0, "turn-due", (("stage", "high"), ("turns", "bottom high")))
    reach = PromptOutcome(0, "in-reach", (("why", "high"), ("who", "Ruth"), ("down_utc_ms", None)))
    held = replace(watch.begin(), duty=Duty("Ruth"))
    keeping = Keeping(held, said=(Said(7, 180 * MINUTE_MS, turn), Said(8, 10 * MINUTE_MS, reach)))
    outbox = Outbox(lambda: People((ruth,)), link=lambda purpose, subject, person, _: f"{purpose}.{subject}.{person}")
    studio, clock = Studio(kiln, plan, "", "", Manner(), 10.0), tools.clock()
    clock.boot = held.line.boot
    (message,) = outbox.draw(keeping, studio, clock.now())
    assert message.title == "Puffin: Are you in reach? (p8-0)"
    assert message.text.endswith("\nin-reach.p8.Ruth")
    outbox.posted([message])
    clock.ms += 200 * MINUTE_MS
    assert outbox.draw(keeping, studio, clock.now()) == [], "no news any more"


ASKED = (("stage", "high"), ("turns", "bottom high"))


@pytest.mark.parametrize(
    ("answer", "at_once", "later"),
    [
        ("", {"Ruth/phone"}, {"Ruth/phone"}),
        ("in reach", set(), {"Ruth/phone"}),
        ("no answer", {"Ruth/phone", "Ines/phone"}, {"Ruth/phone", "Ines/phone"}),
    ],
)
def test_a_turn_that_was_asked_about_is_told_again_once_it_is_overdue_or_to_others_when_nobody_answered(
    tools: Any, kiln: Any, plan: Any, answer: str, at_once: set[str], later: set[str]
) -> None:
    held = replace(watch.begin(), duty=Duty("Ruth"))
    due = PromptOutcome(0, "turn-due", (*ASKED, ("answer", answer)))
    (said,) = fold.said_of(held, (due,))
    studio, outbox = Studio(kiln, plan, "", "", Manner(), 10.0), Outbox(lambda: PEOPLE)
    clock = tools.clock()
    clock.boot = held.line.boot
    keeping = Keeping(held, said=(said,))
    assert {one.recipient for one in outbox.draw(keeping, studio, clock.now())} == at_once
    clock.ms += fold.OVERDUE_MS
    assert {one.recipient for one in outbox.draw(keeping, studio, clock.now())} == later


def test_a_record_that_is_begun_anew_has_the_people(room: Room) -> None:
    def there() -> bool:
        room.record.flush(1.0)
        try:
            return room.record.people() == PEOPLE
        except ArchiveTrouble:
            return False  # just while one is moved aside

    assert not there()
    room.record.begin_anew()
    deadline = time.monotonic() + 120
    while not there():
        assert time.monotonic() < deadline
        time.sleep(0.01)


def test_with_disk_and_channels_gone_what_is_due_is_still_known_and_told_by_memory(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("spyhole.store.writer.Writer._commit", lambda *_: (_ for _ in ()).throw(OSError("gone")))
    room.wait(400)
    assert set(room.told()) == {"0", "0.1", "0.2"}
    monkeypatch.undo()
    assert room.record.flush(30.0)
    assert {m.key for _, m in room.telling.heard} == set(room.record.told_keys(1000))


def test_the_ladders_of_this_test_are_those_of_the_product() -> None:
    assert [ladder.after_minutes for ladder in LADDERS.values()] == [(3.0, 6.0), (20.0, 45.0), ()]
