"""People: names, channels, quiet hours over midnight and summer time; and an address that is never shown."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from spyhole.core.refusal import Refusal
from spyhole.services.people import Channel, People, Person, Rang, Role
from spyhole.services.roster import Roster

SECRET = "json://hunter2@localhost/"


def at(text: str, zone: str = "UTC") -> int:
    return round(datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone)).timestamp() * 1000)


def test_a_person_has_channels_and_each_change_is_another_list() -> None:
    before = People().add("Ruth", Role.KEEPER)
    after = before.with_channel("Ruth", Channel("phone", SECRET)).with_rang("Ruth", "phone", Rang.YES, 7)
    assert before.person("Ruth").channels == ()
    assert after.person("Ruth").channel("phone").rang is Rang.YES
    assert after.without_channel("Ruth", "phone") == before
    assert after.remove("Ruth") == People()
    assert after.knows("Ruth")
    assert not before.knows("Ruth")


def test_an_address_is_in_no_words() -> None:
    people = People().add("Ruth", Role.KEEPER).with_channel("Ruth", Channel("phone", SECRET))
    assert "hunter2" not in repr(people)
    with pytest.raises(Refusal) as refused:
        people.with_channel("Ruth", Channel("mail", "no address hunter2"))
    assert "hunter2" not in str(refused.value)


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda p: p.add("Ruth", Role.HELPER), "already"),
        (lambda p: p.add("a/b", Role.HELPER), "no name"),
        (lambda p: p.add("", Role.HELPER), "no name"),
        (lambda p: p.remove("Otto"), "nobody is called 'Otto'; there are Ruth"),
        (lambda p: p.without_channel("Ruth", "fax"), "no channel called 'fax'; there are none"),
        (lambda p: p.with_quiet("Ruth", (60, 60)), "no hours"),
        (lambda p: p.with_quiet("Ruth", (60, 1440)), "no hours"),
    ],
)
def test_what_cannot_be_is_refused(edit: Any, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        edit(People().add("Ruth", Role.KEEPER))


@pytest.mark.parametrize(
    ("quiet", "when", "expected"),
    [
        ((22 * 60, 7 * 60), "2031-10-30T22:00", True),
        ((22 * 60, 7 * 60), "2031-10-30T21:59", False),
        ((22 * 60, 7 * 60), "2031-10-31T06:59", True),
        ((22 * 60, 7 * 60), "2031-10-31T07:00", False),
        ((13 * 60, 14 * 60), "2031-10-31T13:30", True),
        ((13 * 60, 14 * 60), "2031-10-31T14:00", False),
        (None, "2031-10-31T03:00", False),
    ],
)
def test_quiet_hours_are_of_the_studios_day(quiet: Any, when: str, expected: bool) -> None:
    zone = ZoneInfo("Europe/Dublin")
    assert Person("Ruth", quiet=quiet).is_quiet(at(when, "Europe/Dublin"), zone) is expected


def test_on_the_night_that_has_an_hour_more_quiet_hours_end_by_the_clock_on_the_wall() -> None:
    ruth, zone = Person("Ruth", quiet=(22 * 60, 7 * 60)), ZoneInfo("Europe/Dublin")
    # Summer time ended on 2031-10-26 at 01:00 UTC, so 07:00 in Dublin was 06:00 UTC before and 07:00 UTC after.
    assert ruth.is_quiet(round(datetime(2031, 10, 26, 6, 30, tzinfo=UTC).timestamp() * 1000), zone)
    assert not ruth.is_quiet(round(datetime(2031, 10, 26, 7, 0, tzinfo=UTC).timestamp() * 1000), zone)
    assert not ruth.is_quiet(round(datetime(2031, 10, 25, 6, 30, tzinfo=UTC).timestamp() * 1000), zone)


def test_the_record_gives_people_back_as_they_were(record: Any) -> None:
    roster = Roster(record, People(), (Person("keeper", channels=(Channel("", ""),)),))
    assert roster.change(lambda p: p.add("Ruth", Role.HELPER).with_channel("Ruth", Channel("phone", SECRET, True)))
    assert roster.change(lambda p: p.with_rang("Ruth", "phone", Rang.NO, 12).add("Ines", Role.KEEPER))
    assert roster.change(lambda p: p.with_quiet("Ruth", (1320, 420)))
    kept = record.people()
    assert People((roster.people.everybody[0], *kept.everybody)) == roster.people
    assert [person.name for person in kept.everybody] == ["Ruth", "Ines"]
    assert kept.person("Ruth").channel("phone") == Channel("phone", SECRET, True, Rang.NO, 12)
    with pytest.raises(Refusal, match="the settings name keeper"):
        roster.change(lambda p: p.add("keeper", Role.KEEPER))
    assert record.people() == kept
