"""Fault 1: a real `kill -9` of a process that writes, again and again on one record: nothing committed is lost.

SIGKILL proves what SQLite and the transactions keep, not what the card keeps when the power goes.
"""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from spyhole.core.journal import Acknowledgement
from spyhole.store.archive import open_records

SEED = 20311030
KILLS = 200

# Forks a writer for each line it is given, so that the imports are paid once. A writer says its pid, then the last
# sequence each time the record says it is on the disk; when it is dead its parent says by which signal.
WRITERS = r"""
import os, sys, time
from pathlib import Path
from spyhole.core.journal import Acknowledgement, Row
from spyhole.core.outcome import PromptOutcome
from spyhole.core.reading import ProbeReading, Reading
from spyhole.services.archive import Batch, Checkpoint, Message, Step
from spyhole.store.archive import open_archive

def say(line):
    os.write(1, line)  # whole or not at all, which print does not promise

def write_for_ever(folder):
    say(b"%d\n" % os.getpid())
    archive = open_archive(folder, seconds=time.monotonic, tell=lambda code, words: os._exit(1))
    sequence = archive.last_sequence("Puffin")
    while True:
        steps = []
        for sequence in range(sequence + 1, sequence + 8):
            act = sequence % 5 == 0
            told = Acknowledgement(f"a{sequence}", "") if act else Reading((ProbeReading(sequence % 1000 / 128),))
            outcomes = (PromptOutcome(sequence, "turn-due", ()),) if act else ()
            steps.append(Step(Row("Puffin", sequence, "boot", sequence, told), outcomes))
        told = [step.row.sequence for step in steps if step.outcomes]
        archive.put(Batch(
            steps=tuple(steps),
            messages=tuple(Message(str(n), "potter", "", "", urgent=False, created_utc_ms=n) for n in told),
            checkpoint=Checkpoint("Puffin", sequence, 1, os.urandom(9000)),
            urgent=True,
        ))
        if archive.flush(30):
            say(b"%d\n" % sequence)

for line in sys.stdin:
    writer = os.fork()
    if writer == 0:
        write_for_ever(Path(sys.argv[1]))
    _, status = os.waitpid(writer, 0)
    say(b"signal %d\n" % os.WTERMSIG(status))
"""


class Writers:
    def __init__(self, process: subprocess.Popen[str]) -> None:
        assert process.stdin is not None
        assert process.stdout is not None
        self.orders, self.said = process.stdin, process.stdout

    def kill_one(self, after_commits: int, and_seconds: float) -> int:
        """Let one write, kill it once it has reported so many commits and a moment has passed; the last it reported."""
        print("go", file=self.orders, flush=True)
        pid = int(self.said.readline())
        reported = [int(self.said.readline()) for _ in range(after_commits)]
        time.sleep(and_seconds)
        os.kill(pid, signal.SIGKILL)
        # What it managed to say before it died counts too.
        reported += [int(line) for line in iter(self.said.readline, f"signal {signal.SIGKILL:d}\n")]
        return reported[-1]


@pytest.fixture
def writers(tmp_path: Path) -> Iterator[Writers]:
    command = [sys.executable, "-c", WRITERS, tmp_path]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        yield Writers(process)
        process.stdin.close()


def test_fault_1_kill_minus_nine_two_hundred_times_at_random_moments(tmp_path: Path, writers: Writers) -> None:
    moments = random.Random(SEED)
    for _ in range(KILLS):
        reported = writers.kill_one(moments.randrange(1, 6), moments.uniform(0, 0.01))
        with open_records(tmp_path) as records:
            rows = list(records.rows_after("Puffin", 0))
            assert [row.sequence for row in rows] == list(range(1, len(rows) + 1)), "whole and in order"
            assert len(rows) >= reported, "what was reported done is there"
            assert len(rows) % 7 == 0, "a batch is there whole or not at all"
            caused = [row.sequence for row in rows if isinstance(row.told, Acknowledgement)]
            assert [sequence for sequence, _ in records.outcomes_between("Puffin", 1, len(rows))] == caused
            assert [int(pending.message.key) for pending in records.pending_messages()] == caused
            assert records.checkpoints("Puffin")[0].sequence == len(rows), "a recovery has no tail to fold twice"
            assert records.integrity_check() == []
