"""Telling somebody: one courier with a thread of its own for each channel of each person.

The message row is in the same transaction as the alarm it tells of, so it comes before the attempt. A channel that
hangs or fails delays nobody else.
"""

import logging
import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from spyhole.core.ports import Enclosure
from spyhole.core.words import Manner
from spyhole.services.archive import Archive, Batch, Message, PendingMessage
from spyhole.services.conditions import Conditions
from spyhole.services.courier import Courier, Reach, weigh
from spyhole.services.digest import Digest, plain_digest, present_digest
from spyhole.services.outbox import Outbox
from spyhole.services.people import Channel, People, Person, Rang, recipient
from spyhole.services.snapshot import Snapshot

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Delivery:
    """How one channel stands, for a page: no address in it. told_utc_ms: the last message accepted, None for never.

    error: of the last try, in safe words; "" when it went well. waiting: messages not accepted yet.
    """

    person: str
    channel: str
    loud: bool
    reach: Reach
    told_utc_ms: int | None
    error: str
    error_utc_ms: int | None
    waiting: int
    rang: Rang
    rang_utc_ms: int | None


OpenCourier = Callable[[Person, Channel], Courier]


class Telling:
    """All couriers, and what they are to carry.

    outbox: makes the messages; without it, those for the recipients of the couriers given, but for what was told.
    open_courier: for a channel that is new; without it there are only the couriers given.
    gone: told the key of a message whose channel there is no longer. kept: the people of the record, for one that is
    begun anew.
    """

    def __init__(
        self,
        couriers: Iterable[Courier] = (),
        outbox: Outbox | None = None,
        open_courier: OpenCourier | None = None,
        told: Iterable[str] = (),
    ) -> None:
        self._couriers = {courier.recipient: courier for courier in couriers}
        given = People(tuple(Person(name, channels=(Channel("", ""),)) for name in self._couriers))
        self.outbox = outbox or Outbox(lambda: given, told)
        self._people = given
        self._open = open_courier
        self._lock = threading.Lock()
        self.kept: Callable[[], People | None] = lambda: None
        self.gone: Callable[[str], None] = lambda key: None
        self._started = False
        self._digest: Digest = plain_digest
        self._enclosed: Callable[[Message], Enclosure | None] = lambda message: None
        self._addresses: dict[str, str] = {}

    @property
    def recipients(self) -> tuple[str, ...]:
        """Names of all channels."""
        return tuple(self._couriers)

    def follow(self, people: People, conditions: Conditions) -> None:
        """These are the people from now on: a courier for each new channel, none for one that is gone.

        Takes as long as it takes to look into a new address; nobody else waits for it.
        """
        wanted = {recipient(p.name, c.name): (p, c) for p in people.everybody for c in p.channels}
        with self._lock:
            known, opened = self._addresses, {}
            kept = {
                name: courier
                for name, courier in self._couriers.items()
                if name in wanted and known.get(name, wanted[name][1].address) == wanted[name][1].address
            }
            gone = {name: courier for name, courier in self._couriers.items() if name not in kept}
            for name, (person, channel) in wanted.items():
                if name not in kept and self._open is not None:
                    opened[name] = self._open(person, channel)
                    opened[name].digest = self._digest
                    opened[name].enclosed = self._enclosed
            self._couriers = {**kept, **opened}
            self._addresses = {name: channel.address for name, (_, channel) in wanted.items()}
            self._people = people
            self.bind(conditions)
            for name, courier in gone.items():
                # What waits for somebody whose address was mended waits for the new one.
                for message, waited_seconds in courier.leave():
                    if name in opened:
                        opened[name].post(message, waited_seconds)
                    else:
                        self.gone(message.key)
            if self._started:
                for courier in opened.values():
                    courier.start()
        weigh(conditions, tuple(self._couriers.values()))

    def show(self, now: Callable[[], Snapshot], manner: Manner) -> None:
        """From now on old news is told with how things stand."""
        with self._lock:
            self._digest = present_digest(now, manner)
            for courier in self._couriers.values():
                courier.digest = self._digest

    def enclose(self, enclosed: Callable[[Message], Enclosure | None]) -> None:
        """From now on this says what goes with a message. It is asked by the couriers, and must not keep them."""
        with self._lock:
            self._enclosed = enclosed
            for courier in self._couriers.values():
                courier.enclosed = enclosed

    def start(self, left_over: Iterable[PendingMessage] = ()) -> None:
        """Begin, with what an earlier run did not get to."""
        for pending in left_over:
            if pending.message.recipient not in self._couriers:
                log.warning("nobody is called %s any more: %s", pending.message.recipient, pending.message.title)
                self.gone(pending.message.key)
            self._post(pending.message, left_over=True)
        with self._lock:
            self._started = True
            for courier in self._couriers.values():
                courier.start()

    def stop(self, seconds: float = 3.0) -> None:
        """Stop all; may be called again."""
        for courier in tuple(self._couriers.values()):
            courier.stop(seconds / max(1, len(self._couriers)))

    def tell(self, messages: Iterable[Message]) -> None:
        """Send these, which the archive was already given; returns at once."""
        for message in messages:
            self._post(message)

    def deliveries(self) -> tuple[Delivery, ...]:
        """How every channel stands."""
        return tuple(
            Delivery(
                person=person.name,
                channel=channel.name,
                loud=channel.loud,
                reach=courier.reach,
                told_utc_ms=courier.told_utc_ms,
                error=courier.error,
                error_utc_ms=courier.error_utc_ms,
                waiting=courier.waiting,
                rang=channel.rang,
                rang_utc_ms=channel.rang_utc_ms,
            )
            for person in self._people.everybody
            for channel in person.channels
            if (courier := self._couriers.get(recipient(person.name, channel.name))) is not None
        )

    def bind(self, conditions: Conditions) -> None:
        """Say together who cannot be told."""
        for courier in self._couriers.values():
            courier.weigh = lambda: weigh(conditions, tuple(self._couriers.values()))

    def _post(self, message: Message, *, left_over: bool = False) -> None:
        courier = self._couriers.get(message.recipient)
        if courier is not None:
            waited_ms = courier.utc_ms() - message.created_utc_ms if left_over else 0
            courier.post(message, max(0.0, waited_ms / 1000))


def keep_and_tell(archive: Archive, telling: Telling, messages: Sequence[Message]) -> None:
    """Messages that no alarm brings: each is a row before it is tried; returns at once."""
    archive.put(Batch(messages=tuple(messages), urgent=True))
    telling.tell(messages)
