"""Faults 19 and 20: what is fed by completed ticks stops when they stop, and whoever listens outside notices."""

import socket
import threading
import time
from pathlib import Path
from typing import Any

import pytest

from spyhole.app.notify import Notifier
from spyhole.channels.heartbeat import HttpBeat
from spyhole.services.beat import Beat
from spyhole.services.conditions import OUTSIDE, Conditions
from spyhole.services.heartbeat import BEAT_SECONDS, Heartbeat

INTERVAL = 0.2
"""Of these tests, for the minute of the product."""


class Watching:
    """A sampler that ticks until it is frozen, with an outside heartbeat."""

    def __init__(self, way: Any) -> None:
        self.conditions = Conditions(lambda: 0)
        self.beat = Beat(time.monotonic)
        self.frozen, self.ends = threading.Event(), threading.Event()
        self.ticking = threading.Thread(target=self._tick)
        self.intervals = 0
        self.heartbeat = Heartbeat(lambda: self.beat.ticks, {"web": way}, self.conditions, self._pause)
        self.ticking.start()
        self.heartbeat.start()

    def _pause(self, _: float) -> bool:
        self.intervals += 1
        return self.ends.wait(INTERVAL)

    def _tick(self) -> None:
        while not self.frozen.wait(INTERVAL / 4):
            self.beat.begin()
            self.beat.done()

    def stop(self) -> None:
        self.frozen.set()
        self.ends.set()
        self.heartbeat.stop()
        self.ticking.join()


@pytest.fixture
def watching(web: Any) -> Any:
    made = Watching(HttpBeat(f"http://127.0.0.1:{web.port}/ping/hunter2", timeout_seconds=60.0))
    yield made
    made.stop()


def test_fault_20_a_listener_notices_within_three_intervals_that_readings_have_stopped(
    web: Any, watching: Watching, wait: Any
) -> None:
    wait(lambda: len(web.times) >= 3)
    assert web.asked.get() == "GET /ping/hunter2"
    watching.frozen.set()
    watching.ticking.join()
    began = watching.intervals
    wait(lambda: watching.intervals > began + 1)
    heard = len(web.times)  # one beat may still be for the ticks before; then none
    wait(lambda: watching.intervals > began + 4)
    assert len(web.times) == heard


def test_a_beat_that_is_not_taken_is_a_condition_until_one_is(
    web: Any, watching: Watching, wait: Any, caplog: pytest.LogCaptureFixture
) -> None:
    web.status = 500
    wait(lambda: watching.conditions.holds(OUTSIDE))
    web.status = 200
    wait(lambda: not watching.conditions.holds(OUTSIDE))
    assert "hunter2" not in caplog.text


def test_a_listener_that_hangs_holds_a_beat_no_longer_than_its_bound(web: Any) -> None:
    web.hangs = True
    began = time.monotonic()
    assert not HttpBeat(f"http://127.0.0.1:{web.port}/", timeout_seconds=0.3)()
    assert time.monotonic() - began < 30, "it would hang three times as long"
    web.let_go.set()


def test_nobody_listening_and_no_address_at_all_are_only_no() -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    assert not HttpBeat(f"http://127.0.0.1:{port}/")()
    assert not HttpBeat("http://nowhere.invalid/", timeout_seconds=2)()


def test_a_post_where_the_listener_wants_one(web: Any) -> None:
    assert HttpBeat(f"http://127.0.0.1:{web.port}/", post=True)()
    assert web.asked.get() == "POST /"
    assert BEAT_SECONDS == 60.0


def test_fault_19_the_watchdog_is_fed_by_completed_ticks_and_by_nothing_else(tmp_path: Path) -> None:
    """What systemd does with a watchdog that starves is its own; here a real socket hears what it would hear."""
    path = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as systemd:
        systemd.bind(path)
        systemd.settimeout(0.3)
        notifier = Notifier(path)
        beat = Beat(time.monotonic, notifier.alive)
        beat.begin()
        beat.done()
        assert systemd.recv(100) == b"WATCHDOG=1"
        beat.begin()
        beat.abandoned()
        beat.begin()
        with pytest.raises(TimeoutError):
            systemd.recv(100)
        notifier.close()
