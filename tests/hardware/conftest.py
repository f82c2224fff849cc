"""A bench: three emulated amplifiers behind the real driver, on a clock that only moves when somebody waits."""

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from spyhole.core.reading import Reading
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.chip import EmulatedChip
from spyhole_hardware.emulated.junction import BenchJunction
from spyhole_hardware.emulated.spi import BenchClock, EmulatedBus
from spyhole_hardware.max31856 import Max31856Probes

CHANNELS = (Channel("bottom", 5), Channel("middle", 6), Channel("top", 7))


@dataclass
class Bench:
    clock: BenchClock
    junctions: list[BenchJunction]
    bus: EmulatedBus
    probes: Max31856Probes
    during_wait: list[Callable[[], None]] = field(default_factory=list)
    """What happens while the reader next waits."""

    def read(self) -> Reading:
        return self.probes.read()


BenchMaker = Callable[..., Bench]


def make_bench(
    *,
    channels: tuple[Channel, ...] = CHANNELS,
    mains_hertz: int = 50,
    averaging: int = 4,
    chip: Callable[..., EmulatedChip] = EmulatedChip,
    prepare: Callable[[EmulatedBus], None] = lambda bus: None,
) -> Bench:
    """prepare: what happens to the bus before the reader comes to it."""
    clock = BenchClock()
    junctions = [BenchJunction(700.0 + 100 * i, 24.0 + i, type=channel.type) for i, channel in enumerate(channels)]
    bus = EmulatedBus([chip(junction, clock.seconds, seed=seed) for seed, junction in enumerate(junctions)])
    prepare(bus)
    during: list[Callable[[], None]] = []

    def wait(seconds: float) -> None:
        while during:
            during.pop()()
        clock.wait(seconds)

    probes = Max31856Probes(
        bus,
        channels,
        bus.selects,
        mains_hertz=mains_hertz,
        averaging=averaging,
        seconds=clock.seconds,
        wait=wait,
    )
    return Bench(clock, junctions, bus, probes, during)


@pytest.fixture
def bench() -> Bench:
    return make_bench()


@pytest.fixture(scope="session")
def bench_of() -> BenchMaker:
    return make_bench
