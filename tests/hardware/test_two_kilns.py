"""Two kilns on one Pi: two whole daemons with amplifiers on one bus. The wires alone are emulated."""

import fcntl
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Plan, Stage
from spyhole.core.reading import Fault, Reading
from spyhole.store.archive import open_records

BUSSED = Path(__file__).with_name("bussed.py")
NAMES = ("Puffin", "Raku")


class Watch:
    """One daemon, and what it has said."""

    def __init__(self, folder: Path, wires: Path, device: Path, chip: int) -> None:
        kiln = Kiln(NAMES[chip], 1290.0, (Ring("middle", 2900.0, Probe()),))
        plan = Plan("Bisque", "06", (Stage("high", (Switch.HIGH,), until_cone=True),), 0, "06")
        folder.mkdir()
        (folder / "kiln.toml").write_text(kiln_to_toml(kiln))
        (folder / "plan.toml").write_text(plan_to_toml(plan, kiln))
        (folder / "spyhole.toml").write_text(
            'kiln = "kiln.toml"\nplan = "plan.toml"\ndata = "record"\ndriver = "max31856"\nmains_hertz = 60\n'
            f'averaging = 1\nport = 0\n[[probe]]\nring = "middle"\nchip_select = {5 + chip}\n'
        )
        self.folder = folder
        self.said: list[str] = []
        words = ("watch", "--config", folder / "spyhole.toml")
        self.process = subprocess.Popen(
            [sys.executable, BUSSED, wires, device, str(5 + chip), str(chip), *words],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        self._listening = threading.Thread(target=self._listen)
        self._listening.start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line)

    def has_said(self, words: str) -> bool:
        return any(re.search(words, line) for line in self.said)

    def stop(self) -> None:
        self.process.send_signal(signal.SIGINT)
        self.process.wait(60)
        self._listening.join()
        assert self.process.stdout is not None
        self.process.stdout.close()

    def readings(self) -> list[tuple[float | None, Fault | None]]:
        with open_records(self.folder / "record") as records:
            (name,) = records.kilns()
            rows = [row.told for row in records.rows_after(name, 0)]
        return [(told.probes[0].celsius, told.probes[0].fault) for told in rows if isinstance(told, Reading)]


@pytest.fixture
def device(tmp_path: Path) -> Path:
    path = tmp_path / "spidev0.0"
    path.touch()
    return path


@pytest.fixture
def watches(wires, tmp_path: Path, device: Path) -> Iterator[tuple[Watch, ...]]:
    made = tuple(Watch(tmp_path / name, tmp_path / "wires", device, chip) for chip, name in enumerate(NAMES))
    yield made
    for each in made:
        if each.process.poll() is None:
            each.stop()


def until(so: Callable[[], bool], seconds: float = 100.0) -> None:
    deadline = time.monotonic() + seconds
    while not so():
        assert time.monotonic() < deadline, f"still not so after {seconds:g} s"
        time.sleep(0.1)


def test_two_kilns_are_watched_by_one_bus_and_say_when_somebody_keeps_it(
    wires, watches: tuple[Watch, ...], device: Path
) -> None:
    until(lambda: all(each.has_said("is watched; the page is") for each in watches))
    with device.open() as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        until(lambda: all(each.has_said("watch-bus: Another program holds the bus") for each in watches))
    until(lambda: all(each.has_said("watch-bus: over") for each in watches))
    for each in watches:
        each.stop()
    for each, celsius in zip(watches, wires.true_celsius, strict=True):
        assert set(each.readings()) == {(celsius, None), (None, Fault.BUS)}, "the other kiln's number is never there"
