"""Times as other loggers write them, to UTC. Local times are led across the changes of summer time by their order."""

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from spyhole.core.forms.foreign.layout import TimeForm

_DATE = r"(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})"
_CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,6}))?)?\s*([AaPp])?\.?[Mm]?\.?"
_OFFSET = r"\s*(Z|UTC|GMT|[+-]\d{2}:?\d{2})?"
_STAMP = re.compile(rf"{_DATE}[T ,]+{_CLOCK}{_OFFSET}")
_ELAPSED = re.compile(r"(?:(\d+):)?(\d{1,3}):(\d{2})(?:[.,](\d{1,6}))?")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND = timedelta(milliseconds=1)

_PARTS = {TimeForm.YEAR_FIRST: (0, 1, 2), TimeForm.DAY_FIRST: (2, 1, 0), TimeForm.MONTH_FIRST: (2, 0, 1)}
_SCALE_MS = {
    TimeForm.UNIX_SECONDS: 1000,
    TimeForm.UNIX_MILLISECONDS: 1,
    TimeForm.ELAPSED_SECONDS: 1000,
    TimeForm.ELAPSED_MINUTES: 60_000,
    TimeForm.ELAPSED_HOURS: 3_600_000,
}
_KEPT_MINUTES = 100_000
_SECONDS = {f"{second:02}{z}": second * 1000 for second in range(60) for z in ("", "Z")}

TimeReader = Callable[[str], int]
"""The utc_ms of a text; ValueError saying what is wrong with it. Rows are read in their order."""


def time_reader(form: TimeForm, zone: str, start_utc_ms: int | None, decimal_comma: bool) -> TimeReader:
    """The reader of one file's times. zone: for local times, "" where every row must name its own."""
    if form.local:
        return _Local(form, zone)
    start = start_utc_ms or 0
    if form is TimeForm.ELAPSED_CLOCK:
        return lambda text: start + _clock_ms(text)
    scale = _SCALE_MS[form]

    def counted(text: str) -> int:
        try:
            return start + round(float(text.replace(",", ".") if decimal_comma else text) * scale)
        except (ValueError, OverflowError):
            raise ValueError(f"{text!r} is no number of {form.value.partition('-')[2]}") from None

    return counted


def _clock_ms(text: str) -> int:
    found = _ELAPSED.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{text!r} is no time since the start, such as 12:04:30")
    hours, minutes, seconds, part = found.groups()
    return (int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds)) * 1000 + _part_ms(part)


def _part_ms(part: str | None) -> int:
    return 0 if part is None else int(part.ljust(3, "0")[:3])


class _Local:
    """Dates with a clock. What a minute is in UTC is worked out once: a file has many rows a minute.

    Where an hour comes twice (clocks go back), the earlier is meant until the rows themselves step back.
    """

    def __init__(self, form: TimeForm, zone: str) -> None:
        self._form = form
        self._zone = ZoneInfo(zone) if zone else None
        self._minutes: dict[str, tuple[int, int]] = {}
        self._minutes_utc: dict[str, tuple[int, int]] = {}
        self._last_ms = -(1 << 62)

    def __call__(self, text: str) -> int:
        head, _, tail = text.rpartition(":")
        seconds = _SECONDS.get(tail)
        minute = (self._minutes if len(tail) == 2 else self._minutes_utc).get(head)
        if minute is None or seconds is None:
            return self._slow(text, head, tail)
        return self._place(minute, seconds)

    def _place(self, minute: tuple[int, int], ms: int) -> int:
        utc_ms = minute[0] + ms
        if utc_ms < self._last_ms and minute[1] + ms >= self._last_ms:
            utc_ms = minute[1] + ms
        self._last_ms = utc_ms
        return utc_ms

    def _slow(self, text: str, head: str, tail: str) -> int:
        found = _STAMP.fullmatch(text.strip())
        if found is None:
            raise ValueError(f"{text!r} is no date and time in the order {self._form}")
        date, (hour, minute, second, part, half, offset) = found.groups()[:3], found.groups()[3:]
        year, month, day = (int(date[i]) for i in _PARTS[self._form])
        ms = int(second or 0) * 1000 + _part_ms(part)
        try:
            century = 2000 if year < 100 else 0
            wall = datetime(century + year, month, day, _hour(int(hour), half), int(minute), tzinfo=UTC)
        except ValueError:
            raise ValueError(f"{text!r} is no date and time in the order {self._form}") from None
        if ms >= 60_000:
            raise ValueError(f"{text!r} has more seconds than a minute")
        both = (_ms_of(wall) - _offset_ms(offset),) * 2 if offset else self._in_zone(wall, text)
        # Only what ends with its seconds, or with Z after them, can be cut at its last colon.
        if tail in _SECONDS and second is not None:
            minutes = self._minutes if offset is None else self._minutes_utc
            if len(minutes) < _KEPT_MINUTES:
                minutes[head] = both
        return self._place(both, ms)

    def _in_zone(self, wall: datetime, text: str) -> tuple[int, int]:
        if self._zone is None:
            raise ValueError(f"{text!r} names no zone")
        early, late = (_ms_of(wall.replace(tzinfo=self._zone, fold=fold)) for fold in (0, 1))
        if early > late:
            raise ValueError(f"{text!r} did not exist in {self._zone.key}: the clocks had gone forward")
        return early, late


def _hour(hour: int, half: str | None) -> int:
    if half is None:
        return hour
    if not 1 <= hour <= 12:
        raise ValueError
    return hour % 12 + (12 if half in "Pp" else 0)


def _offset_ms(offset: str) -> int:
    if offset in ("Z", "UTC", "GMT"):
        return 0
    sign = -1 if offset[0] == "-" else 1
    return sign * (int(offset[1:3]) * 60 + int(offset[-2:])) * 60_000


def _ms_of(stamp: datetime) -> int:
    return (stamp - _EPOCH) // _MILLISECOND
