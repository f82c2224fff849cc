"""Where a row stands in time, across boots and steps of the wall clock.

The watch lives on one axis that never steps: within a boot it follows the monotonic clock, across
boots it advances by what the wall clock says has passed, and by nothing when that is backwards or absurd.
UTC is the axis mended by the latest Clock row; within a boot one that a time source has set beats any other.

Whatever hangs on one clock has one distance between UTC and axis: this boot, and the boots before it that ended
without their clock ever being set. When the clock is set at last, all of it moves together (`correction`).
"""

from dataclasses import dataclass, replace

from spyhole.core.journal import Clock, Row

LONGEST_GAP_MS = 60 * 86_400_000
"""A gap between boots longer than this is a wrong clock, not a holiday."""


@dataclass(frozen=True, slots=True)
class Timeline:
    """axis = monotonic + axis_offset; utc = monotonic + utc_offset, both for this boot. All milliseconds.

    since_ms, since_sequence: axis and sequence of the first row whose UTC hangs on the clock of this boot.
    unset: no time source has set that clock yet.
    """

    boot: str = ""
    axis_offset_ms: int = 0
    utc_offset_ms: int = 0
    now_ms: int = 0
    utc_ms: int = 0
    since_ms: int = 0
    since_sequence: int = 0
    unset: bool = True


@dataclass(frozen=True, slots=True)
class Correction:
    """UTC from first_utc_ms to last_utc_ms, rows from first_sequence on, moves by this much."""

    by_ms: int
    first_sequence: int
    first_utc_ms: int
    last_utc_ms: int

    def of(self, utc_ms: int) -> int:
        """An instant as it is known now."""
        return utc_ms + self.by_ms if self.first_utc_ms <= utc_ms <= self.last_utc_ms else utc_ms


def follow(line: Timeline, row: Row) -> Timeline:
    """The timeline at this row. A Clock row sets UTC; the first one of a boot also places the boot on the axis."""
    told = row.told
    if row.boot != line.boot:
        return _boot(line, row)
    if isinstance(told, Clock) and (told.synchronised or line.unset):
        line = replace(line, utc_offset_ms=told.utc_ms - row.monotonic_ms, unset=not told.synchronised)
    return Timeline(
        line.boot,
        line.axis_offset_ms,
        line.utc_offset_ms,
        row.monotonic_ms + line.axis_offset_ms,
        row.monotonic_ms + line.utc_offset_ms,
        line.since_ms,
        line.since_sequence,
        line.unset,
    )


def _boot(line: Timeline, row: Row) -> Timeline:
    told = row.told
    gap_ms = 0
    if isinstance(told, Clock) and line.boot:
        gap_ms = told.utc_ms - line.utc_ms
        if not 0 <= gap_ms <= LONGEST_GAP_MS:
            gap_ms = 0
    utc_ms = told.utc_ms if isinstance(told, Clock) else line.utc_ms
    now_ms = line.now_ms + gap_ms if line.boot else utc_ms
    hangs = bool(line.boot) and line.unset
    return Timeline(
        row.boot,
        now_ms - row.monotonic_ms,
        utc_ms - row.monotonic_ms,
        now_ms,
        utc_ms,
        line.since_ms if hangs else now_ms,
        line.since_sequence if hangs else row.sequence,
        not (isinstance(told, Clock) and told.synchronised),
    )


def correction(before: Timeline, after: Timeline) -> Correction | None:
    """What the row between the two says of the UTC of earlier ones; None when nothing."""
    if not before.boot or before.since_sequence != after.since_sequence:
        return None
    apart_ms = before.utc_ms - before.now_ms
    by_ms = after.utc_ms - after.now_ms - apart_ms
    if by_ms == 0:
        return None
    return Correction(by_ms, before.since_sequence, before.since_ms + apart_ms, before.utc_ms)
