"""Temperatures as other loggers write them, to whole 1/128 degC: the amplifier's own step, which storage keeps."""

import re
from collections.abc import Callable, Sequence
from itertools import repeat
from operator import mul, sub

from spyhole.core.forms.csv_lines import short
from spyhole.core.forms.foreign.layout import TempUnit
from spyhole.core.forms.readings_csv import COLDEST_CELSIUS, HOTTEST_CELSIUS

STEPS = 128
NOTHING = -(1 << 31)
"""Where a cell has no number: it is empty, or the logger says that it had none."""

_NO_NUMBER = frozenset(("", "-", "--", "---", "open", "o/c", "oc", "ol", "err", "error", "fault", "nan", "n/a", "na", "null", "none", "inf", "-inf"))  # fmt: skip  # noqa: E501
_NUMBER = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(?:(?:°|deg|º)?\s*([CFcf]))?")
_COLDEST, _HOTTEST = round(COLDEST_CELSIUS * STEPS), round(HOTTEST_CELSIUS * STEPS)

ValueReader = Callable[[str], int]
"""1/128 degC in a cell, or NOTHING; ValueError saying what is wrong with it."""


def value_reader(unit: TempUnit, decimal_comma: bool) -> ValueReader:
    """The reader of one column. A unit written in the cell itself is believed before the column's."""
    scale = STEPS if unit is TempUnit.CELSIUS else STEPS / 1.8
    less = 0 if unit is TempUnit.CELSIUS else 32

    def plain(cell: str) -> int:
        try:
            # What float takes beyond a number (nan, 1e3, 1_0) is left to the careful way or refused there.
            steps = round((float(cell) - less) * scale)
        except (ValueError, OverflowError):
            return _careful(cell, unit, decimal_comma)
        if _COLDEST <= steps <= _HOTTEST and "_" not in cell:
            return steps
        return _careful(cell, unit, decimal_comma)

    if decimal_comma:
        return lambda cell: plain(cell.replace(",", ".")) if "." not in cell else _careful(cell, unit, decimal_comma)
    return plain


def column_reader(unit: TempUnit, decimal_comma: bool) -> Callable[[Sequence[str]], tuple[list[int], str]]:
    """The reader of a piece of a column: what was read up to the first cell that cannot be, and what is wrong with it.

    Numbers that are nothing else go through without a line of ours for each; the first that is not sends the whole
    piece the careful way.
    """
    one = value_reader(unit, decimal_comma)
    scale, less = (STEPS, 0.0) if unit is TempUnit.CELSIUS else (STEPS / 1.8, 32.0)

    def piece(cells: Sequence[str]) -> tuple[list[int], str]:
        whole = "\n".join(cells)
        if decimal_comma and "." not in whole:
            whole = whole.replace(",", ".")
        if "_" not in whole:
            try:
                numbers = map(float, whole.split("\n"))
                steps = list(map(round, map(mul, map(sub, numbers, repeat(less)), repeat(scale))))
            except (ValueError, OverflowError):
                steps = []
            if len(steps) == len(cells) and min(steps) >= _COLDEST and max(steps) <= _HOTTEST:
                return steps, ""
        return taken(one, cells)

    return piece


def taken(read: Callable[[str], int], cells: Sequence[str]) -> tuple[list[int], str]:
    """What `read` makes of these cells up to the first it refuses, and what it says of that one."""
    found: list[int] = []
    add = found.append
    try:
        for cell in cells:
            add(read(cell))
    except ValueError as problem:
        return found, str(problem)
    return found, ""


def _careful(cell: str, unit: TempUnit, decimal_comma: bool) -> int:
    text = cell.strip()
    if text.lower() in _NO_NUMBER:
        return NOTHING
    found = _NUMBER.fullmatch(text)
    if found is None or ("," in text and not decimal_comma) or ("." in text and decimal_comma and "," in text):
        wanted = "comma" if decimal_comma else "point"
        raise ValueError(f"{short(cell)} is not a number with a decimal {wanted}")
    number, written = found.groups()
    given = float(number.replace(",", "."))
    fahrenheit = written.upper() == "F" if written else unit is TempUnit.FAHRENHEIT
    celsius = (given - 32) / 1.8 if fahrenheit else given
    if not COLDEST_CELSIUS <= celsius <= HOTTEST_CELSIUS:
        shown = "degF" if fahrenheit else "degC"
        raise ValueError(f"no probe reads {given:g} {shown}")
    return round(celsius * STEPS)
