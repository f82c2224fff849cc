"""`spyhole import`: another logger's file into the kiln book, after a preview of how it was understood."""

import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TextIO

from spyhole.app.replay import on_terminal
from spyhole.app.settings import text_of
from spyhole.core.entry import Entry
from spyhole.core.forms.entries_csv import entries as entries_from_csv
from spyhole.core.forms.foreign.guess import SAMPLE_LINES, Said, guess_layout
from spyhole.core.forms.foreign.layout import Layout
from spyhole.core.forms.foreign.log import Log, check_log, read_log
from spyhole.core.forms.foreign.values import NOTHING, STEPS
from spyhole.core.forms.kiln_toml import kiln_from_toml
from spyhole.core.forms.plan_toml import plan_from_toml
from spyhole.core.kiln import Kiln
from spyhole.core.moment import utc_text
from spyhole.core.refusal import Refusal
from spyhole.services.importing import Studio, conclude, told_rows

GAP_FACTOR = 5
_DELIMITER_WORDS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}


@dataclass(frozen=True, slots=True)
class Wish:
    """What the command was told. preview: say how the file is understood, and keep nothing."""

    readings: Path
    kiln: Path
    plan: Path
    entries: Path | None
    data: Path
    said: Said
    preview: bool


def bring(wish: Wish) -> int:
    """Import the file, or show how it would be. Refusal naming file and line; then nothing was kept."""
    kiln_toml, plan_toml = text_of(wish.kiln, "kiln"), text_of(wish.plan, "plan")
    kiln = kiln_from_toml(kiln_toml, str(wish.kiln))
    plan = plan_from_toml(plan_toml, str(wish.plan), kiln)
    entries: list[tuple[int, Entry]] = []
    if wish.entries is not None:
        lines = text_of(wish.entries, "entries").splitlines(keepends=True)
        entries = entries_from_csv(lines, str(wish.entries), kiln, plan)
    layout, log = _read(wish, kiln)
    check_log(log, str(wish.readings), layout, kiln, time.time_ns() // 1_000_000)
    _refuse_apart(wish, log, entries)
    for line in described(layout, log):
        print(line)
    if wish.preview:
        print("Nothing was kept: this was a preview. Without --preview it goes into the kiln book.")
        return 0
    _keep(wish, Studio(kiln, plan, kiln_toml, plan_toml), layout, log, entries)
    return 0


def _read(wish: Wish, kiln: Kiln) -> tuple[Layout, Log]:
    name = str(wish.readings)
    try:
        with _opened(wish.readings) as file:
            layout = guess_layout(
                [line.removeprefix("\ufeff") for line in islice(file, SAMPLE_LINES)], name, kiln, wish.said
            )
        with _opened(wish.readings) as file:
            return layout, read_log(file, name, layout)
    except UnicodeDecodeError:
        raise Refusal(name, "this is not text in UTF-8", "save it from your spreadsheet as CSV, UTF-8") from None


def _opened(path: Path) -> TextIO:
    try:
        return path.open(encoding="utf-8-sig", newline="")
    except OSError as error:
        raise Refusal(str(path), f"the readings file cannot be read ({error.strerror})") from None


def _refuse_apart(wish: Wish, log: Log, entries: Sequence[tuple[int, Entry]]) -> None:
    """Entries that lie wholly beside the readings are of another zone, or another firing."""
    if not entries:
        return
    first, last = min(at for at, _ in entries), max(at for at, _ in entries)
    if first > log.utc_ms[-1] or last < log.utc_ms[0]:
        raise Refusal(
            str(wish.entries),
            f"its entries are from {utc_text(first)} to {utc_text(last)}, and the readings from "
            f"{utc_text(log.utc_ms[0])} to {utc_text(log.utc_ms[-1])}",
            "look whether --zone is where the logger's clock was set to",
        )


def described(layout: Layout, log: Log) -> list[str]:
    """How the file was understood, for somebody who knows the firing."""
    usual = _usual_ms(log)
    gaps = [(b - a, a) for a, b in zip(log.utc_ms, log.utc_ms[1:], strict=False) if b - a > GAP_FACTOR * usual]
    parted = _DELIMITER_WORDS.get(layout.delimiter, repr(layout.delimiter))
    mark = "comma" if layout.decimal_comma else "point"
    order = ", newest first" if layout.newest_first else ""
    zone = f"clock of {layout.zone}" if layout.zone else "in UTC or with their zone"
    first, last = utc_text(log.utc_ms[0]), utc_text(log.utc_ms[-1])
    lines = [
        f"parted by {parted}, decimal {mark}, first row on line {layout.first_line}{order}",
        f"times as {layout.time_form}, {zone}",
        f"{len(log.utc_ms):,} instants from {first} to {last}, mostly {usual / 1000:g} s apart",
    ]
    for ring, column in zip(layout.rings, log.columns, strict=True):
        seen = [steps for steps in column if steps != NOTHING]
        held = f"{min(seen) / STEPS:.0f} to {max(seen) / STEPS:.0f} degC" if seen else "no number at all"
        lines.append(
            f"{ring.ring}: column {ring.column + 1}, written in {ring.unit}: {held}, {len(column) - len(seen)} empty"
        )
    if log.repeated:
        lines.append(f"{log.repeated} rows said an instant again and were left out")
    if log.others:
        lines.append(f"{log.others} rows are about something else than these rings and were left out")
    if gaps:
        longest, at = max(gaps)
        lines.append(f"{len(gaps)} gaps stay gaps; the longest, {longest / 60_000:.0f} min, after {utc_text(at)}")
    return lines


def _usual_ms(log: Log) -> int:
    apart = sorted(b - a for a, b in zip(log.utc_ms[:1000], log.utc_ms[1:1000], strict=False))
    return apart[len(apart) // 2] if apart else 1000


def _keep(wish: Wish, studio: Studio, layout: Layout, log: Log, entries: Sequence[tuple[int, Entry]]) -> None:
    # A preview needs no database.
    from spyhole.store.imports import put_import
    from spyhole.store.location import Location

    by_ring = {ring.ring: column for ring, column in zip(layout.rings, log.columns, strict=True)}
    nothing = [None] * len(log.utc_ms)
    columns: list[Sequence[int | None]] = []
    for index in studio.kiln.probe_rings:
        column = by_ring.get(studio.kiln.rings[index].name)
        if column is None:
            columns.append(nothing)
        else:
            columns.append([None if s == NOTHING else s for s in column] if NOTHING in column else column)
    told = told_rows(studio, log.utc_ms[0], entries)
    say = on_terminal("{} rows are in; the watch looks at them")
    with Location(wish.data).writing() as engine:
        put_import(engine, studio.kiln.name, told, log.utc_ms, columns, lambda rows: conclude(studio, rows), stored=say)
    print(f"It is in the kiln book of {studio.kiln.name}.", file=sys.stdout)
