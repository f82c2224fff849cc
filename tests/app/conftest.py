"""The files of the Tern Street Clay Room, and a record to read."""

import json
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from spyhole.app.build import Daemon, build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.ports import MessengerPort
from spyhole.core.words import Manner
from spyhole_hardware.emulated.puffin import KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal
from spyhole_hardware.probes import CurrentWires

LIT_UTC_MS = 1_951_155_600_000
"""2031-10-30T19:40:00Z."""


@dataclass(frozen=True)
class Files:
    """Kiln, plan, settings, readings and entries in one folder."""

    folder: Path

    @property
    def kiln(self) -> Path:
        return self.folder / "puffin.toml"

    @property
    def plan(self) -> Path:
        return self.folder / "bisque-05.toml"

    @property
    def settings(self) -> Path:
        return self.folder / "spyhole.toml"

    @property
    def readings(self) -> Path:
        return self.folder / "friday.csv"

    @property
    def entries(self) -> Path:
        return self.folder / "friday-entries.csv"

    def set(self, text: str, file: str = "spyhole.toml") -> Path:
        (self.folder / file).write_text(text)
        return self.folder / file


SETTINGS = """\
kiln = "puffin.toml"
plan = "bisque-05.toml"
data = "record"
driver = "emulated"
mains_hertz = 50
port = 0
"""

READINGS = """\
time,bottom,middle,top,top_fault
2031-10-30T19:41:39Z,15.078125,15.296875,16.4765625,
2031-10-30T19:41:44Z,15.28125,14.546875,,open
2031-10-30T19:42:09Z,15.28125,14.546875,16.5,
"""

ENTRIES = """\
time,kind,subject,value
2031-10-30T19:41:11Z,start,,05
2031-10-30T19:41:44Z,switch,bottom,low
2031-10-30T19:45:00Z,note,,plugs are out
"""


@pytest.fixture
def files(tmp_path: Path) -> Files:
    made = Files(tmp_path)
    made.set(kiln_to_toml(KILN), "puffin.toml")
    made.set(plan_to_toml(TONIGHT.plan, KILN), "bisque-05.toml")
    made.set(SETTINGS)
    made.set(READINGS, "friday.csv")
    made.set(ENTRIES, "friday-entries.csv")
    return made


class Puffin:
    """A daemon around Puffin, headless: the kiln goes on as fast as the daemon takes its readings."""

    def __init__(
        self,
        folder: Path,
        *,
        trouble: str = "none",
        messengers: tuple[tuple[str, MessengerPort], ...] = (),
        currents: CurrentWires | None = None,
    ) -> None:
        self.notes = Notes()
        self.rehearsal: Rehearsal = rehearsal_of(
            TONIGHT, self.notes, start_utc_ms=LIT_UTC_MS, state_file=folder / "puffin.json", trouble=trouble
        )
        self.daemon: Daemon = build(
            studio_of(TONIGHT, Manner(), 30.0),
            world_around(self.rehearsal, messengers, currents=currents),
            folder,
            port=0,
            notifier=Notifier(""),
        )
        self.notes.read = self.daemon.watchkeeper.enter
        self.running = threading.Thread(target=self.daemon.lifecycle.run)

    def start(self) -> "Puffin":
        self.daemon.sampler.start()
        self.running.start()
        return self

    def stop(self) -> None:
        self.daemon.lifecycle.end()
        if self.running.ident is not None:
            self.running.join(240)
        self.daemon.lifecycle.stop()
        assert not self.running.is_alive()

    def get(self, path: str) -> Any:
        self.until(self.serves)
        with urllib.request.urlopen(f"http://127.0.0.1:{self.daemon.guest.port}{path}", timeout=60) as answer:
            return json.load(answer)

    def serves(self) -> bool:
        """Whether the page, which comes up beside the watch, is there."""
        server = self.daemon.guest._server
        return server is not None and server.started

    def pace(self, speed: float) -> None:
        """From now on at most so many kiln seconds a second: for what has to be seen before the kiln has gone on."""
        self.rehearsal.keep_pace(time.monotonic, speed)

    def until(self, so: Callable[[], bool], seconds: float = 400.0) -> None:
        deadline = time.monotonic() + seconds
        while not so():
            assert time.monotonic() < deadline, f"still not so after {seconds:g} s"
            time.sleep(0.02)


@pytest.fixture
def puffin(tmp_path: Path) -> Iterator[Callable[..., Puffin]]:
    made: list[Puffin] = []

    def make(**more: Any) -> Puffin:
        made.append(Puffin(tmp_path, **more))
        return made[-1]

    yield make
    for one in made:
        one.stop()
