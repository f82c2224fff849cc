"""A clock that jumps, probes that say what they are told, and a real record."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.moment import Moment
from spyhole.core.plan import Plan, Stage
from spyhole.core.ports import Answer
from spyhole.core.reading import ProbeReading, Reading
from spyhole.store.archive import SqlArchive, open_archive

START_UTC_MS = 1_951_155_600_000


class JumpingClock:
    """Simulated time: a wait takes none. Past `until_ms` a wait lasts until `stop`, and `reached` is set."""

    def __init__(self, until_ms: int = 0) -> None:
        self.ms = 0
        self.until_ms = until_ms
        self.utc_offset_ms = START_UTC_MS
        self.boot = "boot-1"
        self.synchronised = True
        self.waits: list[int] = []
        self.reached = threading.Event()
        self.stopped = threading.Event()

    def now(self) -> Moment:
        return Moment(self.boot, self.ms, self.ms + self.utc_offset_ms, self.synchronised)

    def wait_until(self, monotonic_ms: int) -> None:
        self.waits.append(monotonic_ms)
        if monotonic_ms > self.until_ms:
            self.reached.set()
            self.stopped.wait()
            return
        self.ms = max(self.ms, monotonic_ms)

    def stop(self) -> None:
        self.stopped.set()


@dataclass
class SaidProbes:
    """says: makes each reading; may take simulated time, or raise."""

    says: Callable[[], Reading]
    reads: int = 0
    closed: bool = False

    def read(self) -> Reading:
        self.reads += 1
        return self.says()

    def close(self) -> None:
        self.closed = True


@dataclass
class Channel:
    """A recipient in memory. answer: whether it accepts the message, or what it answers; may take its time or raise."""

    answer: Callable[[str], bool | Answer] = lambda text: True
    sent: list[tuple[str, str]] = field(default_factory=list)
    arrived: threading.Event = field(default_factory=threading.Event)

    def prepare(self) -> None:
        """Nothing to load."""

    def send(self, title: str, text: str, *, urgent: bool) -> Answer:
        said = self.answer(text)
        answer = said if isinstance(said, Answer) else Answer.ACCEPTED if said else Answer.NOT_NOW
        if answer is Answer.ACCEPTED:
            self.sent.append((title, text))
            self.arrived.set()
        return answer


@dataclass
class Tools:
    """What a test of the services builds with."""

    clock: type[JumpingClock] = JumpingClock
    probes: type[SaidProbes] = SaidProbes
    channel: type[Channel] = Channel

    @staticmethod
    def reading(*celsius: float | None) -> Reading:
        return Reading(tuple(ProbeReading(c) for c in celsius))


@pytest.fixture
def tools() -> Tools:
    return Tools()


@pytest.fixture
def kiln() -> Kiln:
    """One probe on three rings: a common first kit."""
    rings = (Ring("bottom", 3100.0), Ring("middle", 2900.0, Probe()), Ring("top", 3000.0))
    return Kiln("Puffin", 1290.0, rings)


@pytest.fixture
def plan() -> Plan:
    high, low = (Switch.HIGH,) * 3, (Switch.LOW,) * 3
    stages = (Stage("low", low, hours=2.0), Stage("high", high, until_cone=True))
    return Plan("Bisque, cone 06", "06", stages, reference_ring=1, shutoff_cone="06")


@pytest.fixture
def disk_in_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk answers within what is given it, however long that of this machine takes."""
    for room in ("courier", "watchkeeper"):
        monkeypatch.setattr(f"spyhole.services.{room}.DISK_SECONDS", 30.0)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[SqlArchive]:
    opened = open_archive(tmp_path / "record", seconds=time.monotonic, tell=lambda code, words: None)
    yield opened
    opened.close(30.0)
