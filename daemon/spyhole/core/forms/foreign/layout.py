"""How another logger's file is laid out: what a person says of it, or confirms of what was guessed."""

from dataclasses import dataclass
from enum import StrEnum


class TimeForm(StrEnum):
    """How a time is written. The three orders of a date take any of - / . between its parts and 12 or 24 hours."""

    YEAR_FIRST = "year-month-day"
    DAY_FIRST = "day-month-year"
    MONTH_FIRST = "month-day-year"
    UNIX_SECONDS = "unix-seconds"
    UNIX_MILLISECONDS = "unix-milliseconds"
    ELAPSED_SECONDS = "elapsed-seconds"
    ELAPSED_MINUTES = "elapsed-minutes"
    ELAPSED_HOURS = "elapsed-hours"
    ELAPSED_CLOCK = "elapsed-clock"  # 12:04:30 since the start

    @property
    def elapsed(self) -> bool:
        """Counted from a start that somebody has to name."""
        return self.value.startswith("elapsed")

    @property
    def local(self) -> bool:
        """Needs a zone wherever a row names none."""
        return self in (TimeForm.YEAR_FIRST, TimeForm.DAY_FIRST, TimeForm.MONTH_FIRST)


class TempUnit(StrEnum):
    """The unit of a column."""

    CELSIUS = "degC"
    FAHRENHEIT = "degF"


class Same(StrEnum):
    """What becomes of rows of one instant that say different things."""

    REFUSE = "refuse"
    FIRST = "first"
    LAST = "last"


@dataclass(frozen=True, slots=True)
class RingColumn:
    """One ring's temperatures: at which column of a row (from 0), in which unit."""

    ring: str
    column: int
    unit: TempUnit


@dataclass(frozen=True, slots=True)
class LongForm:
    """A ring a row: which column names the ring, and what it calls each (ring, name there)."""

    name_column: int
    names: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """header_line: of the column names, from 1; 0 where there are none, and rows begin at `first_line`.

    time: columns whose texts, joined by a space, are the time. zone: IANA name for local times. start_utc_ms: where
    elapsed times begin. newest_first: rows run backwards. rings: one a probe ring that the file has; in the long form
    all name the same column.
    """

    delimiter: str
    decimal_comma: bool
    header_line: int
    first_line: int
    width: int
    time: tuple[int, ...]
    time_form: TimeForm
    zone: str
    start_utc_ms: int | None
    rings: tuple[RingColumn, ...]
    long: LongForm | None = None
    newest_first: bool = False
    same: Same = Same.REFUSE
