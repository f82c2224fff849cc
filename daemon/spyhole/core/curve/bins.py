"""Ten-second bins: the watch thinks in time, not in samples, so 1 s and 30 s sampling end alike."""

from collections import Counter
from dataclasses import dataclass
from statistics import median

from spyhole.core.reading import Fault, ProbeReading, Reading

BIN_MS = 10_000


@dataclass(frozen=True, slots=True)
class Bin:
    """What each probe said over one bin. at_ms: mean time of its samples. celsius: median; None with its fault.

    Both None: nothing was read.
    """

    at_ms: int
    celsius: tuple[float | None, ...]
    faults: tuple[Fault | None, ...]
    cold: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Filling:
    """The bin being filled."""

    closed_ms: int = 0
    times: tuple[int, ...] = ()
    readings: tuple[Reading, ...] = ()


def closes(filling: Filling, now_ms: int) -> bool:
    """Whether a tick at this time closes the bin; so does one from before it was opened."""
    return not 0 <= now_ms - filling.closed_ms < BIN_MS


def add(filling: Filling, now_ms: int, reading: Reading) -> tuple[Filling, Bin | None]:
    """Add one tick; a bin closes once ten seconds have passed since the last one closed."""
    times = (*filling.times, now_ms)
    readings = (*filling.readings, reading)
    if not closes(filling, now_ms):
        return Filling(filling.closed_ms, times, readings), None
    # Close on the ten-second grid, not on the sample, or 9 s and 11 s bins would alternate by jitter.
    closed_ms = now_ms - now_ms % BIN_MS
    return Filling(closed_ms, (), ()), _close(times, readings)


def _close(times: tuple[int, ...], readings: tuple[Reading, ...]) -> Bin:
    at_ms = times[0] if len(times) == 1 else round(sum(times) / len(times))
    columns = [_middle(column) for column in zip(*(r.probes for r in readings), strict=True)]
    return Bin(
        at_ms,
        tuple(celsius for celsius, _, _ in columns),
        tuple(fault for _, fault, _ in columns),
        tuple(cold for _, _, cold in columns),
    )


def _middle(column: tuple[ProbeReading, ...]) -> tuple[float | None, Fault | None, float | None]:
    numbers = [p.celsius for p in column if p.celsius is not None]
    cold = next((p.cold_junction_celsius for p in reversed(column) if p.cold_junction_celsius is not None), None)
    faults = [p.fault for p in column if p.fault is not None]
    # A chip that forgot itself says so once and is well again: that word must not drown in good numbers.
    if Fault.CONFIG in faults:
        return None, Fault.CONFIG, cold
    if numbers and len(numbers) >= len(faults):
        return median(numbers), None, cold
    if faults:
        return None, Counter(faults).most_common(1)[0][0], cold
    return None, None, cold
