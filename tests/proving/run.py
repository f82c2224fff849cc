"""Proves the watch on a family of kilns: `.venv/bin/python tests/proving/run.py --healthy 9 --each 1 --seconds 30`.

`--no-entries`, `--one-probe` and `--never-fired` watch the very same firings with less to go by.

Firings are kept by kind, seed and the hash of what makes them (`--firings`), so that a changed engine only watches them
again. Beside them is kept what the firing before taught this engine, a third of the work and the same at any cadence.
Results are kept a line each under the hash of the engine too (`--out`), so that a run goes on where it stopped. A
firing is made once, a reading each 5 s; at 30 s the watch is told every sixth of the same readings.
"""

import argparse
import hashlib
import json
import os
import pickle
import sys
import time
import zlib
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

from earlier import earlier, is_known, lesson
from family import Case
from hearth import Fired, fire
from kinds import HEALTHY, TROUBLES
from report import report
from score import Result, judge, watch
from variants import NEED_ENTRIES, with_one_probe, without_entries

from spyhole.core.learned import Learned

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
CORE = ROOT / "daemon/spyhole/core"
EMULATED = ROOT / "hardware/spyhole_hardware/emulated"
MAKERS = (
    *(HERE / f"{name}.py" for name in ("family", "hearth")),
    *(EMULATED / f"{name}.py" for name in ("thermal", "cone", "probe", "puffin", "timer")),
    *(CORE / f"{name}.py" for name in ("kiln", "plan", "entry", "reading")),
)
TEACHERS = HERE / "earlier.py", HERE / "score.py"


def hash_of(*paths: Path) -> str:
    """Of these files, and of all Python files below these folders."""
    found = hashlib.sha256()
    files = sorted(file for path in paths for file in (path.rglob("*.py") if path.is_dir() else (path,)))
    for path in files:
        found.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes())
    return found.hexdigest()[:16]


def makers() -> str:
    """The hash of what makes firings; what is said of them may change without making them anew."""
    troubles = [(kind, t.stage, t.after, t.minutes, t.where, t.probes, t.plain) for kind, t in TROUBLES.items()]
    return hashlib.sha256(f"{hash_of(*MAKERS)} {HEALTHY} {troubles}".encode()).hexdigest()[:16]


def fired(kind: str, seed: int, folder: Path) -> tuple[Case, Fired]:
    """The firing from the folder, made first where it is not there."""
    found: tuple[Case, Fired] = _kept(folder / f"{kind}-{seed}", lambda: fire(seed, kind))
    return found


def taught(case: Case, folder: Path, less: tuple[str, ...]) -> Learned | None:
    """What the firing before taught this engine, from the folder where it is there; None on a kiln never seen."""
    if "never-fired" in less or not is_known(case):
        return None
    name = "-".join(("lesson", hash_of(CORE, *TEACHERS), *less, case.kind, str(case.seed)))
    found: Learned = _kept(folder / name, lambda: lesson(*earlier(case)))
    return found


def _kept(place: Path, make: Callable[[], object]) -> Any:
    """What is kept in this place, made first where there is nothing."""
    if place.exists():
        return pickle.loads(zlib.decompress(place.read_bytes()))
    found = make()
    part = place.with_suffix(f".{os.getpid()}")
    part.write_bytes(zlib.compress(pickle.dumps(found), 3))
    part.replace(place)
    return found


def one(job: tuple[str, int, int], folder: Path, less: tuple[str, ...] = ()) -> Result:
    """Watch one firing. less: what is withheld, of `no-entries`, `one-probe` and `never-fired`."""
    kind, seed, every = job
    case, found = fired(kind, seed, folder)
    if "no-entries" in less:
        case, found = without_entries(case, found)
    if "one-probe" in less:
        case, found = with_one_probe(case, found)
    learned = taught(case, folder, less)
    return judge(case, found, *watch(case, found, every, learned), every, learned is not None)


def jobs(healthy: int, each: int, seconds: list[int], seed: int, kinds: list[str]) -> list[tuple[str, int, int]]:
    """Healthy kinds in turn, each trouble so many times; a seed is never used twice."""
    found = [(HEALTHY[i % len(HEALTHY)], seed + i) for i in range(healthy)]
    found += [(kind, seed + 10_000 + 100 * n + i) for n, kind in enumerate(TROUBLES) for i in range(each)]
    # Mixed, so that a run cut short is a smaller sample and not another.
    found.sort(key=lambda one: zlib.crc32(f"{one[0]} {one[1]}".encode()))
    return [(k, s, w) for w in seconds for k, s in found if not kinds or k in kinds]


def main() -> None:
    words = argparse.ArgumentParser(description="Prove the watch on a family of emulated kilns.")
    words.add_argument("--healthy", type=int, default=205)
    words.add_argument("--each", type=int, default=5)
    words.add_argument("--seconds", type=int, nargs="+", default=[30, 5], choices=(5, 10, 30))
    words.add_argument("--seed", type=int, help="default: from the hash of the engine")
    words.add_argument("--kinds", nargs="+", default=[], choices=(*HEALTHY, *TROUBLES))
    words.add_argument("--out", type=Path, default=ROOT / "var" / "proving")
    words.add_argument("--firings", type=Path, help="where firings are kept (default: a folder in --out)")
    words.add_argument("--no-entries", action="store_true", help="nothing is written down but the start")
    words.add_argument("--one-probe", action="store_true", help="one probe of all is read")
    words.add_argument("--never-fired", action="store_true", help="the watch sees each kiln for the first time")
    words.add_argument("--minutes", type=float, default=90, help="stop starting firings after so long; go on next time")
    asked = words.parse_args()
    engine = hash_of(CORE)
    seed = asked.seed if asked.seed is not None else int(engine[:6], 16)
    folder = (asked.firings or asked.out / "firings") / makers()
    folder.mkdir(parents=True, exist_ok=True)
    asked.out.mkdir(parents=True, exist_ok=True)
    less = ("no-entries",) * asked.no_entries + ("one-probe",) * asked.one_probe
    less += ("never-fired",) * asked.never_fired
    kept = asked.out / f"{'-'.join((hash_of(CORE, EMULATED, HERE), *less))}.jsonl"
    known: dict[tuple[str, int, int], Result] = {}
    if kept.exists():
        for line in kept.read_text().splitlines():
            key, result = json.loads(line)
            known[tuple(key)] = result
    todo = jobs(asked.healthy, asked.each, asked.seconds, seed, asked.kinds)
    todo = [job for job in todo if not (asked.no_entries and job[0] in NEED_ENTRIES)]
    began = time.monotonic()
    with ProcessPoolExecutor(2) as pool, kept.open("a") as file:
        waiting = {pool.submit(one, job, folder, less): job for job in todo if job not in known}
        for n, done in enumerate(as_completed(waiting), 1):
            if done.cancelled():
                continue
            job = waiting[done]
            known[job] = done.result()
            file.write(json.dumps([job, known[job]]) + "\n")
            file.flush()
            print(f"\r{n} of {len(waiting)}, {(time.monotonic() - began) / n:.1f} s each", end="", file=sys.stderr)
            if time.monotonic() - began > asked.minutes * 60:
                for other in waiting:
                    other.cancel()
    print(file=sys.stderr)
    for every in asked.seconds:
        done_now = [known[job] for job in todo if job[2] == every and job in known]
        of = sum(job[2] == every for job in todo)
        print(
            f"engine {engine}, seed {seed}, a reading each {every} s, {len(done_now)} of {of} firings"
            + "".join(f", {each}" for each in less)
        )
        done_now.sort(key=lambda r: [*HEALTHY, *TROUBLES].index(r["kind"]))
        print(report(done_now))
        print()


if __name__ == "__main__":
    main()
