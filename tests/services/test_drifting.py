"""A probe that drifts is told to each keeper once, by day, outside their quiet hours, and to nobody as an alarm."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from spyhole.core.words import Manner
from spyhole.services.care import Drifting
from spyhole.services.drifting import DriftNews
from spyhole.services.people import Channel, People, Person, Role
from spyhole.services.telling import Telling

DUBLIN = Manner(ZoneInfo("Europe/Dublin"))
MAIL, CALL = Channel("mail", "mailto://x"), Channel("call", "tel://x", loud=True)
RUTH = Person("Ruth", channels=(MAIL, CALL))
OTTO = Person("Otto", role=Role.HELPER, channels=(MAIL,))
TOP = Drifting("top", 0, "The top probe seems to drift: by its cones it reads about 12 lower than it did.")


def at(hour: int, day: int = 3) -> int:
    return round(datetime(2031, 11, day, hour, 30, tzinfo=DUBLIN.zone).timestamp() * 1000)


class News:
    """found, people and now may be changed; messages are what stands in the record."""

    def __init__(self, record: Any, people: tuple[Person, ...] = (RUTH, OTTO)) -> None:
        self.record, self.people, self.now, self.found = record, people, at(10), (TOP,)
        self.again()

    def again(self) -> None:
        """As after a restart."""
        self.news = DriftNews(
            "Puffin", lambda: People(self.people), Telling(), self.record, lambda: self.found, DUBLIN,
            lambda: self.now, "https://kiln.example",
        )  # fmt: skip

    def look(self) -> list[tuple[str, str, bool]]:
        """(recipient, title, urgent) of what is told now."""
        before = {one.message.key for one in self.record.pending_messages()}
        count = self.news.look()
        assert self.record.flush(30.0)
        told = [one.message for one in self.record.pending_messages() if one.message.key not in before]
        assert len(told) == count
        return [(one.recipient, one.title, one.urgent) for one in told]


@pytest.fixture
def news(record: Any) -> News:
    return News(record)


def test_it_is_told_to_keepers_by_their_quiet_channels_and_not_as_an_alarm(news: News) -> None:
    assert news.look() == [("Ruth/mail", "Puffin: the top probe seems to drift", False)]
    (told,) = news.record.pending_messages()
    assert told.message.text == f"{TOP.words}\nAll of it: https://kiln.example/care"


def test_once_also_after_a_restart(news: News) -> None:
    assert news.look()
    assert news.look() == []
    news.again()
    news.now = at(10, day=20)
    assert news.look() == []


@pytest.mark.parametrize("hour", [0, 3, 6, 21, 23])
def test_never_by_night(news: News, hour: int) -> None:
    news.now = at(hour)
    assert news.look() == []
    news.now = at(9, day=4)
    assert len(news.look()) == 1


def test_whoever_sleeps_late_hears_of_it_when_they_wake(record: Any) -> None:
    news = News(record, (Person("Ruth", channels=(MAIL,), quiet=(22 * 60, 11 * 60)), Person("Mina", channels=(MAIL,))))
    assert [to for to, _, _ in news.look()] == ["Mina/mail"]
    news.now = at(12)
    assert [to for to, _, _ in news.look()] == ["Ruth/mail"]


def test_another_probe_in_its_place_that_drifts_is_told_anew_and_so_is_another_ring_s(news: News) -> None:
    assert news.look()
    news.found = (Drifting("top", at(8, day=1), TOP.words),)
    assert len(news.look()) == 1
    news.found = (*news.found, Drifting("middle", 0, TOP.words))
    assert [title for _, title, _ in news.look()] == ["Puffin: the middle probe seems to drift"]


def test_nothing_is_told_where_nothing_drifts(news: News) -> None:
    news.found = ()
    assert news.look() == []
