"""Who holds the watch, and when they last said that they are in reach. Times are axis milliseconds."""

from dataclasses import dataclass, replace

from spyhole.core.journal import InReach, WatchTaken

IN_REACH, NO_ANSWER = "in reach", "no answer"
"""What came of the question before a turn, as a fact of the turn that is due; "" where none was asked."""


@dataclass(frozen=True, slots=True)
class Asked:
    """'Are you in reach?', asked then and not answered yet. why: what is coming, in a few words."""

    since_ms: int
    why: str


@dataclass(frozen=True, slots=True)
class Duty:
    """holder: "" for nobody. note: what was said at the hand-over. reached_by: who answered last."""

    holder: str = ""
    note: str = ""
    taken_ms: int | None = None
    reached_by: str = ""
    reached_ms: int | None = None
    asked: Asked | None = None


def hand_over(duty: Duty, told: WatchTaken, now_ms: int) -> Duty:
    """Somebody else holds the watch; whoever takes it is in reach. Laid down (nobody), a question stays open."""
    if not told.who:
        return replace(duty, holder="", note=told.note, taken_ms=now_ms)
    return Duty(told.who, told.note, now_ms, told.who, now_ms)


def ask(duty: Duty, why: str, now_ms: int) -> Duty:
    """Somebody has been asked. One question is open at a time, from when it was first asked."""
    return duty if duty.asked is not None else replace(duty, asked=Asked(now_ms, why))


def answered(duty: Duty, told: InReach, now_ms: int) -> Duty:
    """Somebody is in reach."""
    return replace(duty, reached_by=told.who, reached_ms=now_ms, asked=None)


def acted(duty: Duty, who: str, now_ms: int) -> Duty:
    """Somebody did something at the page or the kiln: whoever can do that is in reach."""
    return replace(duty, reached_by=who or duty.reached_by, reached_ms=now_ms, asked=None)
