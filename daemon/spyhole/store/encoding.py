"""Readings and minutes to integer columns and back. A reading comes back exactly or is refused at the door."""

from collections.abc import Sequence
from typing import cast

from spyhole.core.reading import Fault, ProbeReading, Reading
from spyhole.services.archive import RingMinute
from spyhole.store.tables import PROBES

CELSIUS_STEPS = 128
"""Steps a degree of a hot junction: the amplifier has 19 bits of 2**-7 degC (data sheet 19-7534)."""

COLD_JUNCTION_STEPS = 64
"""Steps a degree of a cold junction: the amplifier has 14 bits of 2**-6 degC (data sheet 19-7534)."""

FAULT_CODES = {Fault.OPEN: 1, Fault.SHORT: 2, Fault.RANGE: 3, Fault.BUS: 4, Fault.CONFIG: 5, Fault.UNSURE: 6}
"""Written in records: a number is never given another meaning. 0 is no fault, 15 the most there is room for."""

_FAULTS = {code: fault for fault, code in FAULT_CODES.items()}
_FAULT_BITS = 4
_LIMIT_CELSIUS = 65536

Columns = dict[str, int | str | None]


def check_reading(reading: Reading) -> None:
    """ValueError, naming the probe, for what the record could not give back exactly."""
    if len(reading.probes) > PROBES:
        raise ValueError(f"{len(reading.probes)} probes; a reading has at most {PROBES}")
    for number, probe in enumerate(reading.probes, 1):
        if probe.celsius is not None and probe.fault is not None:
            raise ValueError(
                f"probe {number} has a number beside the fault {probe.fault.value!r}; a fault has no number"
            )
        for celsius, steps in ((probe.celsius, CELSIUS_STEPS), (probe.cold_junction_celsius, COLD_JUNCTION_STEPS)):
            # Written so that NaN fails it too.
            if celsius is not None and not (abs(celsius) < _LIMIT_CELSIUS and (celsius * steps) % 1 == 0):
                raise ValueError(f"probe {number}: {celsius} is not a multiple of 1/{steps} degC")


def reading_columns(reading: Reading) -> Columns:
    """The columns of a checked reading, without its place and moment."""
    columns: Columns = dict(_EMPTY_READING)
    columns["probes"] = len(reading.probes)
    faults = 0
    for index, probe in enumerate(reading.probes):
        if probe.celsius is not None:
            columns[f"celsius_{index + 1}"] = round(probe.celsius * CELSIUS_STEPS)
        if probe.cold_junction_celsius is not None:
            columns[f"cold_junction_{index + 1}"] = round(probe.cold_junction_celsius * COLD_JUNCTION_STEPS)
        if probe.fault is not None:
            faults |= FAULT_CODES[probe.fault] << (_FAULT_BITS * index)
    columns["faults"] = faults
    return columns


def reading_of(
    probes: int, faults: int, celsius: Sequence[int | None], cold_junctions: Sequence[int | None]
) -> Reading:
    """The reading back from its columns. KeyError for a fault code from a newer spyhole."""
    if not faults and None not in celsius and None not in cold_junctions:  # nearly always, and a start reads days of it
        pairs = cast("zip[tuple[int, int]]", zip(celsius[:probes], cold_junctions, strict=False))
        return Reading(
            tuple([ProbeReading(hot / CELSIUS_STEPS, None, cold / COLD_JUNCTION_STEPS) for hot, cold in pairs])
        )
    return Reading(
        tuple(
            ProbeReading(
                None if (hot := celsius[index]) is None else hot / CELSIUS_STEPS,
                _FAULTS[code] if (code := faults >> (_FAULT_BITS * index) & 15) else None,
                None if (cold := cold_junctions[index]) is None else cold / COLD_JUNCTION_STEPS,
            )
            for index in range(probes)
        )
    )


def check_rings(rings: Sequence[RingMinute | None]) -> None:
    """ValueError for more rings than there are columns, or a number no kiln has."""
    if len(rings) > PROBES:
        raise ValueError(f"{len(rings)} rings; a minute has at most {PROBES}")
    for ring in rings:
        for celsius in () if ring is None else (ring.lowest_celsius, ring.mean_celsius, ring.highest_celsius):
            if not abs(celsius) < _LIMIT_CELSIUS:
                raise ValueError(f"{celsius} degC is not the temperature of a ring")


def minute_columns(rings: Sequence[RingMinute | None], ceiling_celsius: float | None) -> Columns:
    """The columns of a minute, to the nearest 1/128 degC, without its place, moment, firing and stage."""
    columns: Columns = dict(_EMPTY_MINUTE)
    columns["rings"] = len(rings)
    if ceiling_celsius is not None:
        columns["ceiling"] = round(ceiling_celsius * CELSIUS_STEPS)
    for number, ring in enumerate(rings, 1):
        if ring is not None:
            columns[f"lowest_{number}"] = round(ring.lowest_celsius * CELSIUS_STEPS)
            columns[f"mean_{number}"] = round(ring.mean_celsius * CELSIUS_STEPS)
            columns[f"highest_{number}"] = round(ring.highest_celsius * CELSIUS_STEPS)
    return columns


_EMPTY_READING: Columns = {
    **{f"celsius_{n}": None for n in range(1, PROBES + 1)},
    **{f"cold_junction_{n}": None for n in range(1, PROBES + 1)},
}
_EMPTY_MINUTE: Columns = {
    "ceiling": None,
    **{f"{what}_{n}": None for n in range(1, PROBES + 1) for what in ("lowest", "mean", "highest")},
}
