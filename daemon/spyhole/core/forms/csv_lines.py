"""Rows of a comma-separated file with their line numbers; refuses what is no such file."""

import csv
from collections.abc import Iterable, Iterator

from spyhole.core.moment import utc_ms_from_text
from spyhole.core.refusal import Refusal

EARLIEST_UTC_MS = 0
LATEST_UTC_MS = 7_258_118_400_000
"""1970, where a clock without a battery starts, to 2200."""


def rows(lines: Iterable[str], file: str, header: str) -> Iterator[tuple[int, list[str]]]:
    """(line, cells) of every row, the header first; blank lines are passed over.

    header: what the first line ought to be, for messages.
    """
    reader = csv.reader(_without_mark(lines))
    line = 0
    blank = True
    try:
        for cells in reader:
            line = reader.line_num
            if cells:
                blank = False
                yield line, cells
    except csv.Error as error:
        raise Refusal(f"{file} line {reader.line_num}", f"this is not CSV ({error})", f"it begins {header}") from None
    except UnicodeDecodeError:
        raise Refusal(f"{file} line {line + 1}", "this is not text in UTF-8", f"it begins {header}") from None
    if blank:
        raise Refusal(f"{file} line 1", "the file is empty", f"it begins {header}")


def _without_mark(lines: Iterable[str]) -> Iterator[str]:
    """The lines without the byte-order mark some spreadsheets put at the start."""
    source = iter(lines)
    for first in source:
        yield first.removeprefix("\ufeff")
        yield from source


def parted_otherwise(cells: list[str]) -> str:
    """A word on the separator, where a header was parted by something other than commas."""
    if len(cells) == 1 and (";" in cells[0] or "\t" in cells[0]):
        return " (columns are parted by commas, decimals by a point)"
    return ""


def utc_ms_at(cell: str, file: str, line: int) -> int:
    """The time in this cell, milliseconds since 1970; Refusal naming file and line."""
    try:
        utc_ms = utc_ms_from_text(cell)
    except ValueError:
        utc_ms = -1
    if not EARLIEST_UTC_MS <= utc_ms <= LATEST_UTC_MS:
        raise Refusal(
            f"{file} line {line}, time",
            f"{short(cell)} is not a time between 1970 and 2200",
            "times are ISO 8601 with Z, for example 2031-10-30T19:41:39Z",
        )
    return utc_ms


def short(cell: str) -> str:
    """A cell as its writer would recognise it, cut short where it is long."""
    return repr(cell) if len(cell) <= 60 else f"{cell[:60]!r}..."
