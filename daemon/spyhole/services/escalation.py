"""Whom to tell what now, worked out afresh each time from what stands: pure, so that it has no timers to lose.

What is due is a function of the troubles, the people and the time. Whoever calls keeps the keys of what was told
and leaves those out; so a restart goes on where it was, and after a gap only the newest step is told.
The steps and their times are our own proposal; ISA-18.2 asks for escalation and gives no minutes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import tzinfo
from enum import StrEnum

from spyhole.core.outcome import Priority
from spyhole.services.people import People, Person, Role

MINUTE_MS = 60_000


class Whom(StrEnum):
    """holder: of the watch. keepers: and all other keepers. everybody: and the helpers."""

    HOLDER = "holder"
    KEEPERS = "keepers"
    EVERYBODY = "everybody"


@dataclass(frozen=True, slots=True)
class Ladder:
    """One priority. after_minutes: without an answer, at each step after the first, which is at once.

    again_minutes: after the last of them it is told again and again; 0 is never. again_at_most: so many times.
    quiet: whether it waits for the end of quiet hours.
    """

    after_minutes: tuple[float, ...]
    again_minutes: float
    again_at_most: int
    quiet: bool

    def step_at(self, waited_ms: int) -> int:
        """The newest step that is due after so long without an answer; 0 is the first."""
        steps = sum(waited_ms >= minutes * MINUTE_MS for minutes in self.after_minutes)
        if steps < len(self.after_minutes) or not self.again_minutes:
            return steps
        beyond_ms = waited_ms - self.after_minutes[-1] * MINUTE_MS if self.after_minutes else waited_ms
        return steps + min(self.again_at_most, int(beyond_ms // (self.again_minutes * MINUTE_MS)))


WHOM = (Whom.HOLDER, Whom.KEEPERS, Whom.EVERYBODY)
"""Of the first step, the second, and the third; of all that follow it, everybody. From the second on it is louder."""

LADDERS = {
    Priority.HIGH: Ladder((3.0, 6.0), 10.0, 36, quiet=False),
    Priority.MEDIUM: Ladder((20.0, 45.0), 60.0, 6, quiet=True),
    Priority.LOW: Ladder((), 0.0, 0, quiet=True),
}

WAITS_FOR_MORNING = frozenset({"heat-lost"})
"""Alarms that wait for the morning where they are not high (while candling): nothing can be done for the ware."""

NOTICES = {
    "turn-near": 10.0,
    "turn-due": 180.0,
    "in-reach": 10.0,
    "cone-down": 120.0,
    "shut-off-seen": 240.0,
    "unload": 720.0,
}
"""Prompts that are sent, once, to whoever holds the watch, and the minutes they stay news: quiet hours may be longer.
A turn is one of them: the question before it, or where nobody was asked, or it is overdue, or nobody answered, itself.
Beside the turns at most five in a firing in which all goes well, with 'are you in reach?' asked twice. The page shows
all prompts."""

WAKES = frozenset({"in-reach"})
"""Prompts that are sent in quiet hours too: unanswered, this one becomes an alarm that wakes everybody."""

TO_EVERYBODY = frozenset({"nobody-near"})
"""The one who holds the watch has not answered, so others are told at once."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """An episode nobody has acknowledged. number: how often it was told afresh; since_ms: when, on the axis."""

    episode: str
    number: int
    since_ms: int
    tag: str
    priority: Priority


@dataclass(frozen=True, slots=True)
class Notice:
    """A prompt that is worth a message. until_ms: on the axis; it is no news after that. wakes: in quiet hours too.

    from_ms: it is none before. to_keepers: not to whoever holds the watch alone.
    """

    id: str
    until_ms: int
    wakes: bool = False
    from_ms: int = 0
    to_keepers: bool = False


@dataclass(frozen=True, slots=True)
class Due:
    """Tell this person this. subject: episode, or a notice's id. step: unique within subject and person.

    rung: 0 at first. waited_ms: how long nobody has answered. loud: by every channel there is.
    """

    subject: str
    person: Person
    step: str
    rung: int = 0
    waited_ms: int = 0
    loud: bool = False


@dataclass(frozen=True, slots=True)
class Instant:
    """Now, on the watch's axis and by the wall."""

    now_ms: int
    utc_ms: int


def due(
    troubles: tuple[Trouble, ...],
    notices: tuple[Notice, ...],
    people: People,
    holder: str,
    now: Instant,
    zone: tzinfo,
    ladders: Mapping[Priority, Ladder] = LADDERS,
) -> list[Due]:
    """What each person should have been told by now, of each trouble the newest step only. holder: "" for nobody."""
    found = []
    for trouble in troubles:
        ladder = ladders[trouble.priority]
        waited_ms = now.now_ms - trouble.since_ms
        newest = ladder.step_at(waited_ms)
        night = trouble.tag in WAITS_FOR_MORNING and trouble.priority is not Priority.HIGH
        for person in people.everybody:
            first = _first_step(person, people, holder, everybody=trouble.tag in TO_EVERYBODY)
            if newest < first or not person.channels:
                continue
            if (ladder.quiet or night) and person.is_quiet(now.utc_ms, zone, night=night):
                continue
            step = f"{trouble.number}.{newest}" if newest else f"{trouble.number}"
            found.append(Due(trouble.episode, person, step, newest, waited_ms, loud=newest > 0))
    for notice in notices:
        if notice.from_ms <= now.now_ms < notice.until_ms:
            found += [
                Due(notice.id, person, "0")
                for person in people.everybody
                if person.channels
                and _first_step(person, people, holder) <= (WHOM.index(Whom.KEEPERS) if notice.to_keepers else 0)
                and (notice.wakes or not person.is_quiet(now.utc_ms, zone))
            ]
    return found


def _first_step(person: Person, people: People, holder: str, *, everybody: bool = False) -> int:
    """The step from which on this person is told. Where nobody who can be told holds the watch, all keepers are."""
    if everybody or person.name == holder:
        return WHOM.index(Whom.HOLDER)
    if not people.knows(holder):
        keepers = any(one.role is Role.KEEPER and one.channels for one in people.everybody)
        if person.role is Role.KEEPER or not keepers:
            return WHOM.index(Whom.HOLDER)
    return WHOM.index(Whom.KEEPERS if person.role is Role.KEEPER else Whom.EVERYBODY)
