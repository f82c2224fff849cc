"""The cut-out heartbeat of a real daemon that is killed by SIGKILL, and of the next one on the same record.

The process has a real record and a real page; its probes say what a file says, its GPIO lines write each level down.
"""

import itertools
import json
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

CUT_OUT = 23

# A daemon whose kiln minute is a second, so that delays of alarms are not waited for.
DAEMON = r"""
import sys, threading, time
from pathlib import Path
from spyhole.app.build import World, build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import studio_of
from spyhole.app.wiring import emulated_wiring
from spyhole.core.moment import Moment
from spyhole.core.reading import ProbeReading, Reading
from spyhole.core.words import Manner
from spyhole_hardware.emulated.puffin import TONIGHT

folder = Path(sys.argv[1])

class Clock:
    def __init__(self): self.stopped = threading.Event()
    def now(self):
        ms = round(time.monotonic() * 60_000)
        return Moment("bench", ms, 1_951_155_600_000 + ms, True)
    def wait_until(self, ms): self.stopped.wait(max(0.0, ms / 60_000 - time.monotonic()))

class Probes:
    def read(self):
        celsius = float((folder / "celsius").read_text())
        return Reading((ProbeReading(celsius, None, 25.0),) * 3)
    def close(self): pass

lines = (folder / "lines").open("a", buffering=1)

def seen(level):
    lines.write(f"{level.seconds} {level.line} {int(level.on)}\n")

clock = Clock()
world = World(clock, clock.stopped.set, Probes(), wiring=emulated_wiring(seen=seen))
daemon = build(studio_of(TONIGHT, Manner(), 10.0), world, folder / "record", port=0, notifier=Notifier(""))
daemon.sampler.start()
print(daemon.guest.port, flush=True)
daemon.lifecycle.run()
"""


class Daemon:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        command = [sys.executable, "-c", DAEMON, str(folder)]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        assert self.process.stdout is not None
        self.port = int(self.process.stdout.readline())
        until(self.reads)

    def reads(self) -> bool:
        """Whether the page is there and has a reading of this run."""
        try:
            return bool(self.ask("/api/now")["rings"][0]["celsius"]) and self.ask("/healthz") is not None
        except OSError:
            return False

    def ask(self, path: str, **said: str) -> Any:
        body = json.dumps(said).encode() if said else None
        headers = {"Content-Type": "application/json"}
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data=body, headers=headers)
        with urllib.request.urlopen(request, timeout=60) as answer:
            return json.load(answer)

    def cut_out(self) -> Any:
        return self.ask("/api/now")["room"]["cut_out"]

    def beats(self, since: float = 0.0) -> list[tuple[float, bool]]:
        lines = [line.split() for line in (self.folder / "lines").read_text().splitlines()]
        return [(float(s), on == "1") for s, line, on in lines if int(line) == CUT_OUT and float(s) >= since]

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.communicate()
        assert self.process.returncode == -signal.SIGKILL


def until(so: Callable[[], object], seconds: float = 240.0) -> None:
    deadline = time.monotonic() + seconds
    while not so():
        assert time.monotonic() < deadline, f"still not so after {seconds:g} s"
        time.sleep(0.05)


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Callable[[], Daemon]]:
    (tmp_path / "celsius").write_text("700")
    (tmp_path / "lines").touch()
    made: list[Daemon] = []

    def start() -> Daemon:
        made.append(Daemon(tmp_path))
        return made[-1]

    yield start
    for one in made:
        if one.process.poll() is None:
            one.kill()


def test_killed_it_beats_no_more_and_after_an_alarm_the_next_daemon_waits_for_a_person(
    daemon: Callable[[], Daemon], tmp_path: Path
) -> None:
    first = daemon()
    first.ask("/api/entries", kind="start", value="05", who="Jo")
    assert not first.cut_out()["running"]
    first.ask("/api/room/cut-out", who="Jo")
    until(lambda: len(first.beats()) >= 6)
    levels = [on for _, on in first.beats()]
    assert all(one is not other for one, other in itertools.pairwise(levels))
    assert first.cut_out()["running"]

    first.kill()
    killed = time.monotonic()
    time.sleep(1.5)
    assert first.beats(killed) == [], "whatever level it was left at, nothing moves it"

    second = daemon()
    time.sleep(1.5)
    assert second.beats(killed) == []
    second.ask("/api/room/cut-out", who="Jo")
    until(lambda: len(second.beats(killed)) >= 4)

    (tmp_path / "celsius").write_text("1310")
    until(lambda: second.cut_out()["tag"] == "kiln-limit")
    stopped = time.monotonic()
    time.sleep(1.5)
    assert second.beats(stopped) == []
    with pytest.raises(urllib.error.HTTPError) as refused:
        second.ask("/api/room/cut-out", who="Jo")
    assert "still holds" in refused.value.read().decode()

    second.kill()
    (tmp_path / "celsius").write_text("1260")
    third = daemon()
    assert third.cut_out()["tag"] == "kiln-limit", "the next daemon knows why"
    for ring in ("bottom", "middle", "top"):
        third.ask("/api/entries", kind="switch", subject=ring, value="off", who="Jo")
    until(lambda: third.cut_out()["may_arm"])
    time.sleep(1.5)
    assert third.beats(stopped) == [], "the alarm is over, and nobody has armed it"
    third.ask("/api/room/cut-out", who="Mina")
    until(lambda: len(third.beats(stopped)) >= 4)
    assert "armed by Mina" in third.cut_out()["words"]
