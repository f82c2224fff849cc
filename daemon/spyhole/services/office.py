"""What may be done about people: by a command today, by a page later. No address comes out of here."""

from collections.abc import Callable
from dataclasses import dataclass

from spyhole.core.refusal import Refusal
from spyhole.services.archive import Archive, Batch, Message
from spyhole.services.people import STUDIO_BROKER, Channel, People, Rang, Role, recipient
from spyhole.services.roster import Roster
from spyhole.services.telling import Delivery, Telling

TRIAL = "This is a trial. If it reached you, alarms of this kiln will take the same way. Say whether your phone rang."

TRIAL_EVERY_MS = 10_000
"""Between two trials of one channel, at least."""


@dataclass(frozen=True, slots=True)
class PersonView:
    """Somebody who is told. quiet_from, quiet_to: minutes of the studio's day, null for no quiet hours."""

    name: str
    role: Role
    quiet_from: int | None
    quiet_to: int | None
    channels: tuple[Delivery, ...]


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
        self._tried: dict[str, int] = {}

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
            )
            for person in self.people().everybody
        )

    def add(self, name: str, role: Role) -> bool:
        """One more person; whether it is on the disk."""
        return self._roster.change(lambda people: people.add(name, role))

    def remove(self, name: str) -> bool:
        """One less."""
        return self._roster.change(lambda people: people.remove(name))

    def channel(self, person: str, name: str, address: str, *, loud: bool) -> bool:
        """A channel more, or another address for one; the address is tried for its form, not yet sent to."""
        if address == STUDIO_BROKER:
            if not self._broker:
                raise Refusal("address", "the settings name no broker", "set [mqtt] in the settings first")
        else:
            self._check(address)
        return self._roster.change(lambda people: people.with_channel(person, Channel(name, address, loud)))

    def without_channel(self, person: str, name: str) -> bool:
        """A channel less."""
        return self._roster.change(lambda people: people.without_channel(person, name))

    def quiet(self, person: str, hours: tuple[int, int] | None) -> bool:
        """Other quiet hours, or none."""
        return self._roster.change(lambda people: people.with_quiet(person, hours))

    def test(self, person: str, channel: str) -> str:
        """Send a trial message; returns its recipient. `deliveries` says what came of it, `rang` what they say."""
        self._roster.people.person(person).channel(channel)
        to, utc_ms = recipient(person, channel), self._utc_ms()
        if abs(utc_ms - self._tried.get(to, -TRIAL_EVERY_MS)) < TRIAL_EVERY_MS:
            raise Refusal("channel", "a trial was sent just now", "wait some seconds, and look at the phone")
        self._tried[to] = utc_ms
        key = f"{self._kiln}/trial-{utc_ms}/{to}/0"
        message = Message(key, to, f"{self._kiln}: a trial message", TRIAL, False, utc_ms)
        self._archive.put(Batch(messages=(message,), urgent=True))
        self._telling.tell((message,))
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
        self._archive.put(Batch(messages=tuple(messages), urgent=True))
        self._telling.tell(messages)
