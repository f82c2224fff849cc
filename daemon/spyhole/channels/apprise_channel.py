"""One recipient reached through apprise: mail, push, SMS gateways, webhooks, whatever its URL names.

apprise knows some two hundred services and loads them all to find the one a URL means: nearly a second and 30 MB on
an ordinary machine, at the very moment of the first alarm. So the service is found out beforehand, in a process of
its own (`find_service`), and the daemon loads only that one, while nothing is happening.
The URL is a secret (it carries tokens and passwords) and appears in no error and no log line.
"""

import logging
import re
import subprocess
import sys
import threading
import warnings
from importlib import import_module
from typing import TYPE_CHECKING

from spyhole.core.ports import Answer, Enclosure
from spyhole.core.refusal import Refusal

if TYPE_CHECKING:
    from apprise import AppriseAttachment, NotifyBase

log = logging.getLogger(__name__)

GUESSES = "charset_normalizer"
ATTEMPT_SECONDS = 10.0
FINDING_SECONDS = 60.0

STATUS = re.compile(r"error=(\d{3})\b")
"""How apprise says what a web service answered."""
REPLY = re.compile(r"\((\d{3}), b['\"]")
"""How Python's smtplib says what a mail server answered."""
REFUSALS = frozenset({400, 401, 403, 404, 405, 410})
"""Answers of HTTP (RFC 9110) that another try does not change. Of SMTP (RFC 5321) those are all from 500 on."""


class AppriseChannel:
    """Satisfies `core.ports.MessengerPort`. Used by one thread.

    service: what `find_service` said of the URL; "" has it found out by `prepare`.
    """

    def __init__(self, url: str, service: str = "", attempt_seconds: float = ATTEMPT_SECONDS) -> None:
        self._url = url
        self._name = service
        self._attempt_seconds = attempt_seconds
        self._service: NotifyBase | None = None
        self._attempt: threading.Thread | None = None

    def prepare(self) -> None:
        """Load what a message will need, while there is time."""
        if self._service is None:
            self._name = self._name or find_service(self._url, "channel")
            self._service = _open(self._url, self._name)

    def send(self, title: str, text: str, *, urgent: bool) -> Answer:
        """As `send_with`, and nothing with it."""
        return self.send_with(title, text, None, urgent=urgent)

    def send_with(self, title: str, text: str, enclosed: Enclosure | None, *, urgent: bool) -> Answer:
        """What the service answered; NOT_NOW after at most `attempt_seconds`, whatever the service does.

        apprise bounds each read, not the whole exchange; a service that dribbles would hold it for ever. So
        the exchange has a thread of its own, and while one is still held up no other is begun.
        """
        if self._attempt is not None and self._attempt.is_alive():
            self._attempt.join(self._attempt_seconds)
            if self._attempt.is_alive():
                return Answer.NOT_NOW
        answers: list[Answer] = []

        def exchange() -> None:
            try:
                answers.append(self._exchange(title, text, urgent, enclosed))
            except Exception as error:  # noqa: BLE001  (somebody else's code, whose words may hold the address)
                log.warning("a message could not be handed over (%s)", type(error).__name__)

        self._attempt = threading.Thread(target=exchange, name="attempt", daemon=True)
        self._attempt.start()
        self._attempt.join(self._attempt_seconds)
        return answers[0] if answers else Answer.NOT_NOW

    def _exchange(self, title: str, text: str, urgent: bool, enclosed: Enclosure | None) -> Answer:
        self.prepare()
        assert self._service is not None
        from apprise import NotifyType

        kind = NotifyType.FAILURE if urgent else NotifyType.WARNING
        with _Overheard() as overheard:
            attach = _attachment(enclosed) if enclosed is not None and self._service.attachment_support else None
            if self._service.notify(body=text, title=title, notify_type=kind, attach=attach) is True:
                return Answer.ACCEPTED
        return Answer.REFUSED if overheard.refused else Answer.NOT_NOW


def _attachment(enclosed: Enclosure) -> "AppriseAttachment":
    """In memory: nothing of it goes onto the card."""
    from apprise import AppriseAttachment
    from apprise.attachment.memory import AttachMemory

    made = AppriseAttachment()
    file = AttachMemory(content=enclosed.content, name=enclosed.name, mimetype=enclosed.media_type)  # type: ignore[no-untyped-call]
    made.add(file)
    return made


class _Overheard(logging.Handler):
    """apprise says yes or no, and why not only in its log: this thread's part of it is listened to for a number.

    Nothing else of it is kept, because it may hold the address.
    """

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self._thread = threading.get_ident()
        self.refused = False

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread != self._thread:
            return
        said = record.getMessage()
        codes = [int(code) in REFUSALS for code in STATUS.findall(said)]
        codes += [int(code) >= 500 for code in REPLY.findall(said)]
        self.refused = self.refused or any(codes)

    def __enter__(self) -> "_Overheard":
        logger = logging.getLogger("apprise")
        logger.propagate = False
        logger.setLevel(logging.DEBUG)
        logger.addHandler(self)
        return self

    def __exit__(self, *_: object) -> None:
        logging.getLogger("apprise").removeHandler(self)


def find_service(url: str, where: str) -> str:
    """Which of apprise's services this URL means, for `AppriseChannel`. where: for the Refusal, if it means none.

    Asked in a process of its own, which gives the memory back; it gets the URL on standard input, so that no list
    of processes shows it.
    """
    done = subprocess.run(  # noqa: S603  (this very interpreter)
        [sys.executable, "-m", __name__],
        input=url,
        text=True,
        capture_output=True,
        timeout=FINDING_SECONDS,
        check=False,
    )
    if done.returncode != 0:
        raise Refusal(where, "a message cannot be sent to what stands there", "it is one apprise URL")
    return done.stdout.strip()


def _hush() -> None:
    """It logs addresses it cannot read or reach: that goes nowhere but to `_Overheard`."""
    logging.getLogger("urllib3").setLevel(logging.CRITICAL + 1)  # and so does what it sends with
    logger = logging.getLogger("apprise")
    logger.propagate = False
    if not logger.handlers:
        logger.addHandler(logging.NullHandler())


def _without_guesses() -> None:
    """requests does without what guesses the letters of an answer: 2 MiB, and here its number is what counts."""
    sys.modules.setdefault(GUESSES, None)  # type: ignore[arg-type]  # whoever imports it hears that it is not there
    warnings.filterwarnings("ignore", "Unable to find acceptable character detection")  # as requests says then, once


def _open(url: str, service: str) -> "NotifyBase":
    """The service itself, not an `Apprise` around it, which would keep threads of its own."""
    _hush()
    _without_guesses()
    module, _, name = service.partition(":")
    kind = getattr(import_module(module), name)
    opened: NotifyBase = kind(**(kind.parse_native_url(url) or kind.parse_url(url)))
    return opened


def _find(url: str) -> str | None:
    from apprise import Apprise

    _hush()
    found = Apprise.instantiate(url)
    if found is None:
        return None
    service = f"{type(found).__module__}:{type(found).__name__}"
    return service if type(_open(url, service)) is type(found) else None


if __name__ == "__main__":
    said = _find(sys.stdin.read().strip())
    sys.stdout.write(said or "")
    sys.exit(0 if said else 1)
