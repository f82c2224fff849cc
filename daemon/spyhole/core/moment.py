"""Time as a value: which boot, how long since it, and what the wall clock claimed."""

from dataclasses import dataclass
from datetime import UTC, datetime


@dataclass(frozen=True, slots=True)
class Moment:
    """One instant as the machine saw it.

    boot: identifies one life of the monotonic clock (the kernel's boot id on a Pi).
    monotonic_ms: whole milliseconds of that clock; never steps.
    utc_ms: the wall clock in milliseconds since 1970, right or wrong.
    synchronised: whether the wall clock had been set by a time source.
    """

    boot: str
    monotonic_ms: int
    utc_ms: int
    synchronised: bool = True


def utc_text(utc_ms: int) -> str:
    """ISO 8601 with Z, to the second: the form of every time in a file of ours."""
    return datetime.fromtimestamp(utc_ms // 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def utc_ms_from_text(text: str) -> int:
    """Milliseconds since 1970 from ISO 8601 with Z or an offset; ValueError for anything else."""
    stamp = datetime.fromisoformat(text)
    if stamp.tzinfo is None:
        raise ValueError("a time needs its zone, for example 2031-10-30T19:41:39Z")
    return round(stamp.timestamp() * 1000)
