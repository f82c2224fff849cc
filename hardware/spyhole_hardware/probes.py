"""Opens the probes of a kiln, and its current transformers, by the name of their driver, as the settings give it."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from spyhole.core.refusal import Refusal
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.adc import EmulatedAdc, EmulatedClamp
from spyhole_hardware.emulated.chip import EmulatedChip
from spyhole_hardware.emulated.junction import Junction
from spyhole_hardware.emulated.spi import BenchClock, EmulatedBus
from spyhole_hardware.max31856 import Max31856Probes
from spyhole_hardware.mcp3208 import Clamp, Mcp3208Currents
from spyhole_hardware.pi import open_bus

DRIVERS = ("max31856", "emulated")


@dataclass(frozen=True, slots=True)
class CurrentWires:
    """The converter of the current transformers and what is at its inputs. rings: how many the kiln has."""

    chip_select: int
    clamps: tuple[Clamp, ...]
    rings: int


def open_sensors(
    driver: str,
    channels: Sequence[Channel],
    currents: CurrentWires | None,
    *,
    mains_hertz: int,
    averaging: int,
    junctions: Sequence[Junction] = (),
    amperes: Callable[[int], float] = lambda ring: 0.0,
    seconds: Callable[[], float] = time.monotonic,
    wait: Callable[[float], None] = time.sleep,
) -> tuple[Max31856Probes, Mcp3208Currents | None]:
    """The probes of one kiln, in the order of the channels, and beside them on the bus the converter of its current
    transformers, where there is one.

    driver: "max31856" on a Raspberry Pi, or "emulated": the same reader on emulated chips.
    mains_hertz: 50 or 60. averaging: 1, 2, 4, 8 or 16.
    junctions: for "emulated", what each amplifier looks at; its conversions pass on a clock of their own, at once.
    amperes: for "emulated", what a ring draws, by its place. Closing the probes lets go of both.
    Refusal when the machine lacks something; ValueError for a setting the chip does not have.
    """
    if driver == "emulated":
        probes, _ = open_emulated(channels, junctions, mains_hertz=mains_hertz, averaging=averaging)
        return probes, None if currents is None else emulated_currents(currents, amperes, mains_hertz)[0]
    if driver != "max31856":
        raise Refusal("driver", f"{driver!r} is not known", f"{' or '.join(DRIVERS)} may stand here")
    pins = [channel.chip_select for channel in channels]
    bus, selects, release = open_bus(pins if currents is None else [*pins, currents.chip_select])
    try:
        probes = Max31856Probes(
            bus,
            channels,
            selects[: len(pins)],
            mains_hertz=mains_hertz,
            averaging=averaging,
            seconds=seconds,
            wait=wait,
            release=release,
        )
    except ValueError:
        release()
        raise
    if currents is None:
        return probes, None
    return probes, Mcp3208Currents(bus, selects[-1], currents.clamps, currents.rings, seconds=seconds, wait=wait)


def open_emulated(
    channels: Sequence[Channel], junctions: Sequence[Junction], *, mains_hertz: int, averaging: int
) -> tuple[Max31856Probes, EmulatedBus]:
    """The reader on emulated chips, and their bus, for whoever brings troubles about."""
    clock = BenchClock()
    bus = EmulatedBus([EmulatedChip(junction, clock.seconds, seed=seed) for seed, junction in enumerate(junctions)])
    probes = Max31856Probes(
        bus,
        channels,
        bus.selects,
        mains_hertz=mains_hertz,
        averaging=averaging,
        seconds=clock.seconds,
        wait=clock.wait,
    )
    return probes, bus


def emulated_currents(
    wires: CurrentWires, amperes: Callable[[int], float], mains_hertz: float
) -> tuple[Mcp3208Currents, EmulatedAdc]:
    """The reader on an emulated converter with a bus of its own; and the converter, for whoever brings troubles."""
    clock = BenchClock()

    def clamp(one: Clamp) -> EmulatedClamp:
        return EmulatedClamp(lambda: amperes(one.ring), one.amperes_per_volt, mains_hertz)

    adc = EmulatedAdc({one.input: clamp(one) for one in wires.clamps}, clock.seconds)
    bus = EmulatedBus((), adc)
    assert bus.adc_select is not None
    reader = Mcp3208Currents(bus, bus.adc_select, wires.clamps, wires.rings, seconds=clock.seconds, wait=clock.wait)
    return reader, adc
