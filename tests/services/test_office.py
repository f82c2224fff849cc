"""What may be done about people, and the weekly message that says the chain still works."""

from collections.abc import Callable
from typing import Any

import pytest

from spyhole.core.refusal import Refusal
from spyhole.services.conditions import Conditions
from spyhole.services.office import EditedMeanwhile, Office
from spyhole.services.people import Channel, People, Rang, Role
from spyhole.services.roster import Roster
from spyhole.services.telling import Telling

WEEK_MS = 7 * 86_400_000


class Heard(Telling):
    """Nobody carries: what is to be carried is written down."""

    def __init__(self) -> None:
        super().__init__()
        self.heard: list[str] = []

    def tell(self, messages: Any) -> None:
        self.heard += [message.key for message in messages]


@pytest.fixture
def office(record: Any, tools: Any) -> tuple[Office, Heard, Any]:
    clock, telling = tools.clock(), Heard()
    roster = Roster(record, People())
    roster.changed = lambda people: telling.follow(people, Conditions(lambda: 0))

    def check(address: str) -> None:
        if "wrong" in address:
            raise Refusal("address", "a message cannot be sent to what stands there")

    made = Office("Puffin", roster, telling, record, lambda: clock.now().utc_ms, check)
    made.add("Ruth", Role.KEEPER)
    made.channel("Ruth", "phone", "json://localhost/", loud=False)
    made.channel("Ruth", "call", "json://localhost/", loud=True)
    return made, telling, clock


def test_the_weekly_message_goes_once_a_week_by_the_channels_that_are_not_loud(office: Any, record: Any) -> None:
    work, telling, clock = office
    work.weekly()
    work.weekly()
    assert len(telling.heard) == 2
    assert record.flush(30.0)
    assert len(record.told_keys(100)) == 1, "the second has the same key"
    clock.ms += WEEK_MS
    work.weekly()
    assert len(set(telling.heard)) == 2
    assert all("/Ruth/phone/" in key for key in telling.heard)


def test_an_address_that_cannot_be_one_and_a_broker_that_is_not_there_are_refused(office: Any) -> None:
    work, _, _ = office
    for address in ("json://wrong", "mqtt:"):
        with pytest.raises(Refusal):
            work.channel("Ruth", "mail", address, loud=False)
    assert [channel.name for channel in work.people().person("Ruth").channels] == ["phone", "call"]


def test_trials_of_one_channel_are_some_seconds_apart(office: Any) -> None:
    work, telling, clock = office
    assert work.test("Ruth", "phone") == "Ruth/phone"
    with pytest.raises(Refusal, match="just now"):
        work.test("Ruth", "phone")
    work.test("Ruth", "call")
    clock.ms += 10_000
    work.test("Ruth", "phone")
    assert len(telling.heard) == 3


@pytest.mark.parametrize("act", [lambda w: w.test("Otto", "phone"), lambda w: w.test("Ruth", "fax")])
def test_a_trial_for_nobody_is_refused(office: Any, act: Callable[[Office], object]) -> None:
    with pytest.raises(Refusal):
        act(office[0])


def test_what_is_shown_has_no_address(office: Any) -> None:
    (ruth,) = office[0].view()
    assert (ruth.name, ruth.role, ruth.quiet_from) == ("Ruth", Role.KEEPER, None)
    assert not hasattr(Channel("phone", "json://localhost/"), "__dict__")
    assert "localhost" not in repr(ruth)


def test_two_who_edit_at_once_do_not_write_over_each_other(office: Any) -> None:
    work, _, _ = office
    seen = work.version()
    work.quiet("Ruth", (1320, 420), seen)
    with pytest.raises(EditedMeanwhile):
        work.remove("Ruth", seen)
    assert work.people().has("Ruth"), "nothing was changed"
    work.role("Ruth", Role.HELPER, work.version())
    assert [(one.role, one.quiet_from, one.by_settings) for one in work.view()] == [(Role.HELPER, 1320, False)]


def test_another_address_is_another_version_and_saying_that_it_rang_is_not(office: Any) -> None:
    work, _, _ = office
    first = work.version()
    work.rang("Ruth", "phone", Rang.YES)
    assert work.version() == first
    work.channel("Ruth", "phone", "json://localhost/another", loud=False)
    assert work.version() != first
    assert "another" not in work.version()


class Door:
    """Hears who goes."""

    def __init__(self, *, only: str) -> None:
        self.only, self.gone = only, list[str]()

    def may_part_with(self, person: str) -> None:
        if person == self.only:
            raise Refusal("person", "the only keeper")

    def part_with(self, person: str) -> None:
        self.gone.append(person)


def test_who_is_removed_cannot_come_in_any_more_and_the_only_keeper_is_not_removed(office: Any) -> None:
    work, _, _ = office
    work.door = door = Door(only="Ruth")
    work.add("Otto", Role.HELPER)
    with pytest.raises(EditedMeanwhile):
        work.remove("Otto", "another version")
    assert door.gone == []
    work.remove("Otto", work.version())
    with pytest.raises(Refusal, match="the only keeper"):
        work.remove("Ruth")
    assert door.gone == ["Otto"]
    assert [one.name for one in work.view()] == ["Ruth"]
