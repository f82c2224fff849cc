"""Telling somebody: one courier with a thread of its own for each channel of each person.

The message row is in the same transaction as the alarm it tells of, so it comes before the attempt. A courier waits
for the disk at most 200 ms, then goes by memory. A channel that hangs or fails delays nobody else. Exactly-once does
not exist: a message that may or may not have gone out before a crash goes out again, with the same key in its title.
After an outage there is no flood of old news: what waited is told in one message, with how things stand now.
"""

import logging
import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from spyhole.core.ports import Answer, EnclosingPort, Enclosure, MessengerPort
from spyhole.core.words import Manner
from spyhole.services.archive import Archive, Batch, Message, PendingMessage
from spyhole.services.conditions import TELLING, Conditions
from spyhole.services.digest import Digest, plain_digest, present_digest
from spyhole.services.outbox import Outbox
from spyhole.services.people import Channel, People, Person, Rang, recipient
from spyhole.services.snapshot import Snapshot

log = logging.getLogger(__name__)

DISK_SECONDS = 0.2
"""How long an alarm waits for the disk."""

PAUSES_SECONDS = (1.0, 2.0, 4.0, 8.0)
LONGEST_PAUSE_SECONDS = 12.0
"""Between tries; the longest bounds how late a message is after its channel has recovered."""

REFUSED_PAUSES_SECONDS = (30.0, 120.0, 600.0)
"""Of a channel that is refused for what it is (no such address, no such key): only a person can mend that."""

SAID_AFTER_TRIES = 3
"""So many failures on end before the page says that somebody could not be told; at once when it is refused."""

WAITING_AT_MOST = 200
"""Messages one courier holds; beyond it the oldest is given up."""

NOTED_TRIES, NOTED_EVERY = 5, 50
"""Failures that are written down: the first ones, and then each fiftieth, for the card's sake."""

OLD_SECONDS = 600.0
"""A message that waited this long is old news, and told as such."""


class Reach(StrEnum):
    """How a channel stands. unproved: nothing was sent yet. broken: refused for what it is."""

    UNPROVED = "unproved"
    WELL = "well"
    FAILING = "failing"
    BROKEN = "broken"


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


@dataclass(frozen=True, slots=True)
class _Waiting:
    """since_seconds: of the real world, also in a rehearsal: a network is slow in real time."""

    message: Message
    since_seconds: float


class Courier:
    """Carries the messages of one channel, in order, one exchange at a time.

    pause: waits so many seconds of the real world, True when it was cut short by a stop. seconds: a monotonic clock of
    the real world. utc_ms: of the kiln's.
    """

    def __init__(
        self,
        recipient: str,
        messenger: MessengerPort,
        archive: Archive,
        conditions: Conditions,
        pause: Callable[[float], bool] | None = None,
        *,
        digest: Digest = plain_digest,
        utc_ms: Callable[[], int] = lambda: 0,
        seconds: Callable[[], float] = lambda: 0.0,
    ) -> None:
        self.recipient = recipient
        self.digest = digest
        self.utc_ms = utc_ms
        self.enclosed: Callable[[Message], Enclosure | None] = lambda message: None
        self.reach = Reach.UNPROVED
        self.error = ""
        self.error_utc_ms: int | None = None
        self.told_utc_ms: int | None = None
        self.weigh: Callable[[], None] = lambda: weigh(conditions, (self,))
        self._messenger = messenger
        self._archive = archive
        self._stopping = threading.Event()
        self._pause = pause or self._stopping.wait
        self._some = threading.Condition()
        self._seconds = seconds
        self._waiting: deque[_Waiting] = deque()
        self._failures = 0
        self._thread = threading.Thread(target=self._run, name=f"courier {recipient}", daemon=True)

    @property
    def waiting(self) -> int:
        """Messages not accepted yet."""
        return len(self._waiting)

    @property
    def unreached(self) -> bool:
        """Whether the page has to say that nobody is reached by this."""
        return self.reach is Reach.BROKEN or (self.reach is Reach.FAILING and self._failures >= SAID_AFTER_TRIES)

    def start(self) -> None:
        """Begin carrying."""
        self._thread.start()

    def stop(self, seconds: float) -> None:
        """Stop; a message under way has so long to arrive, and whatever is left is in the record for the next start."""
        self._stopping.set()
        with self._some:
            self._some.notify()
        if self._thread.is_alive():
            self._thread.join(seconds)

    def leave(self) -> list[tuple[Message, float]]:
        """Stop at once; what was not accepted, and how many seconds it has waited."""
        self.stop(0.0)
        with self._some:
            left, self._waiting = self._waiting, deque()
        return [(one.message, self._seconds() - one.since_seconds) for one in left]

    def post(self, message: Message, waited_seconds: float = 0.0) -> None:
        """Take a message, which has waited so long already; returns at once."""
        with self._some:
            dropped = self._waiting.popleft() if len(self._waiting) >= WAITING_AT_MOST else None
            self._waiting.append(_Waiting(message, self._seconds() - waited_seconds))
            self._some.notify()
        if dropped is not None:
            log.error("too many messages wait for %s; given up: %s", self.recipient, dropped.message.title)
            self._archive.message_failed(dropped.message.key, "too many were waiting", give_up=True)

    def _run(self) -> None:
        self._prepare()
        while not self._stopping.is_set():
            with self._some:
                while not self._waiting and not self._stopping.is_set():
                    self._some.wait()
            try:
                self.carry()
            except Exception:
                log.exception("messages for %s were held up by a fault of the program", self.recipient)
                self._note("a fault of the program", Reach.FAILING)
                self._pause(LONGEST_PAUSE_SECONDS)

    def _prepare(self) -> None:
        """Let the channel load what it needs, while there is time; it may fail then, and again when it matters."""
        try:
            self._messenger.prepare()
        except Exception as error:  # noqa: BLE001  (a channel is somebody else's code; its words may hold the address)
            log.warning("the way to %s could not be prepared (%s)", self.recipient, type(error).__name__)

    def carry(self) -> None:
        """Try until all that waits is accepted, or the courier is stopped."""
        self._archive.flush(DISK_SECONDS)
        while not self._stopping.is_set():
            with self._some:
                waiting = tuple(self._waiting)
            if not waiting:
                return
            old = any(self._seconds() - one.since_seconds > OLD_SECONDS for one in waiting)
            # One message alone is itself; after a failure, or with old news among them, all go as one.
            bundle = [one.message for one in (waiting if old or self._failures else waiting[:1])]
            answer, error = self._attempt(bundle, as_digest=old or len(bundle) > 1)
            if answer is Answer.ACCEPTED:
                self._accepted(bundle)
            elif self._failed(bundle, answer, error):
                return

    def _accepted(self, bundle: list[Message]) -> None:
        utc_ms = self.utc_ms()
        for message in bundle:
            self._archive.message_sent(message.key, utc_ms)
            log.info("%s was told: %s", self.recipient, message.title)
        gone = {message.key for message in bundle}
        with self._some:
            self._waiting = deque(one for one in self._waiting if one.message.key not in gone)
        self._failures = 0
        self.told_utc_ms = utc_ms
        self._note("", Reach.WELL)

    def _failed(self, bundle: list[Message], answer: Answer, error: str) -> bool:
        """Wait before the next try; True when the courier is to stop."""
        self._failures += 1
        tries = self._failures
        if tries <= NOTED_TRIES or tries % NOTED_EVERY == 0:
            for message in bundle:
                self._archive.message_failed(message.key, error)
        self.error_utc_ms = self.utc_ms()
        refused = answer is Answer.REFUSED
        self._note(error, Reach.BROKEN if refused else Reach.FAILING)
        pauses = REFUSED_PAUSES_SECONDS if refused else (*PAUSES_SECONDS, LONGEST_PAUSE_SECONDS)
        return self._pause(pauses[min(tries, len(pauses)) - 1]) or self._stopping.is_set()

    def _note(self, error: str, reach: Reach) -> None:
        self.error, self.reach = error, reach
        self.weigh()

    def _attempt(self, bundle: list[Message], *, as_digest: bool) -> tuple[Answer, str]:
        title, text = self.digest(bundle) if as_digest else (bundle[0].title, bundle[0].text)
        urgent = any(message.urgent for message in bundle)
        enclosed = None if as_digest else self.enclosed(bundle[0])
        try:
            if enclosed is not None and isinstance(self._messenger, EnclosingPort):
                answer = self._messenger.send_with(title, text, enclosed, urgent=urgent)
            else:
                answer = self._messenger.send(title, text, urgent=urgent)
        except Exception as error:  # noqa: BLE001  (a channel is somebody else's code; its words may hold the address)
            return Answer.NOT_NOW, f"the channel failed ({type(error).__name__})"
        refused = answer is Answer.REFUSED
        return answer, "the service refuses this address or its key" if refused else "the service did not accept it"


def weigh(conditions: Conditions, couriers: Iterable[Courier]) -> None:
    """Say, as a condition, who cannot be told and why; it ends when all can."""
    who = [f"{courier.recipient} ({courier.error})" for courier in couriers if courier.unreached]
    if not who:
        conditions.clear(TELLING)
        return
    conditions.told(TELLING.code, f"Could not be told: {', '.join(who)}. {TELLING.words}")


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
