"""Where a row stands in time, across boots and steps of the wall clock.

The watch lives on one axis that never steps: within a boot it follows the monotonic clock, across
boots it advances by what the wall clock says has passed, and by nothing when that is backwards or absurd.
UTC is the axis mended by the latest Clock row.
"""

from dataclasses import dataclass, replace

from spyhole.core.journal import Clock, Row

LONGEST_GAP_MS = 60 * 86_400_000
"""A gap between boots longer than this is a wrong clock, not a holiday."""


@dataclass(frozen=True, slots=True)
class Timeline:
    """axis = monotonic + axis_offset; utc = monotonic + utc_offset, both for this boot. All milliseconds."""

    boot: str = ""
    axis_offset_ms: int = 0
    utc_offset_ms: int = 0
    now_ms: int = 0
    utc_ms: int = 0


def follow(line: Timeline, row: Row) -> Timeline:
    """The timeline at this row. A Clock row sets UTC; the first one of a boot also places the boot on the axis."""
    told = row.told
    if row.boot != line.boot:
        gap_ms = 0
        if isinstance(told, Clock) and line.boot:
            gap_ms = told.utc_ms - line.utc_ms
            if not 0 <= gap_ms <= LONGEST_GAP_MS:
                gap_ms = 0
        utc_ms = told.utc_ms if isinstance(told, Clock) else line.utc_ms
        now_ms = line.now_ms + gap_ms if line.boot else utc_ms
        return Timeline(row.boot, now_ms - row.monotonic_ms, utc_ms - row.monotonic_ms, now_ms, utc_ms)
    if isinstance(told, Clock):
        line = replace(line, utc_offset_ms=told.utc_ms - row.monotonic_ms)
    return Timeline(
        line.boot,
        line.axis_offset_ms,
        line.utc_offset_ms,
        row.monotonic_ms + line.axis_offset_ms,
        row.monotonic_ms + line.utc_offset_ms,
    )
