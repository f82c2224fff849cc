"""A bench: three emulated amplifiers behind the real driver, on a clock that only moves when somebody waits."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from socketserver import StreamRequestHandler, ThreadingUnixStreamServer

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


IN_BETWEEN_SECONDS = 0.005
"""How long after a chip select falls the bytes come: long enough for somebody else to come in between."""


class Wires:
    """The emulated bus with two chips, to be reached by other processes."""

    true_celsius = (700.0, 1100.0)

    def __init__(self, path: Path) -> None:
        self.bus = EmulatedBus([EmulatedChip(BenchJunction(hot, 25.0), time.monotonic) for hot in self.true_celsius])
        self._one_at_a_time = threading.Lock()
        self._both = threading.Barrier(2, timeout=100)
        wires = self

        class Handler(StreamRequestHandler):
            def handle(self) -> None:
                for line in self.rfile:
                    self.wfile.write(wires.did(*line.decode().split()).hex().encode() + b"\n")

        self.server = ThreadingUnixStreamServer(str(path), Handler)
        self.server.block_on_close = True
        self.thread = threading.Thread(target=self.server.serve_forever)
        self.thread.start()

    def did(self, what: str, *words: str) -> bytes:
        if what == "together":
            self._both.wait()
            return b""
        with self._one_at_a_time:
            if what == "configure":
                baud, polarity, phase = map(int, words)
                self.bus.configure(baudrate=baud, polarity=polarity, phase=phase)
            elif what == "select":
                self.bus.selects[int(words[0])].value = words[1] == "1"
            elif what == "write":
                self.bus.write(bytes.fromhex(words[0]))
            else:
                answer = bytearray(int(words[0]))
                self.bus.readinto(answer)
                return bytes(answer)
        if what == "select" and words[1] == "0":
            time.sleep(IN_BETWEEN_SECONDS)
        return b""

    def close(self) -> None:
        self.server.shutdown()
        self.thread.join()
        self.server.server_close()


@pytest.fixture
def wires(tmp_path: Path) -> Iterator[Wires]:
    made = Wires(tmp_path / "wires")
    yield made
    made.close()
