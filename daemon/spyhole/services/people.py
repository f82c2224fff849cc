"""Who can be told, and how: people with their channels, quiet hours and role. Pure; the record keeps them whole.

An address is a secret: it carries tokens and passwords. It is in no `repr`, no sentence, and nothing that is shown.
"""

import re
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, tzinfo
from enum import StrEnum

from spyhole.core.refusal import Refusal

NAME_AT_MOST = 40
PEOPLE_AT_MOST = 30
CHANNELS_AT_MOST = 6
TO_PHONE_AT_MOST = 3
ADDRESS = re.compile(r"[a-zA-Z0-9+]+:\S+")
STUDIO_BROKER = "mqtt:"
"""The address of a channel through the studio's own broker, which the settings name."""

NIGHT = (22 * 60, 7 * 60)
"""Whoever has no quiet hours has these where something waits for the morning. Minutes of the studio's day."""


class Role(StrEnum):
    """keeper: takes a watch, and is told next. helper: is told when no keeper answers."""

    KEEPER = "keeper"
    HELPER = "helper"


class Rang(StrEnum):
    """Whether a trial message really reached the person, as they said themselves."""

    UNKNOWN = "unknown"
    YES = "yes"
    NO = "no"


@dataclass(frozen=True, slots=True)
class Channel:
    """One way to reach a person. address: one apprise URL, or `mqtt:` for the studio's broker.

    loud: kept for when nobody has answered (a call, an SMS). rang_utc_ms: when `rang` was said, None for never.
    name: "" for the one channel of somebody the settings name.
    """

    name: str
    address: str = field(repr=False)
    loud: bool = False
    rang: Rang = Rang.UNKNOWN
    rang_utc_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """quiet: from, to, in minutes of the studio's day, over midnight too; None for no quiet hours.

    report: whether they want the report of a firing the morning after.
    """

    name: str
    role: Role = Role.KEEPER
    channels: tuple[Channel, ...] = ()
    quiet: tuple[int, int] | None = None
    report: bool = False

    def channel(self, name: str) -> Channel:
        """The channel of this name; Refusal naming those there are."""
        for channel in self.channels:
            if channel.name == name:
                return channel
        there = ", ".join(channel.name for channel in self.channels) or "none"
        raise Refusal("channel", f"{self.name} has no channel called {name!r}", f"there are {there}")

    def is_quiet(self, utc_ms: int, zone: tzinfo, *, night: bool = False) -> bool:
        """Whether this is within their quiet hours. night: whoever has none has `NIGHT`."""
        hours = self.quiet or (NIGHT if night else None)
        if hours is None:
            return False
        there = datetime.fromtimestamp(utc_ms / 1000, UTC).astimezone(zone)
        minute, (begin, end) = there.hour * 60 + there.minute, hours
        return begin <= minute < end if begin <= end else minute >= begin or minute < end


def recipient(person: str, channel: str) -> str:
    """How a channel is called in keys, the log and the record: `Ruth/phone`; the person alone for a nameless one."""
    return f"{person}/{channel}" if channel else person


@dataclass(frozen=True, slots=True)
class People:
    """All of them, in the order they are told. Each change gives others; Refusal for what cannot be."""

    everybody: tuple[Person, ...] = ()

    def person(self, name: str) -> Person:
        """The person of this name; Refusal naming those there are."""
        for person in self.everybody:
            if person.name == name:
                return person
        there = ", ".join(person.name for person in self.everybody) or "nobody"
        raise Refusal("person", f"nobody is called {name!r}", f"there are {there}")

    def has(self, name: str) -> bool:
        """Whether somebody is called this, with a channel or without."""
        return any(person.name == name for person in self.everybody)

    def knows(self, name: str) -> bool:
        """Whether somebody with a channel is called this."""
        return any(person.name == name and person.channels for person in self.everybody)

    def awake(self, utc_ms: int, zone: tzinfo) -> list[tuple[Person, str]]:
        """Everybody outside their quiet hours, once for each channel that is not loud, with its recipient."""
        return [
            (person, to)
            for person in self.everybody
            if not person.is_quiet(utc_ms, zone)
            for channel in person.channels
            if not channel.loud and (to := recipient(person.name, channel.name))
        ]

    def others(self, reader: str, holder: str) -> tuple[str, ...]:
        """Whom the reader of an alarm may phone: who holds the watch, then keepers, then helpers; the first few.

        Whoever the settings name is an address and no name to phone.
        """
        known = [one for one in self.everybody if one.name != reader and all(way.name for way in one.channels)]
        known.sort(key=lambda one: (one.name != holder, one.role is not Role.KEEPER))
        return tuple(one.name for one in known[:TO_PHONE_AT_MOST])

    def add(self, name: str, role: Role) -> "People":
        """One more, who has no channel yet."""
        _check_name("person", name)
        if self.has(name):
            raise Refusal("person", f"somebody is called {name!r} already", "give each person a name of their own")
        if len(self.everybody) >= PEOPLE_AT_MOST:
            raise Refusal("person", "there are too many", f"at most {PEOPLE_AT_MOST} people can be told")
        return People((*self.everybody, Person(name, role)))

    def remove(self, name: str) -> "People":
        """One less."""
        gone = self.person(name)
        return People(tuple(person for person in self.everybody if person is not gone))

    def with_role(self, name: str, role: Role) -> "People":
        """The same person, told sooner or later than before."""
        return self._with(replace(self.person(name), role=role))

    def with_channel(self, name: str, channel: Channel) -> "People":
        """A channel more, or another address for one of that name."""
        person = self.person(name)
        _check_name("channel", channel.name)
        if not (channel.address == STUDIO_BROKER or ADDRESS.fullmatch(channel.address)):
            raise Refusal("address", "a message cannot be sent to what stands there", "it is one apprise URL, or mqtt:")
        others = tuple(one for one in person.channels if one.name != channel.name)
        if len(others) >= CHANNELS_AT_MOST:
            raise Refusal("channel", "there are too many", f"at most {CHANNELS_AT_MOST} channels for one person")
        return self._with(replace(person, channels=(*others, channel)))

    def without_channel(self, name: str, channel: str) -> "People":
        """A channel less."""
        person = self.person(name)
        gone = person.channel(channel)
        return self._with(replace(person, channels=tuple(one for one in person.channels if one is not gone)))

    def with_quiet(self, name: str, quiet: tuple[int, int] | None) -> "People":
        """Other quiet hours, or None for none."""
        if quiet is not None and (quiet[0] == quiet[1] or not all(0 <= minute < 1440 for minute in quiet)):
            raise Refusal("quiet", "these are no hours", "two times of the day, for example 22:00 07:00")
        return self._with(replace(self.person(name), quiet=quiet))

    def with_report(self, name: str, wanted: bool) -> "People":
        """Somebody wants the report of a firing the morning after, or no longer."""
        return self._with(replace(self.person(name), report=wanted))

    def with_rang(self, name: str, channel: str, rang: Rang, utc_ms: int) -> "People":
        """Somebody said whether a trial message reached them."""
        person = self.person(name)
        said = replace(person.channel(channel), rang=rang, rang_utc_ms=utc_ms)
        return self._with(
            replace(person, channels=tuple(said if one.name == channel else one for one in person.channels))
        )

    def _with(self, changed: Person) -> "People":
        return People(tuple(changed if person.name == changed.name else person for person in self.everybody))


def _check_name(field_name: str, name: str) -> None:
    if not name or name != name.strip() or not name.isprintable() or len(name) > NAME_AT_MOST or "/" in name:
        raise Refusal(field_name, f"{name!r} is no name", f"a name has 1 to {NAME_AT_MOST} letters and no slash")
