"""Replay: files, or the journal of a data folder, through the same fold as live, into an outcomes file.

Rows are made from files thus. The readings' own clock is the monotonic one while it runs on; where it steps back,
the monotonic clock goes on by the usual interval and a clock row says what the file's clock says now. An entry of the
same instant comes before the reading.
"""

import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from spyhole.app.settings import text_of
from spyhole.core import watch
from spyhole.core.entry import Entry
from spyhole.core.forms.entries_csv import entries as entries_from_csv
from spyhole.core.forms.kiln_toml import kiln_from_toml
from spyhole.core.forms.outcomes_jsonl import line
from spyhole.core.forms.plan_toml import plan_from_toml
from spyhole.core.forms.readings_csv import readings as readings_from_csv
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.kiln import Kiln
from spyhole.core.outcome import EstimateOutcome
from spyhole.core.plan import Plan
from spyhole.core.reading import Reading
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner, sentence

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


def fold(journal: Iterable[Row], out: TextIO, manner: Manner, progress: Callable[[int], None]) -> int:
    """Fold these rows and write each outcome as a line; returns how many rows there were."""
    state = watch.begin()
    number = 0
    for number, row in enumerate(journal, 1):
        state, outcomes = watch.step(state, row)
        for outcome in outcomes:
            text = "" if isinstance(outcome, EstimateOutcome) else sentence(outcome, manner)
            out.write(f"{line(outcome, text)}\n")
        if number % PROGRESS_EVERY == 0:
            progress(number)
    return number


@dataclass(frozen=True, slots=True)
class Files:
    """What a replay from files reads."""

    readings: Path
    kiln: Path
    plan: Path
    entries: Path | None


def replay_files(files: Files, out: Path | None, manner: Manner) -> int:
    """Replay these files into `out` (None: standard output); returns the rows. Refusal naming file and line."""
    kiln = kiln_from_toml(text_of(files.kiln, "kiln"), str(files.kiln))
    plan = plan_from_toml(text_of(files.plan, "plan"), str(files.plan), kiln)
    entries: list[tuple[int, Entry]] = []
    if files.entries is not None:
        text = text_of(files.entries, "entries").splitlines(keepends=True)
        entries = sorted(entries_from_csv(text, str(files.entries), kiln, plan), key=lambda entry: entry[0])
    try:
        opened = files.readings.open(encoding="utf-8", newline="")
    except OSError as error:
        raise Refusal(str(files.readings), f"the readings file cannot be read ({error.strerror})") from None
    with opened as lines, _written(out) as written:
        journal = rows(kiln, plan, readings_from_csv(lines, str(files.readings), kiln), entries)
        return fold(journal, written, manner, on_terminal("{} rows"))


def replay_journal(data: Path, out: Path | None, manner: Manner) -> int:
    """Replay the record in this folder, also while a daemon writes it; returns the rows. Refusal when there is none."""
    from spyhole.store.archive import open_records

    with open_records(data) as records, _written(out) as written:
        return sum(
            fold(records.rows_after(kiln, 0), written, manner, on_terminal("{} rows")) for kiln in records.kilns()
        )


@contextmanager
def _written(out: Path | None) -> Iterator[TextIO]:
    """The outcomes file, there whole or not at all; or standard output."""
    if out is None:
        yield sys.stdout
        return
    aside = out.with_name(out.name + ".part")
    try:
        opened = aside.open("w", encoding="utf-8", newline="\n")
    except OSError as error:
        raise Refusal(str(out), f"the outcomes cannot be written there ({error.strerror})") from None
    try:
        with opened:
            yield opened
        os.replace(aside, out)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise


def on_terminal(words: str) -> Callable[[int], None]:
    """Progress on the terminal, one line that is written over; nothing when nobody is looking."""
    if not sys.stderr.isatty():
        return lambda _: None
    return lambda number: print(f"\r{words.format(number)}", end="", file=sys.stderr, flush=True)
