"""What may be done about people, by a command or from the page. No address comes out of here.

Two people may edit at once: whoever says which version they saw is refused when there is another by now.
"""

import hashlib
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from spyhole.core.refusal import Refusal
from spyhole.services.archive import Archive, Message
from spyhole.services.people import STUDIO_BROKER, Channel, People, Rang, Role, recipient
from spyhole.services.roster import Roster
from spyhole.services.telling import Delivery, Telling, keep_and_tell

TRIAL = "This is a trial. If it reached you, alarms of this kiln will take the same way. Say whether your phone rang."

TRIAL_EVERY_MS = 10_000
"""Between two trials of one channel, at least."""


@dataclass(frozen=True, slots=True)
class PersonView:
    """Somebody who is told. quiet_from, quiet_to: minutes of the studio's day, null for no quiet hours.

    by_settings: named in the settings file, and changed there alone. report: gets it the morning after a firing.
    """

    name: str
    role: Role
    quiet_from: int | None
    quiet_to: int | None
    channels: tuple[Delivery, ...]
    by_settings: bool = False
    report: bool = False


class EditedMeanwhile(Exception):
    """Somebody else has changed the list of people since it was read."""


Edit = Callable[[People], People]


class Doorkeeper(Protocol):
    """Who lets people in, and is told of those who go."""

    def may_part_with(self, person: str) -> None:
        """Refusal where nobody could come in any more."""
        ...

    def part_with(self, person: str) -> None:
        """What is theirs lets nobody in any more. Refusal where that cannot be kept."""
        ...


class Office:
    """check: whether a message can be sent to an address; Refusal. broker: whether the settings name one.

    utc_ms: of the kiln's clock.
    """

    def __init__(
        self,
        kiln: str,
        roster: Roster,
        telling: Telling,
        archive: Archive,
        utc_ms: Callable[[], int],
        check: Callable[[str], object],
        *,
        broker: bool = False,
    ) -> None:
        self._kiln = kiln
        self._roster = roster
        self._telling = telling
        self._archive = archive
        self._utc_ms = utc_ms
        self._check = check
        self._broker = broker
        self.door: Doorkeeper | None = None
        self._tried: dict[str, int] = {}
        self._salt = secrets.token_bytes(16)  # a version says nothing of an address, to nobody

    def people(self) -> People:
        """Everybody; addresses are in there, so it is not for showing as it is."""
        return self._roster.people

    def deliveries(self) -> tuple[Delivery, ...]:
        """How every channel stands."""
        return self._telling.deliveries()

    def view(self) -> tuple[PersonView, ...]:
        """Everybody with how each of their channels stands, for showing: no address."""
        ways = self.deliveries()
        return tuple(
            PersonView(
                name=person.name,
                role=person.role,
                quiet_from=None if person.quiet is None else person.quiet[0],
                quiet_to=None if person.quiet is None else person.quiet[1],
                channels=tuple(way for way in ways if way.person == person.name),
                by_settings=not self._roster.kept.has(person.name),
                report=person.report,
            )
            for person in self.people().everybody
        )

    def version(self) -> str:
        """Of the list as it is: another after each change of a person, a channel, or quiet hours."""
        return self._version(self._roster.kept)

    def add(self, name: str, role: Role, seen: str | None = None) -> bool:
        """One more person; whether it is on the disk. seen: the version this is meant for, None for any."""
        return self._change(lambda people: people.add(name, role), seen)

    def role(self, name: str, role: Role, seen: str | None = None) -> bool:
        """Told as a keeper or as a helper from now on."""
        return self._change(lambda people: people.with_role(name, role), seen)

    def make_known(self, name: str) -> None:
        """Somebody came in as a keeper: from now on there is a person of that name, who has no channel yet."""
        if all(person.name != name for person in self.people().everybody):
            self.add(name, Role.KEEPER)

    def remove(self, name: str, seen: str | None = None) -> bool:
        """One less, who cannot come in any more either."""
        if self.door is not None:
            self.door.may_part_with(name)
        stored = self._change(lambda people: people.remove(name), seen)
        if self.door is not None:
            self.door.part_with(name)
        return stored

    def channel(self, person: str, name: str, address: str, *, loud: bool, seen: str | None = None) -> bool:
        """A channel more, or another address for one; the address is tried for its form, not yet sent to."""
        if seen is not None and seen != self.version():
            raise EditedMeanwhile  # sooner than the address is looked at, which takes a while
        if address == STUDIO_BROKER:
            if not self._broker:
                raise Refusal("address", "the settings name no broker", "set [mqtt] in the settings first")
        else:
            self._check(address)
        return self._change(lambda people: people.with_channel(person, Channel(name, address, loud)), seen)

    def without_channel(self, person: str, name: str, seen: str | None = None) -> bool:
        """A channel less."""
        return self._change(lambda people: people.without_channel(person, name), seen)

    def quiet(self, person: str, hours: tuple[int, int] | None, seen: str | None = None) -> bool:
        """Other quiet hours, or none."""
        return self._change(lambda people: people.with_quiet(person, hours), seen)

    def report(self, person: str, *, wanted: bool, seen: str | None = None) -> bool:
        """Whether somebody gets the report of a firing the morning after."""
        return self._change(lambda people: people.with_report(person, wanted), seen)

    def _change(self, edit: Edit, seen: str | None) -> bool:
        def checked(people: People) -> People:
            if seen is not None and seen != self._version(people):
                raise EditedMeanwhile
            return edit(people)

        return self._roster.change(checked)

    def _version(self, people: People) -> str:
        told = [
            (
                person.name,
                person.role,
                person.quiet,
                person.report,
                [(one.name, one.address, one.loud) for one in person.channels],
            )
            for person in people.everybody
        ]
        return hashlib.blake2b(repr(told).encode(), key=self._salt, digest_size=10).hexdigest()

    def test(self, person: str, channel: str) -> str:
        """Send a trial message; returns its recipient. `deliveries` says what came of it, `rang` what they say."""
        self._roster.people.person(person).channel(channel)
        to, utc_ms = recipient(person, channel), self._utc_ms()
        if abs(utc_ms - self._tried.get(to, -TRIAL_EVERY_MS)) < TRIAL_EVERY_MS:
            raise Refusal("channel", "a trial was sent just now", "wait some seconds, and look at the phone")
        self._tried[to] = utc_ms
        key = f"{self._kiln}/trial-{utc_ms}/{to}/0"
        message = Message(key, to, f"{self._kiln}: a trial message", TRIAL, False, utc_ms)
        keep_and_tell(self._archive, self._telling, (message,))
        return to

    def rang(self, person: str, channel: str, rang: Rang) -> bool:
        """They say whether a trial message really reached them."""
        return self._roster.change(lambda people: people.with_rang(person, channel, rang, self._utc_ms()))

    def weekly(self) -> None:
        """Tell everybody, by the channels that are not loud, that the chain still works; absence of it is news."""
        utc_ms = self._utc_ms()
        text = "The watch, its record and this channel work. When this does not come one week, look at the kiln's page."
        messages = [
            Message(
                f"{self._kiln}/week-{utc_ms // (7 * 86_400_000)}/{recipient(person.name, channel.name)}/0",
                recipient(person.name, channel.name),
                f"{self._kiln}: the weekly message",
                text,
                False,
                utc_ms,
            )
            for person in self._roster.people.everybody
            for channel in person.channels
            if not channel.loud
        ]
        keep_and_tell(self._archive, self._telling, messages)
