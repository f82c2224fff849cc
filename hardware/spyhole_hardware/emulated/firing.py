"""Runs a rehearsal from lighting to unloading without a daemon: for tests, the kiln book and readings files."""

from collections.abc import Callable, Iterator

from spyhole.core.moment import Moment
from spyhole.core.reading import Fault, ProbeReading, Reading, to_chip_step
from spyhole_hardware.emulated.junction import Circuit, Junction
from spyhole_hardware.emulated.rehearsal import Rehearsal


def read_directly(rehearsal: Rehearsal) -> Reading:
    """What perfect amplifiers would make of the probes, without a chip: quick."""
    return Reading(tuple(_read(junction) for junction in rehearsal.junctions))


def _read(junction: Junction) -> ProbeReading:
    cold = to_chip_step(junction.cold_celsius)
    if junction.circuit is not Circuit.SOUND:
        return ProbeReading(None, Fault.OPEN, cold)
    return ProbeReading(to_chip_step(junction.hot_celsius), None, cold)


def fire(
    rehearsal: Rehearsal,
    every_seconds: int,
    *,
    read: Callable[[], Reading] | None = None,
    hours: float = 60.0,
) -> Iterator[tuple[Moment, Reading]]:
    """Each tick of the rest of the firing, until the keeper has unloaded, or so many kiln hours from now.

    read: the driver, for the whole path through the chip; without it the junctions are read directly.
    """
    first = rehearsal.now().monotonic_ms
    for tick in range(int(hours * 3600 / every_seconds) + 1):
        rehearsal.wait_until(first + tick * every_seconds * 1000)
        yield rehearsal.now(), read() if read is not None else read_directly(rehearsal)
        if rehearsal.keeper.progress.unloaded:
            return
