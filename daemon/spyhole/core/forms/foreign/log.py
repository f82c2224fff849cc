"""Another logger's file by its layout: instants and temperatures in columns, each row taken, dropped or refused."""

import csv
from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, islice
from operator import lt

from spyhole.core.forms.csv_lines import EARLIEST_UTC_MS, LATEST_UTC_MS
from spyhole.core.forms.foreign.layout import Layout, Same
from spyhole.core.forms.foreign.times import time_reader
from spyhole.core.forms.foreign.values import NOTHING, STEPS, column_reader, taken, value_reader
from spyhole.core.kiln import Kiln
from spyhole.core.refusal import Refusal

_PIECE = 2000
_UNIT_JUMP_MS = 600_000
_SUDDEN_STEPS = 60 * STEPS
_HOTTER_THAN_KILN_CELSIUS = 100.0
_NO_TEXT = "this is not text in UTF-8"


@dataclass(frozen=True, slots=True)
class Log:
    """A file, read. utc_ms never steps back. columns: one a ring of the layout, in 1/128 degC, NOTHING for no number.

    lines: where each row stood. repeated: rows dropped because they said an instant again.
    others: rows of the long form about something else than our rings.
    """

    utc_ms: "array[int]"
    columns: "tuple[array[int], ...]"
    lines: "array[int]"
    repeated: int = 0
    others: int = 0


def read_log(lines: Iterable[str], file: str, layout: Layout) -> Log:
    """Read the whole file. Refusal naming file and line for the first row that cannot be taken."""
    log = Log(array("q"), tuple(array("i") for _ in layout.rings), array("l"))
    if layout.long:
        dropped = _read_long(_rows(lines, file, layout), file, layout, log)
    else:
        dropped = _read_wide(_pieces(iter(lines), file, layout), file, layout, log), 0
    if not log.utc_ms:
        raise Refusal(file, "there is no row of readings in it")
    return Log(log.utc_ms, log.columns, log.lines, *dropped)


def _pieces(lines: Iterator[str], file: str, layout: Layout) -> Iterator[tuple[Sequence[int], list[list[str]]]]:
    """The line of each row and its cells, oldest first, a piece at a time.

    Where nothing is quoted a row is a line, and a piece of them goes through without a line of ours for each.
    """
    before = 0
    while not layout.newest_first:
        piece: list[str] = []
        try:
            piece.extend(islice(lines, _PIECE))
        except UnicodeDecodeError:
            raise Refusal(f"{file} line {before + len(piece) + 1}", _NO_TEXT) from None
        if not piece:
            return
        if any('"' in line for line in piece):
            lines = chain(piece, lines)
            break
        table = _even(piece, layout) if before + 1 >= layout.first_line else None
        if table is not None:
            yield range(before + 1, before + 1 + len(piece)), table
        elif found := list(_rows(piece, file, layout, before)):
            yield [number for number, _ in found], [cells for _, cells in found]
        before += len(piece)
    rows = _rows(lines, file, layout, before)
    while found := list(islice(rows, _PIECE)):
        yield [number for number, _ in found], [cells for _, cells in found]


def _even(piece: list[str], layout: Layout) -> list[list[str]] | None:
    """The cells of these lines; None unless each is a row as wide as it should be."""
    try:
        table = list(csv.reader(piece, delimiter=layout.delimiter, skipinitialspace=True))
    except csv.Error:
        return None
    return table if len(table) == len(piece) and set(map(len, table)) == {layout.width} else None


def _rows(lines: Iterable[str], file: str, layout: Layout, before: int = 0) -> Iterator[tuple[int, list[str]]]:
    """(line, cells), oldest first. before: how many lines of the file came before these."""
    reader = csv.reader(lines, delimiter=layout.delimiter, skipinitialspace=True)
    first = layout.first_line - before
    rows = ((before + reader.line_num, cells) for cells in reader if cells and reader.line_num >= first)
    width = layout.width
    try:
        for line, cells in reversed(list(rows)) if layout.newest_first else rows:
            if len(cells) != width:
                if not any(cell.strip() for cell in cells):
                    continue
                raise Refusal(f"{file} line {line}", f"it has {len(cells)} cells and the others {width}")
            yield line, cells
    except csv.Error as error:
        raise Refusal(f"{file} line {before + reader.line_num}", f"this row cannot be read ({error})") from None
    except UnicodeDecodeError:
        raise Refusal(f"{file} line {before + reader.line_num + 1}", _NO_TEXT) from None


def _read_wide(pieces: Iterator[tuple[Sequence[int], list[list[str]]]], file: str, layout: Layout, log: Log) -> int:
    """Fill the log; returns the rows dropped. A piece at a time and by column: logs have a row a second."""
    moment = time_reader(layout.time_form, layout.zone, layout.start_utc_ms, layout.decimal_comma)
    readers = [(ring.column, column_reader(ring.unit, layout.decimal_comma)) for ring in layout.rings]
    repeated = 0
    for lines, table in pieces:
        cells = list(zip(*table, strict=True))
        texts = cells[layout.time[0]] if len(layout.time) == 1 else list(map(" ".join, zip(*map(cells.__getitem__, layout.time), strict=True)))  # fmt: skip  # noqa: E501
        times, problem = taken(moment, texts)
        columns = []
        for at, read in readers:
            values, wrong = read(cells[at])
            columns.append(values)
            if wrong and len(values) < len(times):
                problem = wrong
            del times[len(values) :]
        repeated += _append(log, lines, times, columns, texts, file, layout.same)
        if problem:
            raise Refusal(f"{file} line {lines[len(times)]}", problem)
    return repeated


def _append(
    log: Log,
    lines: Sequence[int],
    times: list[int],
    columns: list[list[int]],
    texts: Sequence[str],
    file: str,
    same: Same,
) -> int:
    """Add a piece; returns the rows that said an instant again. Columns may be longer than the times."""
    if not times:
        return 0
    last_ms = log.utc_ms[-1] if log.utc_ms else EARLIEST_UTC_MS - 1
    if last_ms < times[0] and all(map(lt, times, times[1:])) and times[-1] <= LATEST_UTC_MS:
        log.utc_ms.extend(times)
        log.lines.extend(lines[: len(times)])
        for column, values in zip(log.columns, columns, strict=True):
            column.extend(values[: len(times)])
        return 0
    repeated = 0
    for i, utc_ms in enumerate(times):
        values = [column[i] for column in columns]
        where = f"{file} line {lines[i]}"
        if utc_ms < last_ms or utc_ms > LATEST_UTC_MS:
            back = utc_ms < last_ms and last_ms >= EARLIEST_UTC_MS
            raise Refusal(where, _back(last_ms - utc_ms) if back else _no_time(texts[i]))
        if utc_ms == last_ms:
            repeated += 1
            if values != [column[-1] for column in log.columns]:
                if same is Same.REFUSE:
                    raise Refusal(where, *_twice(texts[i]))
                if same is Same.LAST:
                    for column, value in zip(log.columns, values, strict=True):
                        column[-1] = value
            continue
        log.utc_ms.append(utc_ms)
        log.lines.append(lines[i])
        for column, value in zip(log.columns, values, strict=True):
            column.append(value)
        last_ms = utc_ms
    return repeated


def _read_long(rows: Iterator[tuple[int, list[str]]], file: str, layout: Layout, log: Log) -> tuple[int, int]:
    """Fill the log from a ring a row; returns (repeated, others)."""
    assert layout.long is not None
    moment = time_reader(layout.time_form, layout.zone, layout.start_utc_ms, layout.decimal_comma)
    index_of = {name: [r.ring for r in layout.rings].index(ring) for ring, name in layout.long.names}
    readers = [(ring.column, value_reader(ring.unit, layout.decimal_comma)) for ring in layout.rings]
    name_at, last_ms, repeated, others, line = layout.long.name_column, EARLIEST_UTC_MS - 1, 0, 0, 0
    seen: set[int] = set()
    try:
        for line, cells in rows:
            index = index_of.get(cells[name_at].strip())
            if index is None:
                others += 1
                continue
            text = " ".join(cells[i] for i in layout.time)
            utc_ms = moment(text)
            at, read = readers[index]
            value = read(cells[at])
            if utc_ms < last_ms:
                raise ValueError(_back(last_ms - utc_ms))
            if utc_ms > LATEST_UTC_MS:
                raise ValueError(_no_time(text))
            if utc_ms > last_ms:
                log.utc_ms.append(utc_ms)
                log.lines.append(line)
                for column in log.columns:
                    column.append(NOTHING)
                seen.clear()
                last_ms = utc_ms
            if index in seen:
                repeated += 1
                if log.columns[index][-1] != value:
                    if layout.same is Same.REFUSE:
                        raise ValueError("; ".join(_twice(text)))
                    if layout.same is Same.FIRST:
                        continue
            seen.add(index)
            log.columns[index][-1] = value
    except ValueError as problem:
        raise Refusal(f"{file} line {line}", str(problem)) from None
    return repeated, others


def _back(ms: int) -> str:
    return (
        f"the time goes back by {_span(ms)}: the logger's clock was set, its rows are out of order, "
        "or its zone is another than was said"
    )


def _no_time(text: str) -> str:
    return f"{text!r} is not a time between 1970 and 2200"


def _twice(text: str) -> tuple[str, str]:
    return f"{text!r} comes twice with different numbers", "say whether the first or the last counts: --same last"


def _span(ms: int) -> str:
    return f"{ms / 1000:g} s" if ms < 120_000 else f"{ms / 60_000:.0f} min"


def check_log(log: Log, file: str, layout: Layout, kiln: Kiln, now_utc_ms: int) -> None:
    """Refusal for what no kiln can have done: a unit that changes midway, more than this kiln can reach, the future."""
    if log.utc_ms[-1] > now_utc_ms + 60_000:
        where = f"{file} line {log.lines[-1]}"
        raise Refusal(where, "this is still to come: the date's order, the zone or the start is another than was said")
    for ring, column in zip(layout.rings, log.columns, strict=True):
        _refuse_unit_jump(log, column, file, ring.ring)
        hottest = max(column)
        if hottest > (kiln.maximum_celsius + _HOTTER_THAN_KILN_CELSIUS) * STEPS:
            line = log.lines[column.index(hottest)]
            raise Refusal(
                f"{file} line {line}, {ring.ring}",
                f"{hottest / STEPS:.0f} degC is more than {kiln.name} can reach ({kiln.maximum_celsius:g})",
                "if the file is in degF, say --unit degF",
            )


def _refuse_unit_jump(log: Log, column: "array[int]", file: str, ring: str) -> None:
    """From degC to degF or back between two rows: 1.8 times and 32, as exactly as no kiln does by chance."""
    before, before_at = NOTHING, 0
    for at, now in enumerate(column):
        if now == NOTHING:
            continue
        sudden = abs(now - before) > _SUDDEN_STEPS and before != NOTHING
        if sudden and log.utc_ms[at] - log.utc_ms[before_at] < _UNIT_JUMP_MS:
            cold, hot = sorted((before / STEPS, now / STEPS))
            if abs(hot - (1.8 * cold + 32)) < 4 + 0.01 * hot:
                was, now_is = before / STEPS, now / STEPS
                problem = f"from {was:.0f} to {now_is:.0f} at once: from here on the numbers are in another unit"
                raise Refusal(f"{file} line {log.lines[at]}, {ring}", problem, "part the file there")
        before, before_at = now, at
