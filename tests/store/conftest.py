"""A real record in a folder of its own, that can be closed and opened again, with what it told of its conditions."""

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from spyhole.core.journal import Row, Told
from spyhole.core.outcome import Action, AlarmOutcome, Priority
from spyhole.core.reading import ProbeReading, Reading
from spyhole.services.archive import Step
from spyhole.store.archive import SqlArchive, open_archive
from spyhole.store.writer import Pace

SLOW = Pace(firing_seconds=1e6, idle_seconds=1e6, retry_seconds=0.02)
"""Nothing is committed on its own: what is found on the disk was urgent or was asked for."""


class Record:
    """The record of one test."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.told: list[tuple[str, str | None]] = []
        self._open = ExitStack()

    def open(self, pace: Pace = SLOW, tell: Callable[[str, str | None], None] | None = None) -> SqlArchive:
        archive = open_archive(
            self.folder, seconds=time.monotonic, tell=tell or (lambda *what: self.told.append(what)), pace=pace
        )
        self._open.callback(archive.close, 5)
        return archive

    def close(self) -> None:
        self._open.close()

    @staticmethod
    def until(true: Callable[[], bool]) -> None:
        """Wait for something the writer's thread does; five seconds are more than any of it takes."""
        deadline = time.monotonic() + 5
        while not true():
            assert time.monotonic() < deadline
            time.sleep(0.005)

    @staticmethod
    def reading(sequence: int, told: Told | None = None, boot: str = "first", kiln: str = "Puffin") -> Row:
        """Row number `sequence`, a second after the one before; a reading of three probes unless something is told."""
        if told is None:
            told = Reading(tuple(ProbeReading(20.0 + sequence / 128 + probe, None, 25.5) for probe in range(3)))
        return Row(kiln, sequence, boot, sequence * 1000, told)

    @classmethod
    def steps(cls, first: int, last: int, kiln: str = "Puffin") -> tuple[Step, ...]:
        return tuple(Step(cls.reading(sequence, kiln=kiln)) for sequence in range(first, last + 1))

    @staticmethod
    def alarm(episode: str = "a1") -> AlarmOutcome:
        return AlarmOutcome(
            0,
            episode,
            "stall",
            "top",
            Priority.MEDIUM,
            Action.RAISE,
            tell=True,
            facts=(("climb", 12.5), ("cone", "05")),
        )


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    record = Record(tmp_path)
    yield record
    record.close()
