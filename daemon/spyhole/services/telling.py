"""Telling somebody, thin: each alarm that has to be told goes to every recipient and to the log of this machine.

The message row is in the same transaction as the alarm it tells of, so it comes before the attempt. A courier waits
for the disk at most 200 ms, then goes by memory. Each recipient has a courier with a thread of its own, so that a
channel that hangs delays nobody else. Exactly-once does not exist: a message that may or may not have gone out
before a crash goes out again, with the same key in its title.
"""

import logging
import threading
from collections import deque
from collections.abc import Callable, Iterable

from spyhole.core.ports import MessengerPort
from spyhole.services.archive import Archive, Message, PendingMessage
from spyhole.services.conditions import TELLING, Conditions

log = logging.getLogger(__name__)

DISK_SECONDS = 0.2
"""How long an alarm waits for the disk."""

PAUSES_SECONDS = (1.0, 2.0, 4.0, 8.0)
LONGEST_PAUSE_SECONDS = 12.0
"""Between tries; the longest bounds how late a message is after its channel has recovered."""

TRIES_AT_MOST = 2000
"""About seven hours of trying. Then the message is given up, and stays in the record as such."""

SAID_AFTER_TRIES = 3
"""So many failures on end before the page says that somebody could not be told."""

WAITING_AT_MOST = 200
"""Messages one courier holds; beyond it the oldest is given up."""


class Courier:
    """Carries the messages of one recipient, in order, one at a time.

    pause: waits so many seconds of the real world, True when it was cut short by a stop.
    """

    def __init__(
        self,
        recipient: str,
        messenger: MessengerPort,
        archive: Archive,
        conditions: Conditions,
        pause: Callable[[float], bool] | None = None,
    ) -> None:
        self.recipient = recipient
        self._messenger = messenger
        self._archive = archive
        self._conditions = conditions
        self._stopping = threading.Event()
        self._pause = pause or self._stopping.wait
        self._some = threading.Condition()
        self._waiting: deque[PendingMessage] = deque()
        self._thread = threading.Thread(target=self._run, name=f"courier {recipient}", daemon=True)

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

    def post(self, pending: PendingMessage) -> None:
        """Take a message; returns at once."""
        with self._some:
            dropped = self._waiting.popleft() if len(self._waiting) >= WAITING_AT_MOST else None
            self._waiting.append(pending)
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
                if self._stopping.is_set():
                    return
                pending = self._waiting.popleft()
            try:
                self.carry(pending)
            except Exception:
                log.exception("the message %s was dropped by a fault of the program", pending.message.key)
                self._conditions.set(TELLING)

    def _prepare(self) -> None:
        """Let the channel load what it needs, while there is time; it may fail then, and again when it matters."""
        try:
            self._messenger.prepare()
        except Exception as error:  # noqa: BLE001  (a channel is somebody else's code; its words may hold the address)
            log.warning("the way to %s could not be prepared (%s)", self.recipient, type(error).__name__)

    def carry(self, pending: PendingMessage) -> None:
        """Try until it is accepted, given up, or the courier is stopped."""
        message = pending.message
        self._archive.flush(DISK_SECONDS)
        for attempt in range(pending.attempts, TRIES_AT_MOST):
            error = self._attempt(message)
            if error is None:
                self._archive.message_sent(message.key)
                self._conditions.clear(TELLING)
                log.info("%s was told: %s", self.recipient, message.title)
                return
            self._archive.message_failed(message.key, error, give_up=attempt + 1 >= TRIES_AT_MOST)
            if attempt + 1 >= SAID_AFTER_TRIES:
                self._conditions.set(TELLING, f"{self.recipient}: {error}")
            pause = PAUSES_SECONDS[attempt] if attempt < len(PAUSES_SECONDS) else LONGEST_PAUSE_SECONDS
            if self._pause(pause) or self._stopping.is_set():
                return
        log.error("given up telling %s: %s", self.recipient, message.title)

    def _attempt(self, message: Message) -> str | None:
        try:
            accepted = self._messenger.send(message.title, message.text, urgent=message.urgent)
        except Exception as error:  # noqa: BLE001  (a channel is somebody else's code; its words may hold the address)
            return f"the channel failed ({type(error).__name__})"
        return None if accepted else "the service did not accept it"


class Telling:
    """All couriers, and the log of this machine."""

    def __init__(self, couriers: Iterable[Courier]) -> None:
        self._couriers = {courier.recipient: courier for courier in couriers}

    @property
    def recipients(self) -> tuple[str, ...]:
        """Names, in the order of the settings."""
        return tuple(self._couriers)

    def start(self, left_over: Iterable[PendingMessage]) -> None:
        """Begin, with what an earlier run did not get to."""
        for pending in left_over:
            self._post(pending)
        for courier in self._couriers.values():
            courier.start()

    def stop(self, seconds: float = 3.0) -> None:
        """Stop all; may be called again."""
        for courier in self._couriers.values():
            courier.stop(seconds / max(1, len(self._couriers)))

    def tell(self, messages: Iterable[Message]) -> None:
        """Send these, which the archive was already given; returns at once."""
        for message in messages:
            self._post(PendingMessage(message, 0, ""))

    def _post(self, pending: PendingMessage) -> None:
        courier = self._couriers.get(pending.message.recipient)
        if courier is not None:
            courier.post(pending)
