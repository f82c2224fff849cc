"""The parts of the shell that are too small for a file of their own each: clock, notifier, codec."""

import logging
import signal
import socket
import threading
import time
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from spyhole.app.clock import MachineClock
from spyhole.app.codec import codec
from spyhole.app.lifecycle import EXIT_STUCK, Lifecycle, on_leaving, signals
from spyhole.app.notify import Notifier
from spyhole.services import keeping


def test_the_clock_never_steps_and_says_when_it_was_stopped() -> None:
    clock = MachineClock()
    first = clock.now()
    clock.wait_until(first.monotonic_ms + 20)
    second = clock.now()
    assert second.monotonic_ms >= first.monotonic_ms + 20
    assert first.boot == second.boot != ""
    threading.Timer(0.05, clock.stop).start()
    began = time.monotonic()
    clock.wait_until(first.monotonic_ms + 60_000)
    clock.wait_until(first.monotonic_ms + 60_000)
    assert time.monotonic() - began < 30


@pytest.mark.parametrize("abstract", [False, True])
def test_systemd_hears_of_the_start_and_of_every_completed_tick(tmp_path: Path, abstract: bool) -> None:
    address = f"@spyhole-test-{tmp_path.name}" if abstract else str(tmp_path / "notify")
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)) as systemd:
        systemd.bind("\0" + address[1:] if abstract else address)
        systemd.settimeout(5)
        notifier = Notifier(address)
        notifier.ready("Puffin is watched")
        notifier.alive()
        notifier.stopping()
        heard = [systemd.recv(200).decode() for _ in range(3)]
    assert heard == ["READY=1\nSTATUS=Puffin is watched", "WATCHDOG=1", "STOPPING=1"]
    notifier.alive()
    notifier.close()
    notifier.alive()


def test_without_systemd_nothing_is_sent() -> None:
    for address in ("", "/nowhere/at/all"):
        Notifier(address).ready("x")


def test_a_state_comes_back_exactly_and_damage_is_noticed() -> None:
    both = codec()
    kept = keeping.begin()
    blob = both.freeze(kept)
    assert both.thaw(blob) == kept
    for damaged in (blob[:-3], b"", b"not a state"):
        with pytest.raises(ValueError):  # noqa: PT011  (whatever it says, it is an unreadable checkpoint)
            both.thaw(damaged)
    assert codec().version == both.version > 0


def test_parts_leave_in_reverse_and_one_that_fails_stops_no_other(caplog: pytest.LogCaptureFixture) -> None:
    left: list[str] = []
    stack = ExitStack()
    on_leaving(stack, "record", lambda: left.append("record"))
    on_leaving(stack, "probes", lambda: 1 / 0)
    on_leaving(stack, "page", lambda: left.append("page"))
    lifecycle = Lifecycle(stack, ())
    lifecycle.stop()
    lifecycle.stop()
    assert left == ["page", "record"]
    assert "probes did not stop cleanly" in caplog.text


def test_a_bus_that_never_answers_ends_the_process_with_a_code_of_its_own(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("spyhole.app.lifecycle.LOOK_SECONDS", 0.01)
    looks = [True, True, False]
    lifecycle = Lifecycle(ExitStack(), (lambda: looks.pop(0),))
    with caplog.at_level(logging.CRITICAL):
        assert lifecycle.run() == EXIT_STUCK
    assert "start afresh" in caplog.text


def test_a_look_that_fails_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("spyhole.app.lifecycle.LOOK_SECONDS", 0.01)
    times: list[int] = []

    def look() -> bool:
        times.append(1)
        if len(times) == 3:
            lifecycle.end()
        raise RuntimeError("a fault of ours")

    lifecycle = Lifecycle(ExitStack(), (look,))
    assert lifecycle.run() == 0
    assert len(times) == 3


def test_a_signal_asks_once_and_the_old_handlers_come_back() -> None:
    before = signal.getsignal(signal.SIGTERM)
    asked: list[int] = []
    with signals(lambda: asked.append(1)):
        signal.raise_signal(signal.SIGTERM)
        assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL
    assert asked == [1]
    assert signal.getsignal(signal.SIGTERM) is before
