"""Fault 23: a real `kill -9` in the middle of a backup or a restore leaves the old or the new, never something between.

Killed twice over: before every file that is opened, linked, renamed or removed in the folder (an audit hook of
Python's counts them in the process that is to die), and at moments drawn by a seed.
"""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from spyhole.app.backing_up import bring_back
from spyhole.app.commands import main
from spyhole.core.journal import Row
from spyhole.core.reading import ProbeReading, Reading
from spyhole.services.archive import Batch, Step
from spyhole.services.backups import FOLDER
from spyhole.store.archive import open_archive
from spyhole.store.backup import opened, verify
from spyhole.store.database import DATABASE

SEED = 20311030
MOMENTS = 25

# Imports are paid once: each line it is given, a step and a time, forks one that runs the command and is killed before
# its step of that number, or after so many seconds; 0 is never. Says how each ended.
RUNNER = r"""
import os, signal, sys, time
from spyhole.app.commands import main
import spyhole.app.backing_up, alembic.command, alembic.config, alembic.script

folder, command = sys.argv[1], sys.argv[2:]
for line in sys.stdin:
    step, seconds = int(line.split()[0]), float(line.split()[1])
    child = os.fork()
    if child == 0:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        seen = 0
        def count(event, args):
            global seen
            if event in ("open", "os.rename", "os.link", "os.remove", "os.mkdir", "os.rmdir", "sqlite3.connect"):
                if folder in str(args[0]):
                    seen += 1
                    if seen == step:
                        os.kill(os.getpid(), signal.SIGKILL)
        sys.addaudithook(count)
        os._exit(main(command))
    if seconds:
        time.sleep(seconds)
        os.kill(child, signal.SIGKILL)  # not reaped yet: it is this one and no other
    _, status = os.waitpid(child, 0)
    os.write(1, b"%d\n" % (-os.WTERMSIG(status) if os.WIFSIGNALED(status) else os.WEXITSTATUS(status)))
"""


class Runner:
    def __init__(self, folder: Path, *command: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-c", RUNNER, str(folder), *command],
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )

    def killed_before(self, step: int) -> bool:
        """False when the command had no such step and was done."""
        return self._run(f"{step} 0")

    def killed_after(self, seconds: float) -> bool:
        """False when the command was done by then."""
        return self._run(f"0 {seconds}")

    def _run(self, line: str) -> bool:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        print(line, file=self._process.stdin, flush=True)
        code = int(self._process.stdout.readline())
        assert code in (0, -signal.SIGKILL), f"the command ended with {code}"
        return code != 0

    def close(self) -> None:
        self._process.communicate()


def write(data: Path, first: int, last: int) -> None:
    archive = open_archive(data, seconds=time.monotonic, tell=lambda code, words: None)
    rows = (Row("Puffin", n, "boot", n, Reading((ProbeReading(n / 128),))) for n in range(first, last + 1))
    archive.put(Batch(tuple(map(Step, rows))))
    assert archive.flush(30)
    assert archive.close(30)


def readings(data: Path) -> int:
    """How many there are, of a record that is sound."""
    with closing(sqlite3.connect(data / DATABASE)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        count: int = connection.execute("SELECT count(*) FROM reading").fetchone()[0]
        return count


OLD, NEW = 700, 6000


@pytest.fixture
def scene(tmp_path: Path) -> tuple[Path, Path]:
    """A folder with an old record, and a backup of another one."""
    write(tmp_path / "source", 1, NEW)
    assert main(["backup", "--data", str(tmp_path / "source"), "--out", str(tmp_path / "b.zip")]) == 0
    write(tmp_path / "data", 1, OLD)
    return tmp_path / "data", tmp_path / "b.zip"


def check_restored(data: Path) -> str:
    """Old or new; then it is made old again."""
    found = readings(data)
    assert found in (OLD, NEW)
    for aside in data.glob(f"{DATABASE}.before-restore-*"):
        with closing(sqlite3.connect(aside)) as connection:
            assert connection.execute("SELECT count(*) FROM reading").fetchone() == (OLD,)
        if found == NEW:
            os.replace(aside, data / DATABASE)
    assert readings(data) == OLD, "the new one stood there and the old one was gone"
    return "old" if found == OLD else "new"


def test_a_restore_killed_before_each_of_its_steps_leaves_the_old_or_the_new_record(scene: tuple[Path, Path]):
    data, file = scene
    runner = Runner(data, "restore", str(file), "--data", str(data))
    ends = []
    step = 1
    while runner.killed_before(step):
        ends.append(check_restored(data))
        step += 1
    assert check_restored(data) == "new"
    runner.close()
    assert ends == sorted(ends, reverse=True), "once the new one stands it stays"
    assert len(ends) > 15
    assert set(ends) == {"old", "new"}


def test_a_restore_killed_at_any_moment_leaves_the_old_or_the_new_record(scene: tuple[Path, Path]):
    data, file = scene
    runner = Runner(data, "restore", str(file), "--data", str(data))
    whole = 0.0
    for _ in range(2):  # the first waits for imports
        began = time.monotonic()
        assert not runner.killed_before(10_000)
        whole = time.monotonic() - began
        check_restored(data)
    chance = random.Random(SEED)
    killed = 0
    for _ in range(MOMENTS):
        moment = chance.uniform(0, whole)
        if runner.killed_after(moment):
            killed += 1
        else:
            whole = moment  # it takes no longer than that; the machine was busier when it was measured
        check_restored(data)
    runner.close()
    assert killed > MOMENTS / 2
    bring_back(file, data)
    assert readings(data) == NEW


def test_a_backup_killed_before_each_step_or_at_any_moment_is_not_taken_for_one(tmp_path: Path):
    data = tmp_path / "data"
    write(data, 1, NEW)
    assert main(["backup", "--data", str(data)]) == 0
    (good,) = (data / FOLDER).iterdir()
    kept = good.read_bytes()
    runner = Runner(data, "backup", "--data", str(data))
    step = 1
    began = time.monotonic()
    while runner.killed_before(step):
        step += 1
        began = time.monotonic()
    whole = time.monotonic() - began
    assert step > 8
    chance = random.Random(SEED)
    for _ in range(MOMENTS):
        runner.killed_after(chance.uniform(0, whole))
        for file in (data / FOLDER).glob("*.zip"):
            with opened(file) as (manifest, archive):
                verify(archive, manifest, str(file))
        assert good.read_bytes() == kept
        assert readings(data) == NEW
    runner.close()
    assert main(["backup", "--data", str(data)]) == 0
    assert not [path for path in (data / FOLDER).iterdir() if path.suffix != ".zip"], "halves are swept away"
