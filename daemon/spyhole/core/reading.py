"""What the amplifiers said in one tick. A number without its fault is not a reading."""

from dataclasses import dataclass
from enum import StrEnum


class Fault(StrEnum):
    """Why a probe has no number. The words are those of the readings file's fault column."""

    OPEN = "open"  # no circuit
    SHORT = "short"  # to supply or ground, or the chip says the input is over/under voltage
    RANGE = "range"  # outside what this thermocouple can give
    BUS = "bus"  # no conversion within the deadline, or a bus stuck at 0x00/0xFF
    CONFIG = "config"  # the chip had forgotten its configuration; it has been set again
    UNSURE = "unsure"  # the source itself did not trust it


@dataclass(frozen=True, slots=True)
class ProbeReading:
    """One probe in one tick: a temperature or a fault, never both, never neither but for a gap.

    celsius: hot junction, a multiple of 1/128 degC (the chip's own step), before the probe's offset.
    cold_junction_celsius: the amplifier's own temperature from the same conversion, where known.
    Both celsius and fault None means: nothing was read (an empty cell in a readings file).
    """

    celsius: float | None
    fault: Fault | None = None
    cold_junction_celsius: float | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """One tick of every probe of one kiln, in the order of `Kiln.probe_rings`."""

    probes: tuple[ProbeReading, ...]


NOTHING_READ = ProbeReading(None)


def to_chip_step(celsius: float) -> float:
    """The nearest multiple of 1/128 degC: what storage keeps exactly."""
    return round(celsius * 128) / 128
