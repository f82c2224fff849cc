"""Puffin's firings; the healthy one is fired once for all who only look."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from spyhole.core.moment import utc_ms_from_text
from spyhole.core.reading import Reading
from spyhole_hardware.emulated.firing import fire
from spyhole_hardware.emulated.puffin import BUILD, KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal
from spyhole_hardware.emulated.script import Script

START_UTC_MS = utc_ms_from_text("2031-10-30T19:41:00Z")
HOUR_MS = 3_600_000


@dataclass
class Watched:
    """A rehearsal and what was seen of it. notes: hour, kind, subject, value. ticks: hour, reading."""

    rehearsal: Rehearsal
    notes: list[tuple[float, str, str, str]]
    ticks: list[tuple[float, Reading]] = field(default_factory=list)

    def go(self, hours: float, every_seconds: int = 30) -> "Watched":
        for moment, reading in fire(self.rehearsal, every_seconds, hours=hours):
            self.ticks.append((moment.monotonic_ms / HOUR_MS, reading))
        return self

    def celsius(self, ring: int, hour: float) -> float:
        """What this ring's probe showed at the first tick from this hour on."""
        found = next(reading.probes[ring].celsius for at, reading in self.ticks if at >= hour)
        assert found is not None
        return found

    def hour_of(self, *note: str) -> float:
        """When the keeper first wrote this kind, subject and value."""
        return next(at for at, *written in self.notes if tuple(written) == note)


Watch = Callable[..., Watched]


def _watch(script: Script = TONIGHT, *, trouble: str = "none", state_file: Path | None = None) -> Watched:
    notes: list[tuple[float, str, str, str]] = []
    rehearsal = Rehearsal(
        KILN,
        BUILD,
        script,
        start_utc_ms=START_UTC_MS,
        trouble=trouble,
        state_file=state_file,
        log=lambda *note: notes.append((rehearsal.now().monotonic_ms / HOUR_MS, *note)),
    )
    return Watched(rehearsal, notes)


@pytest.fixture(scope="session")
def watch() -> Watch:
    """Puffin before anything has happened; `go` lets hours pass."""
    return _watch


@pytest.fixture(scope="session")
def well() -> Watched:
    """Tonight's firing, from the cold kiln to the cold kiln, with nothing wrong."""
    return _watch().go(60)
