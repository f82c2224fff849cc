"""Carrying the messages of one channel to one person, through failures and outages, in a thread of its own.

A courier waits for the disk at most 200 ms, then goes by memory. Exactly-once does not exist: a message that may or may
not have gone out before a crash goes out again, with the same key in its title. After an outage there is no flood of
old news: what waited is told in one message, with how things stand now.
"""

import logging
import threading
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from spyhole.core.ports import Answer, EnclosingPort, Enclosure, MessengerPort
from spyhole.services.archive import Archive, Message
from spyhole.services.conditions import TELLING, Conditions
from spyhole.services.digest import Digest, plain_digest

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
