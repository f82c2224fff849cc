"""The whole daemon in this process: emulated registers, real driver, real record, real page on a free port."""

import subprocess
import sys
import threading
import time
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest

from spyhole.app.build import build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.store.archive import open_records
from spyhole_hardware.emulated.puffin import TONIGHT

LIT_UTC_MS = 1_951_155_600_000
BEGINS = """
import sys
from pathlib import Path
from spyhole.app.build import build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.core.words import Manner
from spyhole_hardware.emulated.puffin import TONIGHT

def begin(sampler):
    sampler.tick()
    print(sampler._beat.ticks, "spyhole_web" in sys.modules)

world = world_around(rehearsal_of(TONIGHT, Notes(), start_utc_ms=1_951_155_600_000))
daemon = build(studio_of(TONIGHT, Manner(), 30.0), world, Path(sys.argv[1]), port=0, notifier=Notifier(""), begin=begin)
print(daemon.watchkeeper.now().sequence > 0, "spyhole_web" in sys.modules)
daemon.lifecycle.stop()
"""


def ours(threads: set[threading.Thread]) -> list[threading.Thread]:
    """But for those that a page's own loop begins when somebody asks, and ends when it likes."""
    return [thread for thread in threads if not thread.name.startswith(("AnyIO", "asyncio_"))]


def test_a_reading_travels_from_the_registers_to_the_page_and_the_record(puffin: Any, tmp_path: Path) -> None:
    running = puffin()
    running.pace(600)
    running.start()
    running.until(lambda: running.daemon.sampler._beat.ticks > 60)
    running.pace(1)
    shown = running.get("/api/now")
    assert shown["kiln"] == "Puffin"
    assert shown["emulated"] is True
    assert [ring["name"] for ring in shown["rings"]] == ["bottom", "middle", "top"]
    assert all(ring["fault"] is None and 5 < ring["celsius"] < 200 for ring in shown["rings"])
    assert shown["firing"]["stage"] == "candling"
    running.stop()
    with open_records(tmp_path) as records:
        assert records.last_sequence("Puffin") > 60


def test_readings_are_taken_before_the_page_is_even_loaded(tmp_path: Path) -> None:
    """A third of a start is the page's, and a kiln that is watched again does not wait for it."""
    words = [sys.executable, "-c", BEGINS, str(tmp_path)]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["1", "False", "True", "True"]


def test_the_page_is_for_this_machine_only(puffin: Any) -> None:
    running = puffin().start()
    assert running.daemon.guest._socket.getsockname()[0] == "127.0.0.1"


def test_a_port_in_use_is_refused_and_everything_is_let_go_of(puffin: Any, tmp_path: Path) -> None:
    first = puffin()
    port = first.daemon.guest.port
    other = tmp_path / "other"
    other.mkdir()
    before = set(threading.enumerate())
    notes = Notes()
    rehearsal = rehearsal_of(TONIGHT, notes, start_utc_ms=LIT_UTC_MS)
    studio = studio_of(TONIGHT, Manner(), 30.0)
    with pytest.raises(Refusal, match=f"port {port}: the page cannot be served there"):
        build(studio, world_around(rehearsal), other, port=port, notifier=Notifier(""))
    assert ours(set(threading.enumerate()) - before) == []
    again = build(
        studio,
        world_around(rehearsal_of(TONIGHT, notes, start_utc_ms=LIT_UTC_MS)),
        other,
        port=0,
        notifier=Notifier(""),
    )
    again.lifecycle.stop()


def test_a_record_that_another_daemon_writes_is_refused(puffin: Any, tmp_path: Path) -> None:
    puffin()
    with pytest.raises(Refusal, match="another spyhole"):
        puffin()


def test_stopping_is_quick_and_may_be_asked_for_twice_though_a_page_is_open(puffin: Any) -> None:
    running = puffin().start()
    running.until(running.serves)
    reader = HTTPConnection("127.0.0.1", running.daemon.guest.port, timeout=60)
    reader.request("GET", "/api/live")
    assert reader.getresponse().status == 200
    began = time.monotonic()
    running.stop()
    running.stop()
    assert time.monotonic() - began < 120, "of a stream that would go on for ever"
    reader.close()


def test_sampling_goes_on_when_the_page_dies_and_the_page_comes_back(puffin: Any) -> None:
    running = puffin().start()
    guest = running.daemon.guest
    running.until(running.serves)
    first = guest._thread
    guest._server.should_exit = True
    guest._end_streams()
    first.join(240)
    assert not first.is_alive()
    ticks = running.daemon.sampler._beat.ticks
    running.until(lambda: running.daemon.sampler._beat.ticks > ticks + 20)
    running.until(lambda: guest._thread is not first and running.serves())
    assert running.get("/api/now")["kiln"] == "Puffin"
    running.until(lambda: running.daemon.watchkeeper.now().conditions == ())


def test_nothing_of_the_daemon_stays_behind(puffin: Any) -> None:
    before = set(threading.enumerate())
    running = puffin().start()
    names = {t.name.split(" ")[0] for t in set(threading.enumerate()) - before}
    assert {"sampler", "page", "record"} <= names
    assert len(set(threading.enumerate()) - before) <= 6
    running.stop()
    assert ours(set(threading.enumerate()) - before) == []


def test_a_half_built_daemon_that_recovers_goes_on_where_it_stopped(puffin: Any) -> None:
    first = puffin().start()
    first.until(lambda: first.daemon.sampler._beat.ticks > 100)
    first.stop()
    state = first.daemon.watchkeeper.keeping.state
    second = puffin()
    again = second.daemon.watchkeeper.keeping.state
    assert second.daemon.watchkeeper.recovered_rows == 0
    assert again.firing == state.firing
    assert again.sequence == state.sequence + 1
    assert second.rehearsal.now().monotonic_ms >= first.rehearsal.now().monotonic_ms
