"""The readings file: a time, a column in degC for each ring that has a probe, and what faults there were."""

from collections.abc import Callable, Iterable, Iterator

from spyhole.core.forms.csv_lines import parted_otherwise, rows, short, utc_ms_at
from spyhole.core.kiln import Kiln
from spyhole.core.moment import utc_text
from spyhole.core.reading import NOTHING_READ, Fault, ProbeReading, Reading, to_chip_step
from spyhole.core.refusal import Refusal

COLDEST_CELSIUS, HOTTEST_CELSIUS = -50.0, 1820.0
"""From a shed in winter to the end of type B, the hottest thermocouple there is (ITS-90)."""

FAULT_SUFFIX = "_fault"
_FAULTS = {fault.value: ProbeReading(None, fault) for fault in Fault}


def readings(lines: Iterable[str], file: str, kiln: Kiln) -> Iterator[tuple[int, Reading]]:
    """(utc_ms, reading) of each row, in the order of the rows: a clock that steps back is evidence, not an error.

    lines: of the file, as iterating over it gives them. A row may carry a fault and a number; the fault stands.
    Temperatures are taken to the nearest 1/128 degC, the amplifier's own step. Refusal naming file and line.
    """
    names = _probe_ring_names(kiln)
    header = ",".join(("time", *names))
    source = rows(lines, file, header)
    line, cells = next(source)
    time_at, value_at, fault_at = _columns(cells, file, line, kiln, header)
    width = len(cells)
    line = 0
    for line, cells in source:
        if len(cells) != width:
            where = f"{file} line {line}"
            raise Refusal(where, f"it has {len(cells)} cells and the header {width}", "decimals have a point, no comma")
        utc_ms = utc_ms_at(cells[time_at], file, line)
        probes = []
        for name, value, fault in zip(names, value_at, fault_at, strict=True):
            if fault is not None and cells[fault]:
                probes.append(_fault(cells[fault], f"{file} line {line}, {name}{FAULT_SUFFIX}"))
            elif cells[value]:
                probes.append(ProbeReading(_celsius(cells[value], file, line, name)))
            else:
                probes.append(NOTHING_READ)
        yield utc_ms, Reading(tuple(probes))
    if line == 0:
        raise Refusal(f"{file} line 2", "there is no reading under the header", "a row a reading")


def _probe_ring_names(kiln: Kiln) -> tuple[str, ...]:
    return tuple(kiln.rings[i].name for i in kiln.probe_rings)


def _columns(
    cells: list[str], file: str, line: int, kiln: Kiln, header: str
) -> tuple[int, tuple[int, ...], tuple[int | None, ...]]:
    """Where time, each probe's degC and each probe's fault stand in a row."""
    names = _probe_ring_names(kiln)
    faults = tuple(f"{name}{FAULT_SUFFIX}" for name in names)
    where = f"{file} line {line}"
    allowed = f"the header is {header}, and if there are faults {','.join(faults)}"
    for cell in cells:
        if cell not in ("time", *names, *faults):
            if any(cell == ring.name for ring in kiln.rings):
                raise Refusal(where, f"the {cell} ring has no probe in the kiln file", allowed)
            raise Refusal(where, f"there is no column {short(cell)}{parted_otherwise(cells)}", allowed)
        if cells.count(cell) > 1:
            raise Refusal(where, f"the column {cell!r} stands there twice", allowed)
    for name in ("time", *names):
        if name not in cells:
            raise Refusal(where, f"the column {name!r} is missing", allowed)
    at: Callable[[str], int] = cells.index
    return at("time"), tuple(map(at, names)), tuple(at(fault) if fault in cells else None for fault in faults)


def _celsius(cell: str, file: str, line: int, name: str) -> float:
    try:
        celsius = float(cell)
    except ValueError:
        celsius = None
    if celsius is None or "_" in cell:
        where = f"{file} line {line}, {name}"
        raise Refusal(where, f"{short(cell)} is not a number", "it is degC, or empty for no reading")
    if not COLDEST_CELSIUS <= celsius <= HOTTEST_CELSIUS:
        raise Refusal(
            f"{file} line {line}, {name}",
            f"no probe reads {short(cell)} degC",
            f"it is from {COLDEST_CELSIUS:g} to {HOTTEST_CELSIUS:g} degC, or empty for no reading",
        )
    return to_chip_step(celsius)


def _fault(cell: str, where: str) -> ProbeReading:
    reading = _FAULTS.get(cell)
    if reading is None:
        raise Refusal(where, f"{short(cell)} is no fault", f"it is one of {', '.join(_FAULTS)}, or empty")
    return reading


def header_line(kiln: Kiln) -> str:
    """The first line of a readings file of this kiln, with a fault column a probe."""
    names = _probe_ring_names(kiln)
    return ",".join(map(_cell, ("time", *names, *(f"{name}{FAULT_SUFFIX}" for name in names))))


def reading_line(utc_ms: int, reading: Reading) -> str:
    """One reading as a row under `header_line`; times to the second."""
    values = ("" if probe.celsius is None else f"{probe.celsius:.10g}" for probe in reading.probes)
    faults = ("" if probe.fault is None else probe.fault.value for probe in reading.probes)
    return ",".join((utc_text(utc_ms), *values, *faults))


def _cell(text: str) -> str:
    return f'"{text.replace(chr(34), chr(34) * 2)}"' if "," in text or '"' in text else text
