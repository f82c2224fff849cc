"""`kill -9` of a whole rehearsal at random moments of an overfire: it resumes, and says and knows what one never
killed does. The moments are drawn from a stated seed; the machine decides what was under way just then.
"""

import json
import os
import random
import select
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from statistics import median

import pytest

from spyhole.core import watch
from spyhole.core.outcome import Action, AlarmOutcome, EstimateOutcome, PromptOutcome
from spyhole.store.archive import open_records

SEED = 20311030
GAP = "watch-gap"
KILLS = 20
LIT = "2031-10-30T19:40:00Z"
END_MS = 17 * 3_600_000
"""Kiln time to compare at: the shut-off has jammed, and the guard cone is over."""


def spyhole(folder: Path, tell: str, speed: int = 3600) -> subprocess.Popen[str]:
    options = ["--speed", str(speed), "--earlier", "0", "--lit", LIT, "--port", "0", "--trouble", "shutoff-jams"]
    command = [sys.executable, "-m", "spyhole.app.commands", "rehearse", "--data", str(folder), "--tell", tell]
    return subprocess.Popen([*command, *options], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)


def wait_for(process: subprocess.Popen[str], words: str, seconds: float = 600.0) -> None:
    assert process.stdout is not None
    deadline, said = time.monotonic() + seconds, ""
    while words not in said:
        assert time.monotonic() < deadline, said
        assert process.poll() is None or select.select([process.stdout], [], [], 0)[0], said
        if select.select([process.stdout], [], [], 0.1)[0]:
            said += os.read(process.stdout.fileno(), 4096).decode()


def kiln_ms(folder: Path) -> int:
    """How far the emulated kiln has come, by the state it saves each tick."""
    ms: int = json.loads((folder / "puffin" / "state.json").read_text())["ms"]
    return ms


def finish(process: subprocess.Popen[str], folder: Path) -> None:
    wait_for(process, "the page is")
    deadline = time.monotonic() + 900
    while kiln_ms(folder) < END_MS:
        assert time.monotonic() < deadline
        assert process.poll() is None
        time.sleep(0.05)
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=240)
    assert process.returncode == 0


def folded(folder: Path) -> tuple[list[tuple[str, int]], dict[int, float], set[str]]:
    """Up to the end: tags raised with their episodes, the firing cone's heat work at each estimate, and what there
    was to tell of, by episode or prompt.
    """
    state, tags, progress, subjects = watch.begin(), [], {}, set()
    with open_records(folder) as records:
        rows = [row for row in records.rows_after("Puffin", 0) if row.monotonic_ms <= END_MS]
    for row in rows:
        state, outcomes = watch.step(state, row)
        for o in outcomes:
            if isinstance(o, AlarmOutcome) and o.action is Action.RAISE:
                if o.tag != GAP:
                    tags.append((o.tag, o.episode))
                    subjects.add(o.episode)
            elif isinstance(o, PromptOutcome):
                subjects.add(f"p{row.sequence}")
            elif isinstance(o, EstimateOutcome) and o.cone_progress is not None:
                progress[o.utc_ms] = o.cone_progress
    # Numbered afresh: that readings were missing while it was down is an episode of its own.
    numbers = {episode: n for n, episode in enumerate(dict.fromkeys(episode for _, episode in tags))}
    return [(tag, numbers[episode]) for tag, episode in tags], progress, subjects


def told_of(titles: list[str], folder: Path, subjects: set[str]) -> set[str]:
    """What was told of these, without keys: what comes again until somebody answers is one. A message that the last
    stop held up is in the record for the next start, and not lost.
    """
    with open_records(folder) as records:
        titles = [*titles, *(one.message.title for one in records.pending_messages())]
    keyed = [title.removesuffix(")").rpartition(" (") for title in titles]
    return {what for what, _, key in keyed if key.partition("-")[0] in subjects}


@pytest.fixture
def receiver() -> Iterator[tuple[str, list[str]]]:
    titles: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            titles.append(json.loads(self.rfile.read(int(self.headers["Content-Length"])))["title"])
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Quiet."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, args=(0.05,))
    thread.start()
    yield f"json://127.0.0.1:{server.server_port}/", titles
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.mark.timeout(3600)
def test_twenty_kills_change_nothing(tmp_path: Path, receiver: tuple[str, list[str]]) -> None:
    tell, titles = receiver
    whole, killed = tmp_path / "whole", tmp_path / "killed"
    first = spyhole(whole, tell, speed=60)
    wait_for(first, "the page is")
    first.kill()
    first.communicate()
    # What the first one told already, the turn that is due when a rehearsal opens, was told in both.
    in_both = list(titles)
    shutil.copytree(whole, killed, ignore=shutil.ignore_patterns("hatch"))

    finish(spyhole(whole, tell), whole)
    told_whole = list(titles)
    titles[:] = in_both

    moments = random.Random(SEED)
    committed = 0
    for _ in range(KILLS):
        process = spyhole(killed, tell)
        wait_for(process, "the page is")
        time.sleep(moments.uniform(0.0, 0.45))
        process.kill()
        process.communicate()
        with open_records(killed) as records:
            there = records.last_sequence("Puffin")
            assert there >= committed, "a committed row was lost"
            committed = there
            assert records.integrity_check() == []
    last = spyhole(killed, tell)
    finish(last, killed)

    with open_records(killed) as records:
        sequences = [row.sequence for row in records.rows_after("Puffin", 0)]
    assert sequences == list(range(1, len(sequences) + 1))
    tags, progress, subjects = folded(killed)
    tags_whole, progress_whole, subjects_whole = folded(whole)
    assert tags == tags_whole != []
    assert len(told_whole) <= len(set(told_whole)) + 1, "a kill repeats a message at most once, under its own key"
    assert told_of(titles, killed, subjects) == told_of(told_whole, whole, subjects_whole) != set()
    assert len(titles) <= len(set(titles)) + KILLS + 1

    # In fast time a start takes minutes of the kiln's, on a busy machine many; they are bridged by a straight line.
    # Near the end a cone works 0.01 in six seconds, and a kill can put a minute's estimate some seconds later: one
    # that differs by more is told from heat work that is lost, which would differ from then on at every one.
    near = [instant for instant, alpha in progress_whole.items() if 0.01 < alpha < 1.0 and instant in progress]
    assert len(near) > 20
    apart = [abs(progress[instant] - progress_whole[instant]) for instant in near]
    assert median(apart) <= 0.01
    assert max(apart) <= 0.1
