"""One bus, two daemons: real processes, and a lock of the kernel's between them. The wires alone are emulated."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from spyhole.core.reading import Fault
from spyhole_hardware.turns import LATER_SECONDS, LONGEST_SECONDS, BusTurns

SHARING = Path(__file__).with_name("sharing.py")
TICKS = 12


def both(tmp_path: Path, locks: tuple[str, str]) -> list[list[str]]:
    """What each of two daemons said, tick by tick. locks: the device file that each has open."""
    daemons = []
    for chip, lock in enumerate(locks):
        (tmp_path / lock).touch()
        command = [sys.executable, SHARING, tmp_path / "wires", tmp_path / lock, str(chip), str(TICKS)]
        daemons.append(subprocess.Popen(command, stdout=subprocess.PIPE, text=True))
    return [daemon.communicate(timeout=120)[0].splitlines() for daemon in daemons]


def test_two_daemons_on_one_bus_each_read_their_own_chip(wires, tmp_path: Path) -> None:
    said = both(tmp_path, ("spidev0.0", "spidev0.0"))
    for lines, celsius in zip(said, wires.true_celsius, strict=True):
        assert lines == [f"{celsius} False"] * TICKS


def test_without_turns_they_would_have_talked_into_each_other(wires, tmp_path: Path) -> None:
    """Each with a device file of its own: the lock is what makes the difference above."""
    said = both(tmp_path, ("one", "another"))
    right = [
        line for lines, celsius in zip(said, wires.true_celsius, strict=True) for line in lines if str(celsius) in line
    ]
    assert len(right) < TICKS


@pytest.fixture
def device(tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "spidev0.0"
    path.touch()
    return path


class Turned:
    """Somebody with the device open, on a clock that moves only while he waits."""

    def __init__(self, device: Path) -> None:
        self.now = 0.0
        self.descriptor = os.open(device, os.O_RDONLY)
        self.turns = BusTurns(self.descriptor, seconds=lambda: self.now, wait=self.wait)

    def wait(self, seconds: float) -> None:
        self.now += seconds


@pytest.fixture
def two(device: Path) -> Iterator[tuple[Turned, Turned]]:
    made = Turned(device), Turned(device)
    yield made
    for each in made:
        os.close(each.descriptor)


def test_a_turn_is_had_at_once_kept_and_given_back(two: tuple[Turned, Turned]) -> None:
    one, other = two
    assert one.turns.take()
    assert not one.turns.take(), "it has it already"
    one.turns.give()
    one.turns.give()
    assert other.turns.take()
    assert (one.now, other.now) == (0.0, 0.0)


def test_nobody_waits_longer_than_the_limit_and_then_a_quarter_of_it_until_it_was_had(
    two: tuple[Turned, Turned],
) -> None:
    one, other = two
    one.turns.take()
    with pytest.raises(TimeoutError):
        other.turns.take()
    assert LONGEST_SECONDS <= other.now < 1.1 * LONGEST_SECONDS
    assert other.turns.held
    waited = other.now
    with pytest.raises(TimeoutError):
        other.turns.take()
    assert LATER_SECONDS <= other.now - waited < 1.1 * LATER_SECONDS
    one.turns.give()
    assert other.turns.take()
    assert not other.turns.held


def test_a_daemon_that_is_killed_gives_its_turn_back(two: tuple[Turned, Turned], device: Path) -> None:
    holds = "import fcntl, sys, time; f = open(sys.argv[1]); fcntl.flock(f, 2); print(1, flush=True); time.sleep(99)"
    holder = subprocess.Popen([sys.executable, "-c", holds, device], stdout=subprocess.PIPE)
    assert holder.stdout is not None
    holder.stdout.readline()
    with pytest.raises(TimeoutError):
        two[0].turns.take()
    holder.kill()
    holder.communicate()
    assert two[0].turns.take()


def test_a_bus_that_another_program_keeps_is_a_fault_and_no_number(bench) -> None:
    assert all(reading.fault is None for reading in bench.read().probes)
    bench.bus.held = True
    assert {reading.fault for reading in bench.read().probes} == {Fault.BUS}
    assert bench.probes.bus_held
    bench.bus.held = False
    assert all(reading.fault is None for reading in bench.read().probes)
