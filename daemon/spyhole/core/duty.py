"""Who holds the watch, and when they last said that they are in reach. Times are axis milliseconds."""

from dataclasses import dataclass, replace

from spyhole.core.journal import InReach, WatchTaken


@dataclass(frozen=True, slots=True)
class Duty:
    """holder: "" for nobody. note: what was said at the hand-over. reached_by: who answered last."""

    holder: str = ""
    note: str = ""
    taken_ms: int | None = None
    reached_by: str = ""
    reached_ms: int | None = None


def hand_over(duty: Duty, told: WatchTaken, now_ms: int) -> Duty:
    """Somebody else holds the watch; whoever takes it is in reach."""
    return replace(duty, holder=told.who, note=told.note, taken_ms=now_ms, reached_by=told.who, reached_ms=now_ms)


def answered(duty: Duty, told: InReach, now_ms: int) -> Duty:
    """Somebody is in reach."""
    return replace(duty, reached_by=told.who, reached_ms=now_ms)
