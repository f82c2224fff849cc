"""Probes that play a recorded log: a readings file, told again at its own pace, as if it were happening now.

To try alarms, messages and a new kiln file on a firing that was. Nothing is read from any kiln.
"""

from collections.abc import Callable, Iterable, Iterator

from spyhole.core.reading import Fault, ProbeReading, Reading

HOLDS_MS = 90_000
"""A row speaks for so long where the next one is further away: after that the log is silent, as a dead logger is."""


class RecordedProbes:
    """The rows of a log by the time since the first read. A gap, and what comes after the end, are faults, no numbers.

    rows: (utc_ms, reading), read forward once, so that a log of days takes no memory. monotonic_ms: the clock.
    """

    def __init__(self, rows: Iterable[tuple[int, Reading]], probes: int, monotonic_ms: Callable[[], int]) -> None:
        self._rows: Iterator[tuple[int, Reading]] = iter(rows)
        self._silent = Reading((ProbeReading(None, Fault.UNSURE),) * probes)
        self._monotonic_ms = monotonic_ms
        self._began_ms: int | None = None
        self._first, self._reading = next(self._rows)
        self._at_ms = 0
        self._next = self._following()

    def read(self) -> Reading:
        """The row of this moment; the fault `unsure` on every probe where the log says nothing of it."""
        now = self._monotonic_ms()
        if self._began_ms is None:
            self._began_ms = now
        played = now - self._began_ms
        while self._next is not None and self._next[0] <= played:
            self._at_ms, self._reading = self._next
            self._next = self._following()
        return self._reading if played - self._at_ms <= HOLDS_MS else self._silent

    def close(self) -> None:
        """Nothing is held."""

    def _following(self) -> tuple[int, Reading] | None:
        """The next row and when it is due [ms from the first]; one that a clock put back is due at once."""
        row = next(self._rows, None)
        return None if row is None else (max(row[0] - self._first, self._at_ms), row[1])
