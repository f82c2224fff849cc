"""Fault 2: SIGKILL at each step of telling somebody. Nobody is missed, and a repeat carries the same key, one a kill.

A real web service takes the messages; the watch is a process of its own, killed from inside at the very step.
The places are named, not drawn: there is no seed.
"""

import json
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

STEPS = (
    "put before the row is on the disk",
    "the row on the disk, before the attempt",
    "in the attempt, before anything is sent",
    "accepted, and nobody knows yet",
    "noted in memory",
    "noted on the disk",
)

# Forks a watch for each line it is given, which names the step to be killed at. A watch that is not killed ends by
# itself once its courier has nothing left.
WATCHES = r"""
import os, signal, sys, time
from pathlib import Path
from spyhole.app.codec import codec
from spyhole.channels.apprise_channel import AppriseChannel
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.moment import Moment
from spyhole.core.plan import Plan, Stage
from spyhole.core.reading import ProbeReading, Reading
from spyhole.core.words import Manner
from spyhole.services import courier as couriers
from spyhole.services.conditions import Conditions
from spyhole.services.studio import Studio
from spyhole.services.courier import Courier
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import SqlArchive, open_archive
from spyhole.store.writer import Writer

START_UTC_MS = 1_951_155_600_000
FOLDER, URL = Path(sys.argv[1]), sys.argv[2]
JSON = "apprise.plugins.custom_json:NotifyJSON"
couriers.DISK_SECONDS = 60.0  # the steps come in their order, however long this machine's disk takes

class Clock:
    def __init__(self): self.ms = 0
    def now(self): return Moment("boot", self.ms, self.ms + START_UTC_MS, True)

def kill(*_): os.kill(os.getpid(), signal.SIGKILL)

def around(kind, name, before=lambda *a: None, after=lambda *a: None):
    real = getattr(kind, name)
    def wrapped(self, *given, **more):
        before(self, *given)
        made = real(self, *given, **more)
        after(self, *given)
        return made
    setattr(kind, name, wrapped)

def about_to_be_killed(step):
    if step.startswith("put"):
        around(Writer, "_commit", before=lambda w, held: held.messages and kill())
    if step.startswith("the row"):
        around(Courier, "_attempt", before=kill)
    if step.startswith("in the attempt"):
        around(AppriseChannel, "_exchange", before=kill)
    if step.startswith("accepted"):
        around(AppriseChannel, "_exchange", after=kill)
    if step.endswith("in memory"):
        around(SqlArchive, "message_sent", after=kill)
    if step.endswith("noted on the disk"):
        around(Writer, "_commit", after=lambda w, held: held.deliveries and kill())

def watch(step):
    about_to_be_killed(step)
    clock = Clock()
    conditions = Conditions(lambda: clock.now().utc_ms)
    record = open_archive(FOLDER, seconds=time.monotonic, tell=conditions.told)
    last = record.last_sequence("Puffin")
    for row in record.rows_between("Puffin", last, last):
        clock.ms = row.monotonic_ms
    rings = (Ring("bottom", 3100.0), Ring("middle", 2900.0, Probe()), Ring("top", 3000.0))
    high, low = (Switch.HIGH,) * 3, (Switch.LOW,) * 3
    plan = Plan("Bisque", "06", (Stage("low", low, hours=2.0), Stage("high", high, until_cone=True)), 1, "06")
    studio = Studio(Kiln("Puffin", 1290.0, rings), plan, "", "", Manner(), 10.0)
    courier = Courier("studio", AppriseChannel(URL, JSON), record, conditions)
    telling = Telling([courier], told=record.told_keys(1000))
    keeper = Watchkeeper(studio, clock, record, telling, conditions, codec())
    keeper.recover()
    telling.start(record.pending_messages())
    if keeper.keeping.state.firing is None:
        keeper.enter("start", "", "06", "Jo")
        assert record.flush(30)
    while not keeper.keeping.told:
        clock.ms += 10_000
        keeper.take(Reading((ProbeReading(round(min(1000.0, 20 + clock.ms / 60_000 * 18) * 128) / 128),)))
    assert record.flush(30)
    for _ in range(6000):
        if not courier.waiting:
            break
        time.sleep(0.01)
    assert record.flush(30)
    time.sleep(0.1 if step else 0)
    os._exit(0)

for line in sys.stdin:
    child = os.fork()
    if child == 0:
        watch(line.strip())
    _, status = os.waitpid(child, 0)
    print(os.WTERMSIG(status), flush=True)
"""


@pytest.fixture
def taken() -> Iterator[tuple[list[str], int]]:
    """Titles of what a web service has taken, and its port."""
    titles: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            titles.append(json.loads(self.rfile.read(int(self.headers["Content-Length"])))["title"])
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Quiet."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    yield titles, server.server_port
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@pytest.mark.parametrize("step", STEPS)
def test_fault_2_a_kill_at_each_step_misses_nobody_and_repeats_at_most_once(
    step: str, taken: tuple[list[str], int], tmp_path: Path
) -> None:
    titles, port = taken
    command = [sys.executable, "-c", WATCHES, str(tmp_path), f"json://127.0.0.1:{port}/"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as watches:
        assert watches.stdin is not None
        assert watches.stdout is not None
        ends = []
        for line in (step, "", ""):
            print(line, file=watches.stdin, flush=True)
            ends.append(int(watches.stdout.readline()))
        watches.stdin.close()
    assert ends == [9, 0, 0], "killed at the step, and then two runs to their end"
    counted = Counter(titles)
    assert len(counted) == 1, "one trouble, one key"
    ((title, times),) = counted.items()
    assert title.endswith("(a1-0)")
    assert 1 <= times <= 2
    if "accepted" not in step and "memory" not in step:
        assert times == 1
