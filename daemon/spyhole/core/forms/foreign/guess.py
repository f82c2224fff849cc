"""The layout of a foreign file, from its first lines and what a person said. What stays open is asked, never assumed.

Between day and month, between degC and degF, and about a zone nothing is guessed that the file does not show.
"""

import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from spyhole.core.forms.csv_lines import short
from spyhole.core.forms.foreign.layout import Layout, LongForm, RingColumn, Same, TempUnit, TimeForm
from spyhole.core.kiln import Kiln
from spyhole.core.refusal import Refusal

SAMPLE_LINES = 400
_DELIMITERS = (",", ";", "\t", "|")
_DATE = re.compile(r"(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})")
_CLOCK = re.compile(r"\d{1,3}:\d{2}(:\d{2}([.,]\d+)?)?\s*([AaPp]\.?[Mm]\.?)?(Z|[+-]\d{2}:?\d{2})?")
_STAMP = re.compile(rf"{_DATE.pattern}[T ,]+{_CLOCK.pattern}\s*(Z|UTC|GMT|[+-]\d{{2}}:?\d{{2}})?")
_ZONED = re.compile(r"(Z|UTC|GMT|[+-]\d{2}:?\d{2})$")
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?\s*((°|deg|º)?\s*[CFcf])?")
_UNIT = re.compile(r"(?:[\[(/\s_]|°|º|deg|^)(?:°|º|deg(?:rees)?)?[ _.]*(c|f|celsius|fahrenheit)(?:[\])\s]|$)", re.I)
_TIME_WORDS = (
    "time",
    "date",
    "zeit",
    "datum",
    "heure",
    "fecha",
    "hora",
    "elapsed",
    "unix",
    "epoch",
    "second",
    "minute",
    "hour",
)
_UNIX_SECONDS, _UNIX_MILLISECONDS = 1e9, 1e11


@dataclass(frozen=True, slots=True)
class Said:
    """What a person said of the file; empty and None where the file is to tell.

    rings: ring -> column, by its name or its number from 1 (in the long form: ring -> its name there). time: columns.
    """

    zone: str = ""
    unit: TempUnit | None = None
    time_form: TimeForm | None = None
    start_utc_ms: int | None = None
    delimiter: str = ""
    time: tuple[str, ...] = ()
    rings: Mapping[str, str] = field(default_factory=dict)
    ring_column: str = ""
    value_column: str = ""
    same: Same = Same.REFUSE


def guess_layout(sample: Sequence[str], file: str, kiln: Kiln, said: Said) -> Layout:
    """The layout. sample: the first lines. Refusal saying what cannot be told and how to say it."""
    delimiter, width, first = _shape(sample, file, said.delimiter)
    rows = [cells for _, cells in _parsed(sample, delimiter, first) if len(cells) == width]
    names = _names(sample, delimiter, width, first)
    table = _Table(file, names, [[cell.strip() for cell in cells] for cells in rows], first)
    time = tuple(table.column(name, "--time") for name in said.time) or _time_columns(table)
    form = said.time_form or _time_form(table, time)
    if form.elapsed and said.start_utc_ms is None:
        raise table.refuse("its times count from a start it does not name", "say --start 2031-10-30T19:41")
    decimal_comma = delimiter != "," and any("," in c and _NUMBER.fullmatch(c) for row in table.rows for c in row)
    texts = [" ".join(row[i] for i in time) for row in table.rows]
    zone = _zone(table, form, texts, said.zone)
    rings, long = _rings(table, time, kiln, said)
    return Layout(
        delimiter=delimiter,
        decimal_comma=decimal_comma,
        header_line=first - 1 if names else 0,
        first_line=first,
        width=width,
        time=time,
        time_form=form,
        zone=zone,
        start_utc_ms=said.start_utc_ms,
        rings=rings,
        long=long,
        newest_first=_newest_first(texts, form),
        same=said.same,
    )


@dataclass(frozen=True, slots=True)
class _Table:
    """The sample, parted. names: of the columns, empty where the file has none."""

    file: str
    names: list[str]
    rows: list[list[str]]
    first_line: int

    def refuse(self, problem: str, allowed: str = "") -> Refusal:
        return Refusal(self.file, problem, allowed)

    @property
    def listed(self) -> str:
        """The columns as a person may name them."""
        named = self.names or [f"number {i + 1}, {short(cell)} first" for i, cell in enumerate(self.rows[0])]
        return ", ".join(named)

    def column(self, name: str, option: str) -> int:
        folded = [known.casefold() for known in self.names]
        if folded.count(name.casefold()) == 1:
            return folded.index(name.casefold())
        if name.isascii() and name.isdigit() and 1 <= int(name) <= len(self.rows[0]):
            return int(name) - 1
        raise self.refuse(f"{option} names no column {short(name)}", f"the columns are {self.listed}")

    def cells(self, column: int) -> list[str]:
        return [row[column] for row in self.rows]


def _parsed(sample: Sequence[str], delimiter: str, first: int = 1) -> list[tuple[int, list[str]]]:
    reader = csv.reader(sample, delimiter=delimiter, skipinitialspace=True)
    try:
        return [(reader.line_num, cells) for cells in reader if cells and reader.line_num >= first]
    except csv.Error:
        return []


def _is_data(cells: list[str]) -> bool:
    """A time and a number, or at least two numbers."""
    numbers = sum(bool(_NUMBER.fullmatch(cell.strip())) for cell in cells)
    return numbers >= 2 or (numbers == 1 and _is_dated(cells))


def _is_dated(cells: list[str]) -> bool:
    return any(form.fullmatch(cell.strip()) for cell in cells for form in (_STAMP, _DATE, _CLOCK))


def _shape(sample: Sequence[str], file: str, said: str) -> tuple[str, int, int]:
    """(delimiter, cells a row, line of the first row of data): the delimiter under which most rows are data alike."""
    best: tuple[int, str, int, int] | None = None
    for delimiter in (said,) if said else _DELIMITERS:
        rows = _parsed(sample, delimiter)
        widths = Counter(len(cells) for _, cells in rows if len(cells) > 1 and _is_data(cells))
        if not widths:
            continue
        width, alike = widths.most_common(1)[0]
        first = next(line for line, cells in rows if len(cells) == width and (_is_data(cells) or _is_dated(cells)))
        if best is None or alike * width > best[0]:
            best = (alike * width, delimiter, width, first)
    if best is None:
        raise Refusal(file, "no row in it has a time and a number", "a log has a time and temperatures in each row")
    return best[1:]


def _names(sample: Sequence[str], delimiter: str, width: int, first: int) -> list[str]:
    """The last row of words before the data, when it has as many cells."""
    above = [cells for line, cells in _parsed(sample[: first - 1], delimiter) if len(cells) == width]
    return [cell.strip().removeprefix("\ufeff") for cell in above[-1]] if above else []


def _time_columns(table: _Table) -> tuple[int, ...]:
    """One column of stamps; or a date and a clock; or one that its name calls a time."""
    first = table.rows[0]
    for i, cell in enumerate(first):
        if _STAMP.fullmatch(cell):
            return (i,)
    dates = [i for i, cell in enumerate(first) if _DATE.fullmatch(cell)]
    clocks = [i for i, cell in enumerate(first) if _CLOCK.fullmatch(cell)]
    if dates and clocks:
        return dates[0], clocks[0]
    if clocks:
        return (clocks[0],)
    named = [i for i, name in enumerate(table.names) if any(word in name.casefold() for word in _TIME_WORDS)]
    if len(named) == 1:
        return (named[0],)
    raise table.refuse("it cannot be told which column is the time", f"say --time COLUMN, of {table.listed}")


def _time_form(table: _Table, time: tuple[int, ...]) -> TimeForm:
    cells = table.cells(time[0])
    dates = [found for cell in cells if (found := _DATE.match(cell))]
    if dates:
        return _order(table, dates)
    if _CLOCK.fullmatch(cells[0]):
        return TimeForm.ELAPSED_CLOCK
    try:
        counted = float(cells[0].replace(",", "."))
    except ValueError:
        raise table.refuse(f"{short(cells[0])} is no time", "say --time COLUMN or --time-form") from None
    if counted > _UNIX_MILLISECONDS:
        return TimeForm.UNIX_MILLISECONDS
    if counted > _UNIX_SECONDS:
        return TimeForm.UNIX_SECONDS
    name = table.names[time[0]].casefold() if table.names else ""
    for word, form in (
        ("min", TimeForm.ELAPSED_MINUTES), ("sec", TimeForm.ELAPSED_SECONDS), ("hour", TimeForm.ELAPSED_HOURS),
    ):  # fmt: skip
        if word in name or f"({word[0]})" in name:
            return form
    raise table.refuse(
        "its times are numbers and nothing says of what", f"say --time-form, one of {', '.join(TimeForm)}"
    )


def _order(table: _Table, dates: list[re.Match[str]]) -> TimeForm:
    firsts, middles = [int(d[1]) for d in dates], [int(d[3]) for d in dates]
    if len(dates[0][1]) == 4:
        return TimeForm.YEAR_FIRST
    if max(firsts) > 12:
        return TimeForm.DAY_FIRST
    if max(middles) > 12:
        return TimeForm.MONTH_FIRST
    if dates[0][2] == ".":
        return TimeForm.DAY_FIRST  # a date with points has the day first wherever it is written (common practice)
    raise table.refuse(
        f"{dates[0][0]} may be read with the day or the month first",
        "say --time-form day-month-year or month-day-year",
    )


def _zone(table: _Table, form: TimeForm, texts: list[str], said: str) -> str:
    if not form.local:
        return ""
    if said:
        try:
            ZoneInfo(said)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise table.refuse(f"{short(said)} is no zone", "for example Europe/Dublin") from None
    if all(_ZONED.search(text) for text in texts):
        return said
    if not said:
        raise table.refuse("its times name no zone", "say where the logger's clock was set to: --zone Europe/Dublin")
    return said


def _newest_first(texts: list[str], form: TimeForm) -> bool:
    """Whether the rows run backwards. Only the order of the texts' own numbers is looked at."""
    if len(texts) < 2:
        return False
    keys = [_sortable(text, form) for text in texts]
    back = sum(b < a for a, b in pairwise(keys))
    forward = sum(b > a for a, b in pairwise(keys))
    return back > 2 * forward


def _sortable(text: str, form: TimeForm) -> tuple[float, ...]:
    found = [float(part.replace(",", ".")) for part in re.findall(r"\d+(?:\.\d+)?" if not form.local else r"\d+", text)]
    if form is TimeForm.DAY_FIRST and len(found) >= 3:
        found[:3] = found[2], found[1], found[0]
    elif form is TimeForm.MONTH_FIRST and len(found) >= 3:
        found[:3] = found[2], found[0], found[1]
    if re.search(r"[Pp]\.?[Mm]", text) and len(found) > 3 and found[3] != 12:
        found[3] += 12
    return tuple(found)


def _rings(
    table: _Table, time: tuple[int, ...], kiln: Kiln, said: Said
) -> tuple[tuple[RingColumn, ...], LongForm | None]:
    wanted = [kiln.rings[i].name for i in kiln.probe_rings]
    for ring in said.rings:
        if ring not in wanted:
            raise table.refuse(f"--ring names {short(ring)}", f"the rings with a probe are {', '.join(wanted)}")
    long = _long(table, time, wanted, said)
    if long is not None:
        name_column, value_column, names = long
        unit = _unit(table, value_column, said)
        return tuple(RingColumn(ring, value_column, unit) for ring, _ in names), LongForm(name_column, names)
    found: dict[str, int] = {ring: table.column(name, "--ring") for ring, name in said.rings.items()}
    if not found:
        found = _by_name(table, time, wanted)
    return tuple(RingColumn(ring, at, _unit(table, at, said)) for ring, at in found.items()), None


def _by_name(table: _Table, time: tuple[int, ...], wanted: list[str]) -> dict[str, int]:
    numeric = [
        i for i in range(len(table.rows[0])) if i not in time and any(_NUMBER.fullmatch(c) for c in table.cells(i))
    ]
    found = {}
    for ring in wanted:
        folded = [name.casefold() for name in table.names]
        exactly = [i for i, name in enumerate(folded) if name == ring.casefold()]
        named = exactly or [i for i in numeric if folded and ring.casefold() in folded[i]]
        if len(named) == 1:
            found[ring] = named[0]
    if not found and len(wanted) == 1 and len(numeric) == 1:
        return {wanted[0]: numeric[0]}
    if not found:
        example = " ".join(f"--ring {ring}=COLUMN" for ring in wanted)
        raise table.refuse("it cannot be told which column is which ring", f"say {example}, of {table.listed}")
    return found


def _long(
    table: _Table, time: tuple[int, ...], wanted: list[str], said: Said
) -> tuple[int, int, tuple[tuple[str, str], ...]] | None:
    """(column of names, column of numbers, (ring, its name there)) of a file with a ring a row, else None."""
    given = {name.casefold(): ring for ring, name in said.rings.items()}
    if said.ring_column:
        name_column = table.column(said.ring_column, "--ring-column")
    else:
        columns = [i for i in range(len(table.rows[0])) if i not in time]
        aboard = [
            i for i in columns if sum(c.casefold() in (w.casefold() for w in wanted) for c in set(table.cells(i)))
        ]
        if len(aboard) != 1:
            return None
        name_column = aboard[0]
    present = list(dict.fromkeys(table.cells(name_column)))
    names = []
    for name in present:
        ring = given.get(name.casefold()) or next((w for w in wanted if w.casefold() == name.casefold()), None)
        if ring is not None:
            names.append((ring, name))
    if not names:
        there = ", ".join(map(short, present[:8]))
        raise table.refuse("it cannot be told which name is which ring", f"say --ring {wanted[0]}=NAME, of {there}")
    if said.value_column:
        return name_column, table.column(said.value_column, "--value-column"), tuple(names)
    numeric = [
        i for i in range(len(table.rows[0]))
        if i not in (*time, name_column) and any(_NUMBER.fullmatch(c) for c in table.cells(i))
    ]  # fmt: skip
    if len(numeric) != 1:
        raise table.refuse(
            "it cannot be told which column is the temperature", f"say --value-column, of {table.listed}"
        )
    return name_column, numeric[0], tuple(names)


def _unit(table: _Table, column: int, said: Said) -> TempUnit:
    """The column's unit: by its name, by its cells, or as said; refused where they contradict each other."""
    written = {m[2].strip(" °ºdeg").upper() for c in table.cells(column) if (m := _NUMBER.fullmatch(c)) and m[2]}
    name = table.names[column] if table.names else ""
    if found := _UNIT.search(name):
        written.add(found[1][0].upper())
    if written in ({"C"}, {"F"}):
        unit = TempUnit.CELSIUS if written == {"C"} else TempUnit.FAHRENHEIT
        if said.unit not in (None, unit):
            raise table.refuse(f"--unit says {said.unit} and the column {short(name)} says {unit}")
        return unit
    if said.unit is None and not written:
        raise table.refuse(f"nothing says whether {short(name) if name else 'it'} is degC or degF", "say --unit degC")
    return said.unit or TempUnit.CELSIUS  # cells that name a unit each are believed one by one
