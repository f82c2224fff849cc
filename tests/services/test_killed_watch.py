"""Fault 1: the watch of a firing is killed two hundred times by SIGKILL. No committed row is lost, and what stands and
what counts down is as if nothing had happened: each time the state equals the fold of every row there is.

The kiln overheats early on, so alarms stand, latch and are acknowledged through most of the kills. How soon sampling
goes on is shown as a count: rows folded before it is. `make bench` has the seconds.
"""

import hashlib
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from spyhole.app.codec import codec
from spyhole.core.journal import Acknowledgement
from spyhole.services import keeping as fold
from spyhole.store.archive import open_records

SEED = 20311102
KILLS = 200
TICKS_A_MINUTE = 6

# Forks a watch for each line it is given, so that the imports are paid once. A watch says its pid, its state after the
# recovery as "state SEQUENCE FOLDED STANDING HASH", then the last sequence each time it is on the disk.
WATCHES = r"""
import hashlib, os, sys, threading, time
from pathlib import Path
from spyhole.app.codec import codec
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.moment import Moment
from spyhole.core.plan import Plan, Stage
from spyhole.core.reading import ProbeReading, Reading
from spyhole.core.words import Manner
from spyhole.services.conditions import Conditions
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import open_archive

START_UTC_MS = 1_951_155_600_000

class Clock:
    def __init__(self): self.ms = 0
    def now(self): return Moment("boot", self.ms, self.ms + START_UTC_MS, True)

def say(line):
    os.write(1, line.encode() + b"\n")

def celsius(ms):
    minutes = ms / 60_000
    return round((20 + min(1000.0, max(0.0, minutes - 2) * 18)) * 128) / 128

def watch(folder):
    say(str(os.getpid()))
    clock = Clock()
    conditions = Conditions(lambda: clock.now().utc_ms)
    record = open_archive(folder, seconds=time.monotonic, tell=conditions.told)
    last = record.last_sequence("Puffin")
    for row in record.rows_between("Puffin", last, last):
        clock.ms = row.monotonic_ms
    rings = (Ring("bottom", 3100.0), Ring("middle", 2900.0, Probe()), Ring("top", 3000.0))
    high, low = (Switch.HIGH,) * 3, (Switch.LOW,) * 3
    plan = Plan("Bisque", "06", (Stage("low", low, hours=2.0), Stage("high", high, until_cone=True)), 1, "06")
    studio = Studio(Kiln("Puffin", 1290.0, rings), plan, "", "", Manner(), 10.0)
    keeper = Watchkeeper(studio, clock, record, Telling(()), conditions, codec())
    folded = keeper.recover()
    record.flush(30)
    state = keeper.keeping.state
    mark = hashlib.sha256(codec().freeze(keeper.keeping)).hexdigest()
    say(f"state {state.sequence} {folded} {len(state.alarms.alarms)} {mark}")
    if state.firing is None:
        keeper.enter("start", "", "06", "Jo")
    while True:
        for _ in range(6):
            clock.ms += 10_000
            keeper.take(Reading((ProbeReading(celsius(clock.ms)),)))
        for alarm in keeper.now().alarms:
            if not alarm.acknowledged:
                keeper.acknowledge(alarm.episode, "Jo")
        if record.flush(30):
            say(str(keeper.keeping.state.sequence))

for line in sys.stdin:
    child = os.fork()
    if child == 0:
        watch(Path(sys.argv[1]))
    _, status = os.waitpid(child, 0)
    say(f"signal {os.WTERMSIG(status)}")
"""


def test_fault_1_two_hundred_kills_change_nothing_in_what_stands_and_what_counts_down(tmp_path: Path) -> None:
    moments = random.Random(SEED)
    keeping, followed, reported, stood = fold.begin(), 0, 0, 0
    command = [sys.executable, "-c", WATCHES, tmp_path]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as watches:
        assert watches.stdin is not None
        assert watches.stdout is not None
        for _ in range(KILLS):
            print("go", file=watches.stdin, flush=True)
            pid = int(watches.stdout.readline())
            _, sequence, folded, standing, mark = watches.stdout.readline().split()
            said = [int(watches.stdout.readline()) for _ in range(moments.randrange(1, 4))]
            time.sleep(moments.uniform(0, 0.01))
            os.kill(pid, signal.SIGKILL)
            said += [int(line) for line in iter(watches.stdout.readline, f"signal {signal.SIGKILL:d}\n")]
            assert int(sequence) > reported or not reported, "no row that was called committed is lost"
            assert int(folded) <= 2 * TICKS_A_MINUTE, "a minute's rows are all that comes before sampling"
            stood += int(standing) > 0
            reported = said[-1]
            with open_records(tmp_path) as records:
                rows = list(records.rows_after("Puffin", followed))
                assert [row.sequence for row in rows] == list(range(followed + 1, followed + 1 + len(rows)))
                assert rows[-1].sequence >= reported
                assert records.integrity_check() == []
            for row in rows:
                keeping, _ = fold.keep(keeping, row)
                if row.sequence == int(sequence):
                    assert hashlib.sha256(codec().freeze(keeping)).hexdigest() == mark, "as the fold of every row"
            followed = rows[-1].sequence
        watches.stdin.close()
    assert stood > KILLS // 2, "alarms stood through most of them"
    with open_records(tmp_path) as records:
        assert any(isinstance(row.told, Acknowledgement) for row in records.rows_after("Puffin", 0))
