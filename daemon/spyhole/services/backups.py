"""The names of backups in their folder, and which of them stay."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Protocol

FOLDER = "backups"
_NAME = re.compile(r"record-(\d{4}-\d\d-\d\d)T\d\d-\d\d-\d\dZ\.zip")


@dataclass(frozen=True, slots=True)
class Keep:
    """daily: the last one of each of so many days. weekly: the last one of each of so many weeks."""

    daily: int = 7
    weekly: int = 8


KEEP = Keep()
"""Unless the settings say otherwise."""


@dataclass(frozen=True, slots=True)
class BackupView:
    """One that is there. made_utc_ms: by its name."""

    name: str
    made_utc_ms: int
    size_bytes: int


@dataclass(frozen=True, slots=True)
class BackupsView:
    """making: one is being made now. trouble: why the last one asked for could not be, "" for none."""

    newest: BackupView | None
    kept: int
    making: bool
    trouble: str


class Copies(Protocol):
    """What the page may ask. Thread-safe."""

    def view(self) -> BackupsView:
        """Those there are."""
        ...

    def begin(self) -> None:
        """Make one now, unless one is being made."""
        ...


def backup_name(utc_ms: int) -> str:
    """The name of a backup made then, to the second.

    >>> backup_name(1_951_155_600_000)
    'record-2031-10-30T19-40-00Z.zip'
    """
    return f"record-{datetime.fromtimestamp(utc_ms // 1000, UTC):%Y-%m-%dT%H-%M-%SZ}.zip"


def made_utc_ms(name: str) -> int | None:
    """When a backup of this name was made; None for what has no name of ours.

    >>> made_utc_ms("record-2031-10-30T19-40-00Z.zip")
    1951155600000
    """
    if _day(name) is None:
        return None
    try:
        return round(datetime.strptime(name, "record-%Y-%m-%dT%H-%M-%SZ.zip").replace(tzinfo=UTC).timestamp() * 1000)
    except ValueError:
        return None


def let_go(names: Iterable[str], keep: Keep, newest: str) -> list[str]:
    """Those of a folder's files that need not stay. What has no name of ours is not ours to let go.

    newest: what was just made stays, whatever the clock says: the day of each is in its name, right or wrong.
    """
    ours = sorted((name for name in names if _day(name) is not None), reverse=True)
    days: dict[date, str] = {}
    weeks: dict[tuple[int, int], str] = {}
    for name in ours:
        day = _day(name)
        if day is not None:
            days.setdefault(day, name)
            weeks.setdefault(day.isocalendar()[:2], name)
    staying = {newest, *list(days.values())[: keep.daily], *list(weeks.values())[: keep.weekly]}
    return [name for name in ours if name not in staying]


def _day(name: str) -> date | None:
    found = _NAME.fullmatch(name)
    try:
        return date.fromisoformat(found[1]) if found else None
    except ValueError:
        return None
