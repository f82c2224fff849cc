"""One message instead of many old ones: how things stand now, and each alarm that could not be told, named once."""

from collections.abc import Callable

from spyhole.core.words import Manner
from spyhole.services.archive import Message
from spyhole.services.snapshot import Snapshot

Digest = Callable[[list[Message]], tuple[str, str]]
"""Title and text for these messages, oldest first."""

LINES_AT_MOST = 60


def plain_digest(messages: list[Message]) -> tuple[str, str]:
    """Where nothing is known of how things stand now."""
    return _title(messages), "\n".join(_named(messages, lambda message: message.title))


def present_digest(now: Callable[[], Snapshot], manner: Manner) -> Digest:
    """Where it is known. now: how things stand, drawn afresh at each attempt."""

    def digest(messages: list[Message]) -> tuple[str, str]:
        snapshot = now()
        standing = {alarm.episode for alarm in snapshot.alarms}

        def line(message: Message) -> str:
            state = ""
            if subject_of(message).startswith("a"):
                state = ": still there" if subject_of(message) in standing else ": over"
            return f"{manner.clock(message.created_utc_ms)} {message.title}{state}"

        return _title(messages), "\n".join((f"Now: {snapshot.sentence}", "Missed:", *_named(messages, line)))

    return digest


def subject_of(message: Message) -> str:
    """The episode or notice a message is about, by its key."""
    before = message.key.rfind(f"/{message.recipient}/")
    return message.key[: max(0, before)].rpartition("/")[2]


def _title(messages: list[Message]) -> str:
    kiln = messages[0].title.partition(":")[0]
    many = len({subject_of(message) for message in messages})
    return f"{kiln}: {'one message' if many == 1 else f'{many} messages'} could not reach you"


def _named(messages: list[Message], line: Callable[[Message], str]) -> list[str]:
    """The first of each subject, which says when it began."""
    first: dict[str, Message] = {}
    for message in messages:
        first.setdefault(subject_of(message), message)
    lines = [line(message) for message in first.values()]
    more = len(lines) - LINES_AT_MOST
    return [*lines[:LINES_AT_MOST], f"and {more} more; the page has them all."] if more > 0 else lines
