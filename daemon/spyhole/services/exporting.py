"""A firing of the record as files in the forms that every command reads: kiln, plan, readings, entries, what was told.

The readings as they came, where all of them are still kept; else one a minute, from the minutes that stay for ever.
"""

import csv
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Protocol

from spyhole.core.entry import Entry
from spyhole.core.forms.entries_csv import HEADER
from spyhole.core.forms.kiln_toml import kiln_from_toml
from spyhole.core.forms.outcomes_jsonl import line
from spyhole.core.forms.readings_csv import COLDEST_CELSIUS, HOTTEST_CELSIUS, header_line, reading_line
from spyhole.core.kiln import Kiln
from spyhole.core.moment import utc_text
from spyhole.core.reading import NOTHING_READ, Fault, ProbeReading, Reading, to_chip_step
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner, sentence
from spyhole.services.archive import CurvePoint, Mark, Records

KILN, PLAN, READINGS, ENTRIES, TOLD = "kiln.toml", "plan.toml", "readings.csv", "entries.csv", "told.jsonl"
_TO_THE_SECOND = len("2031-10-30T19:41:39")


class FiringRecords(Records, Protocol):
    """Records that also give the single readings of a firing."""

    def readings_of(self, kiln: str, firing: int) -> Iterator[tuple[int, Reading]]:
        """(utc_ms, reading) from its start until the kiln was cold; none at all where some have been let go."""
        ...


def write_firing(records: FiringRecords, kiln_name: str, firing: int, folder: Path, manner: Manner) -> bool:
    """Write the files of this firing into this new folder. True with the readings as they came; False by the minute.

    manner: of the sentences of what was told. Refusal when there is no such firing.
    """
    found = records.firing(kiln_name, firing)
    if found is None:
        raise Refusal("--firing", f"the kiln book of {kiln_name} has no firing {firing}", "spyhole export without it")
    folder.mkdir(parents=True)
    (folder / KILN).write_text(found.kiln_toml, encoding="utf-8")
    (folder / PLAN).write_text(found.plan_toml, encoding="utf-8")
    kiln = kiln_from_toml(found.kiln_toml, KILN)
    marks = records.marks(kiln_name, firing)
    _write_entries(folder / ENTRIES, marks)
    with (folder / TOLD).open("w", encoding="utf-8", newline="\n") as told:
        for mark in marks:
            if not isinstance(mark.what, Entry):
                told.write(f"{line(mark.what, sentence(mark.what, manner))}\n")
    readings = fitted(kiln, records.readings_of(kiln_name, firing))
    first = next(readings, None)
    with (folder / READINGS).open("w", encoding="utf-8", newline="\n") as out:
        out.write(f"{header_line(kiln)}\n")
        if first is not None:
            out.write(f"{_exactly(*first)}\n")
            out.writelines(f"{_exactly(*one)}\n" for one in readings)
        else:
            minutes = by_the_minute(kiln, records.minutes(kiln_name, firing))
            out.writelines(f"{_exactly(*one)}\n" for one in minutes)
    return first is not None


def fitted(kiln: Kiln, readings: Iterable[tuple[int, Reading]]) -> Iterator[tuple[int, Reading]]:
    """As a readings file can hold them: a column for each probe of this kiln, and numbers that a probe reads."""
    width = len(kiln.probe_rings)
    for utc_ms, reading in readings:
        probes = (reading.probes + (NOTHING_READ,) * width)[:width]
        if all(one.celsius is None or COLDEST_CELSIUS <= one.celsius <= HOTTEST_CELSIUS for one in probes):
            yield utc_ms, Reading(probes)
        else:
            yield utc_ms, Reading(tuple(map(_in_range, probes)))


def _in_range(probe: ProbeReading) -> ProbeReading:
    if probe.celsius is None or COLDEST_CELSIUS <= probe.celsius <= HOTTEST_CELSIUS:
        return probe
    return ProbeReading(None, Fault.RANGE)


def by_the_minute(kiln: Kiln, points: Iterable[CurvePoint]) -> Iterator[tuple[int, Reading]]:
    """The mean of each minute as a reading of the probes; nothing read where nothing was believed."""
    for point in points:
        means = (point.rings[at] if at < len(point.rings) else None for at in kiln.probe_rings)
        probes = (NOTHING_READ if ring is None else ProbeReading(to_chip_step(ring.mean_celsius)) for ring in means)
        yield point.utc_ms, Reading(tuple(probes))


def _exactly(utc_ms: int, reading: Reading) -> str:
    text = reading_line(utc_ms, reading)
    return text[:_TO_THE_SECOND] + _thousandths(utc_ms) + text[_TO_THE_SECOND:]


def _write_entries(file: Path, marks: Iterable[Mark]) -> None:
    """Those that stand; one that was taken back is left out."""
    with file.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out, lineterminator="\n")
        rows.writerow(HEADER.split(","))
        for mark in marks:
            if isinstance(mark.what, Entry) and not mark.undone:
                time = utc_text(mark.utc_ms)
                at = time[:_TO_THE_SECOND] + _thousandths(mark.utc_ms) + time[_TO_THE_SECOND:]
                rows.writerow((at, mark.what.kind.value, mark.what.subject, mark.what.value))


def _thousandths(utc_ms: int) -> str:
    return f".{utc_ms % 1000:03}" if utc_ms % 1000 else ""
