"""Opens the probes of a kiln by the name of their driver, as the settings give it."""

import time
from collections.abc import Callable, Sequence

from spyhole.core.refusal import Refusal
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.chip import EmulatedChip
from spyhole_hardware.emulated.junction import Junction
from spyhole_hardware.emulated.spi import BenchClock, EmulatedBus
from spyhole_hardware.max31856 import Max31856Probes
from spyhole_hardware.pi import open_bus

DRIVERS = ("max31856", "emulated")


def open_probes(
    driver: str,
    channels: Sequence[Channel],
    *,
    mains_hertz: int,
    averaging: int,
    junctions: Sequence[Junction] = (),
    seconds: Callable[[], float] = time.monotonic,
    wait: Callable[[float], None] = time.sleep,
) -> Max31856Probes:
    """The probes of one kiln, in the order of the channels.

    driver: "max31856" on a Raspberry Pi, or "emulated": the same reader on emulated chips.
    mains_hertz: 50 or 60. averaging: 1, 2, 4, 8 or 16.
    junctions: for "emulated", what each amplifier looks at; its conversions pass on a clock of their own, at once.
    Refusal when the machine lacks something; ValueError for a setting the chip does not have.
    """
    if driver == "emulated":
        probes, _ = open_emulated(channels, junctions, mains_hertz=mains_hertz, averaging=averaging)
        return probes
    if driver != "max31856":
        raise Refusal("driver", f"{driver!r} is not known", f"{' or '.join(DRIVERS)} may stand here")
    bus, selects, release = open_bus(channel.chip_select for channel in channels)
    try:
        return Max31856Probes(
            bus,
            channels,
            selects,
            mains_hertz=mains_hertz,
            averaging=averaging,
            seconds=seconds,
            wait=wait,
            release=release,
        )
    except ValueError:
        release()
        raise


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
