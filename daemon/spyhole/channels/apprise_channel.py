"""One recipient reached through apprise: mail, push, SMS gateways, webhooks, whatever its URL names.

apprise is imported at the first message and not before: it weighs as much as the rest of the daemon together.
The URL is a secret (it carries tokens and passwords) and appears in no error and no log line.
"""

import logging
import sys
import threading
from typing import TYPE_CHECKING

from spyhole.core.refusal import Refusal

if TYPE_CHECKING:
    from apprise import NotifyBase

log = logging.getLogger(__name__)

ATTEMPT_SECONDS = 10.0


class AppriseChannel:
    """Satisfies `core.ports.MessengerPort`. Used by one thread."""

    def __init__(self, url: str, attempt_seconds: float = ATTEMPT_SECONDS) -> None:
        self._url = url
        self._attempt_seconds = attempt_seconds
        self._service: NotifyBase | None = None
        self._attempt: threading.Thread | None = None

    def check(self) -> None:
        """Refusal when apprise cannot make sense of the URL."""
        self._open()

    def send(self, title: str, text: str, *, urgent: bool) -> bool:
        """True when the service accepted it; False after at most `attempt_seconds`, whatever the service does.

        apprise bounds each read, not the whole exchange; a service that dribbles would hold it for ever. So
        the exchange has a thread of its own, and while one is still held up no other is begun.
        """
        if self._attempt is not None and self._attempt.is_alive():
            self._attempt.join(self._attempt_seconds)
            if self._attempt.is_alive():
                return False
        accepted: list[bool] = []

        def exchange() -> None:
            try:
                accepted.append(self._exchange(title, text, urgent))
            except Exception as error:  # noqa: BLE001  (somebody else's code, whose words may hold the address)
                log.warning("a message could not be handed over (%s)", type(error).__name__)

        self._attempt = threading.Thread(target=exchange, name="attempt", daemon=True)
        self._attempt.start()
        self._attempt.join(self._attempt_seconds)
        return accepted == [True]

    def _exchange(self, title: str, text: str, urgent: bool) -> bool:
        from apprise import NotifyType

        kind = NotifyType.FAILURE if urgent else NotifyType.WARNING
        return self._open().notify(body=text, title=title, notify_type=kind) is True

    def _open(self) -> "NotifyBase":
        if self._service is None:
            from apprise import Apprise

            # apprise logs addresses when it cannot read or reach them.
            logging.getLogger("apprise").setLevel(logging.CRITICAL + 1)
            # The service itself, not an `Apprise` around it, which would keep threads of its own.
            service = Apprise.instantiate(self._url)
            if service is None:
                raise Refusal("tell", "a message cannot be sent to what stands there", "it is one apprise URL")
            self._service = service
        return self._service


def understood(url: str) -> bool:
    """Whether apprise can make sense of this URL; nothing is sent."""
    try:
        AppriseChannel(url).check()
    except Refusal:
        return False
    return True


if __name__ == "__main__":
    # Asked by the daemon before it starts: the URL comes on standard input, so that no list of processes shows it.
    sys.exit(0 if understood(sys.stdin.read().strip()) else 1)
