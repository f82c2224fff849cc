"""A rehearsal: a kiln whose clock waits, whose panel works, and whose state outlives the daemon."""

import json
import os
import signal
import subprocess
import sys
import threading
from dataclasses import replace
from itertools import count

import pytest

from spyhole.core.reading import Fault
from spyhole.core.refusal import Refusal
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.firing import fire, read_directly
from spyhole_hardware.emulated.puffin import BUILD, KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal
from spyhole_hardware.probes import open_sensors


class RealSeconds:
    """A real clock that moves only when somebody naps on it or works."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now

    def pass_by(self, seconds: float) -> None:
        self.now += seconds


# --- its clock


def test_time_passes_only_while_somebody_waits(watch) -> None:
    rehearsal = watch().rehearsal
    first = rehearsal.now()
    assert (first.monotonic_ms, rehearsal.now()) == (0, first)
    rehearsal.wait_until(12_345)
    assert rehearsal.now().monotonic_ms == 12_345
    assert rehearsal.now().utc_ms - first.utc_ms == 12_345
    assert rehearsal.now().boot == first.boot
    rehearsal.wait_until(5_000)
    assert rehearsal.now().monotonic_ms == 12_345


@pytest.mark.parametrize("speed", [1, 60, 3600])
def test_it_keeps_the_speed(watch, speed: float) -> None:
    rehearsal, real = watch().rehearsal, RealSeconds()
    rehearsal.keep_pace(real, speed, real.pass_by)
    rehearsal.wait_until(600_000)
    assert real.now - 1000 == pytest.approx(600 / speed, rel=0.01)


def test_the_speed_is_a_maximum_and_a_slow_tick_is_not_made_good(watch) -> None:
    rehearsal, real = watch().rehearsal, RealSeconds()
    rehearsal.keep_pace(real, 60, real.pass_by)
    for tick in range(1, 11):
        real.pass_by(3)  # the daemon is busy
        rehearsal.wait_until(tick * 60_000)
    assert real.now - 1000 == pytest.approx(10 * (1 + 3), abs=10 * 0.06)


def test_a_small_delay_is_made_good(watch) -> None:
    rehearsal, real = watch().rehearsal, RealSeconds()
    rehearsal.keep_pace(real, 60, lambda seconds: real.pass_by(seconds + 0.001))
    rehearsal.wait_until(3_600_000)
    assert real.now - 1000 == pytest.approx(60, rel=0.001)


def test_a_new_speed_is_felt_at_once(watch) -> None:
    rehearsal, real = watch().rehearsal, RealSeconds()

    def nap(seconds: float) -> None:
        real.pass_by(seconds)
        if real.now > 1010:
            rehearsal.set_speed(3600)

    rehearsal.keep_pace(real, 1, nap)
    rehearsal.wait_until(3_600_000)
    assert real.now - 1000 == pytest.approx(11, abs=0.5)


@pytest.mark.parametrize("speed", [0, 0.5, 3601, float("nan")])
def test_a_speed_that_cannot_be_kept_is_refused(watch, speed: float) -> None:
    with pytest.raises(ValueError, match="from 1 to 3600"):
        watch().rehearsal.set_speed(speed)


def test_stopping_ends_a_wait_really(watch) -> None:
    rehearsal = watch().rehearsal
    rehearsal.keep_pace(RealSeconds(), 1)
    waiting = threading.Thread(target=rehearsal.wait_until, args=(10**9,))
    waiting.start()
    rehearsal.stop()
    waiting.join(60)
    assert not waiting.is_alive()
    assert rehearsal.now().monotonic_ms < 60_000


# --- its panel


def test_a_switch_turned_at_the_panel_is_the_panels_from_then_on(watch) -> None:
    rehearsal = watch().rehearsal
    rehearsal.wait_until(600_000)
    assert rehearsal.view().keeper
    rehearsal.turn("top", "medium")
    assert dict(rehearsal.view().switches)["top"] == "medium"
    assert not rehearsal.view().keeper


def test_unknown_words_at_the_panel_are_refused(watch) -> None:
    rehearsal = watch().rehearsal
    with pytest.raises(ValueError, match="bottom, middle, top"):
        rehearsal.turn("lid", "low")
    with pytest.raises(ValueError, match="off, low, medium, high"):
        rehearsal.turn("top", "full")
    with pytest.raises(ValueError, match="power-cut"):
        rehearsal.throw("flood")
    assert rehearsal.view().keeper


def test_the_panel_may_be_used_while_the_kiln_goes_on(watch) -> None:
    watched = watch()
    going = threading.Thread(target=watched.go, args=(5,))
    going.start()
    for number in count():
        watched.rehearsal.turn("top", ("low", "off")[number % 2])
        watched.rehearsal.throw(("probe-open", "none")[number % 2])
        assert watched.rehearsal.view().lid == "closed"
        if not going.is_alive():
            break
    going.join()
    assert watched.ticks[-1][0] == 5


def test_the_keeper_writes_without_the_lock_held_and_at_the_kilns_time() -> None:
    """A note goes to a watch that may ask the panel from another thread: with the lock held that would stand still."""
    seen: list[tuple[int, str]] = []

    def log(kind: str, subject: str, value: str) -> None:
        asking = threading.Thread(target=rehearsal.view)
        asking.start()
        asking.join(60)
        assert not asking.is_alive()
        seen.append((rehearsal.now().monotonic_ms, kind))

    rehearsal = Rehearsal(KILN, BUILD, TONIGHT, start_utc_ms=0, log=log)
    rehearsal.wait_until(10_000_000)
    assert seen[0] == (120_000, "start")


# --- its probes, by the real driver


def test_the_real_driver_reads_the_probes_through_the_chips_registers(watch) -> None:
    watched = watch().go(14)
    rehearsal = watched.rehearsal
    channels = [Channel(ring.name, 5 + number) for number, ring in enumerate(KILN.rings)]
    probes, _ = open_sensors("emulated", channels, None, mains_hertz=50, averaging=4, junctions=rehearsal.junctions)
    direct = read_directly(rehearsal)
    for through_chip, straight in zip(probes.read().probes, direct.probes, strict=True):
        assert through_chip.celsius == pytest.approx(straight.celsius, abs=0.25)
        assert through_chip.cold_junction_celsius == pytest.approx(straight.cold_junction_celsius, abs=0.1)
    rehearsal.throw("probe-open")
    assert [probe.fault for probe in probes.read().probes] == [None, Fault.OPEN, None]
    probes.close()


# --- its state


def test_taken_up_again_and_again_it_is_the_same_kiln(watch, tmp_path) -> None:
    """Every float, every note: a firing in twelve lives equals one never interrupted."""
    whole = watch(trouble="power-cut").go(24)
    ticks, notes = [], []
    for life in range(12):
        part = watch(trouble="power-cut", state_file=tmp_path / "puffin.json")
        part.go(2)
        if life:
            assert part.ticks.pop(0) == ticks[-1]
        ticks += part.ticks
        notes += part.notes
    assert ticks == whole.ticks
    assert notes == whole.notes
    assert part.rehearsal.kiln.state() == whole.rehearsal.kiln.state()
    assert part.rehearsal.now() == whole.rehearsal.now()


def test_what_the_panel_did_is_remembered(watch, tmp_path) -> None:
    state_file = tmp_path / "puffin.json"
    rehearsal = watch(state_file=state_file).rehearsal
    rehearsal.wait_until(600_000)
    rehearsal.turn("top", "medium")
    rehearsal.throw("shutoff-jams")
    again = watch(state_file=state_file).rehearsal
    assert again.view() == rehearsal.view()
    assert again.kiln.shutoff.jammed


def test_a_trouble_still_to_come_is_not_lost_and_one_that_came_does_not_come_twice(watch, tmp_path) -> None:
    state_file = tmp_path / "puffin.json"
    watch(trouble="power-cut", state_file=state_file).go(13)
    later = watch(state_file=state_file).go(1.2)
    assert later.rehearsal.view().trouble == "power-cut"
    assert not later.rehearsal.view().power
    later.go(0.8)
    again = watch(trouble="power-cut", state_file=state_file).go(1)
    assert again.rehearsal.view().power


LIVES = """
import sys
from pathlib import Path
from spyhole_hardware.emulated.puffin import BUILD, KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal
rehearsal = Rehearsal(KILN, BUILD, TONIGHT, start_utc_ms=0, state_file=Path(sys.argv[1]))
print("up", flush=True)
while True:
    rehearsal.wait_until(rehearsal.now().monotonic_ms // 30_000 * 30_000 + 30_000)
"""


def test_killed_it_resumes_where_it_was(tmp_path) -> None:
    """A real SIGKILL, eight times; then the same numbers as a kiln that was never killed."""
    state_file = tmp_path / "puffin.json"
    reached = 0
    for life in range(8):
        with subprocess.Popen([sys.executable, "-c", LIVES, str(state_file)], stdout=subprocess.PIPE) as lived:
            assert lived.stdout is not None
            lived.stdout.readline()
            while not state_file.exists() or json.loads(state_file.read_text())["ms"] < reached + 1_500_000 + life:
                assert lived.poll() is None
            os.kill(lived.pid, signal.SIGKILL)
        now = json.loads(state_file.read_text())["ms"]
        assert now > reached
        reached = now
    killed = Rehearsal(KILN, BUILD, TONIGHT, start_utc_ms=999, state_file=state_file)
    whole = Rehearsal(KILN, BUILD, TONIGHT, start_utc_ms=0)
    whole.wait_until(reached)
    assert killed.now() == whole.now()
    assert killed.kiln.state() == whole.kiln.state()
    assert list(fire(killed, 30, hours=1)) == list(fire(whole, 30, hours=1))


def test_the_state_is_small_and_nothing_is_left_beside_it(watch, tmp_path) -> None:
    watch(state_file=tmp_path / "puffin.json").go(1)
    assert [path.name for path in tmp_path.iterdir()] == ["puffin.json"]
    assert (tmp_path / "puffin.json").stat().st_size < 4096


@pytest.mark.parametrize("text", ["", "[]", "{}", "nonsense", '{"version": 1, "plan": "x"}'])
def test_a_file_that_is_no_state_is_refused_and_kept(watch, tmp_path, text: str) -> None:
    state_file = tmp_path / "puffin.json"
    state_file.write_text(text)
    with pytest.raises(Refusal, match=r"not the state of a rehearsal.*move the file away"):
        watch(state_file=state_file)
    assert state_file.read_text() == text


def test_another_rehearsals_state_is_refused(watch, tmp_path) -> None:
    state_file = tmp_path / "puffin.json"
    watch(state_file=state_file).go(0.1)
    with pytest.raises(Refusal, match="another rehearsal's state"):
        watch(replace(TONIGHT, seed=99), state_file=state_file)


def test_a_damaged_state_is_refused(watch, tmp_path) -> None:
    state_file = tmp_path / "puffin.json"
    watch(state_file=state_file).go(0.1)
    state = json.loads(state_file.read_text())
    del state["kiln"]["heat"]
    state_file.write_text(json.dumps(state))
    with pytest.raises(Refusal, match="damaged"):
        watch(state_file=state_file)


def test_a_disk_that_refuses_never_stops_the_kiln(watch, tmp_path) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    watched = watch(state_file=folder / "puffin.json").go(0.1)
    (folder / "puffin.json").unlink()
    folder.rmdir()
    watched.go(0.1)
    assert watched.rehearsal.save_error
    folder.mkdir()
    watched.go(0.1)
    assert watched.rehearsal.save_error is None
