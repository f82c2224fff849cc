"""Replay: files, or the journal of a data folder, through the same fold as live, into an outcomes file.

Rows are made from files thus. The readings' own clock is the monotonic one while it runs on; where it steps back,
the monotonic clock goes on by the usual interval and a clock row says what the file's clock says now. An entry of the
same instant comes before the reading.
"""

import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TextIO

from spyhole.core import watch
from spyhole.core.entry import Entry
from spyhole.core.forms.outcomes_jsonl import line
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.reading import Reading
from spyhole.core.words import Manner

BOOT = "replay"
FIRST_INTERVAL_MS = 1_000
PROGRESS_EVERY = 20_000


@dataclass(slots=True)
class _Clock:
    """The clock of a readings file. interval_ms: the last one that went forward."""

    utc_ms: int
    monotonic_ms: int
    interval_ms: int = FIRST_INTERVAL_MS


def rows(
    kiln: Kiln, plan: Plan, readings: Iterable[tuple[int, Reading]], entries: Iterable[tuple[int, Entry]] = ()
) -> Iterator[Row]:
    """The journal that these files amount to. readings and entries: (utc_ms, what), each in the order of its file."""
    sequence = 0

    def row(told: Told, monotonic_ms: int) -> Row:
        nonlocal sequence
        sequence += 1
        return Row(kiln.name, sequence, BOOT, monotonic_ms, told)

    waiting = iter(entries)
    entry = next(waiting, None)
    clock: _Clock | None = None
    for utc_ms, reading in readings:
        if clock is None:
            first_ms = utc_ms if entry is None else min(utc_ms, entry[0])
            clock = _Clock(first_ms, first_ms)
            yield row(Clock(first_ms, synchronised=True), first_ms)
            yield row(Settings(kiln, plan), first_ms)
        while entry is not None and entry[0] <= utc_ms:
            at_ms = clock.monotonic_ms + max(0, entry[0] - clock.utc_ms)
            yield row(entry[1], at_ms)
            clock = _Clock(max(clock.utc_ms, entry[0]), at_ms, clock.interval_ms)
            entry = next(waiting, None)
        passed_ms = utc_ms - clock.utc_ms
        if passed_ms < 0:
            clock = _Clock(utc_ms, clock.monotonic_ms + clock.interval_ms, clock.interval_ms)
            yield row(Clock(utc_ms, synchronised=True), clock.monotonic_ms)
        else:
            clock = _Clock(utc_ms, clock.monotonic_ms + passed_ms, passed_ms or clock.interval_ms)
        yield row(reading, clock.monotonic_ms)
    while entry is not None and clock is not None:
        at_ms = clock.monotonic_ms + max(0, entry[0] - clock.utc_ms)
        yield row(entry[1], at_ms)
        clock = _Clock(max(clock.utc_ms, entry[0]), at_ms, clock.interval_ms)
        entry = next(waiting, None)


def replay(journal: Iterable[Row], out: TextIO, manner: Manner, progress: Callable[[int], None]) -> int:
    """Fold these rows and write each outcome as a line; returns how many rows there were."""
    state = watch.begin()
    number = 0
    for number, row in enumerate(journal, 1):
        state, outcomes = watch.step(state, row)
        for outcome in outcomes:
            out.write(line(outcome, manner))
        if number % PROGRESS_EVERY == 0:
            progress(number)
    return number


def on_terminal(words: str) -> Callable[[int], None]:
    """Progress on the terminal, one line that is written over; nothing when nobody is looking."""
    if not sys.stderr.isatty():
        return lambda _: None
    return lambda number: print(f"\r{words.format(number)}", end="", file=sys.stderr, flush=True)
