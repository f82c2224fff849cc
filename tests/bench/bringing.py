"""What backup, restore, export and import cost, by command in a process of its own, as a person runs them."""

import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

from spyhole.app.backing_up import Backups
from spyhole.core.forms.foreign.guess import Said, guess_layout
from spyhole.core.forms.foreign.log import read_log
from spyhole.core.journal import Row
from spyhole.core.reading import ProbeReading, Reading
from spyhole.services.archive import Batch, Step
from spyhole.services.backups import Keep
from spyhole.services.conditions import Conditions
from spyhole.services.importing import Studio, told_rows
from spyhole.store.archive import open_archive
from spyhole.store.imports import put_import
from spyhole.store.location import Location
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

_ASIDE = """
import resource, subprocess, sys
code = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
sys.exit(code)
"""
"""By a small process in between: a child begins with the most memory that whoever started it ever had."""

SPYHOLE = [sys.executable, "-m", "spyhole.app.commands"]
IMPORT_HOURS = 48


@dataclass(frozen=True)
class Spent:
    """By one command. peak_bytes: of memory."""

    seconds: float
    peak_bytes: int


def spent(*arguments: object) -> Spent:
    """Run one command to its end."""
    began = time.monotonic()
    command = [sys.executable, "-c", _ASIDE, *SPYHOLE, *map(str, arguments)]
    done = subprocess.run(command, check=False, stdout=subprocess.PIPE, text=True)
    if done.returncode:
        raise SystemExit(f"spyhole {arguments[0]} failed")
    return Spent(time.monotonic() - began, int(done.stdout) * 1024)


def backup_beside_writer(data: Path) -> tuple[float, float, float]:
    """A nightly backup while readings are committed: its seconds, the longest a commit waited, and without one."""
    archive = open_archive(data, seconds=time.monotonic, tell=lambda code, words: None)
    sequence, waits, alone = archive.last_sequence(KILN.name), [0.0], [0.0]
    probes = (ProbeReading(20.0),) * len(KILN.probe_rings)
    kept = alone
    done = threading.Event()

    def writing() -> None:
        nonlocal sequence
        while not done.wait(0.05):
            sequence += 1
            row = Row(KILN.name, sequence, "bench", sequence, Reading(probes))
            archive.put(Batch(steps=(Step(row),), urgent=True))
            began = time.perf_counter()
            if not archive.flush(10):
                raise SystemExit("the writer was held up")
            kept.append(time.perf_counter() - began)

    backups = Backups(data, Keep(), Conditions(lambda: 0))
    writer = threading.Thread(target=writing)
    writer.start()
    time.sleep(10)
    kept = waits
    began = time.monotonic()
    backups.make()
    passed = time.monotonic() - began
    done.set()
    writer.join()
    archive.close(5)
    return passed, max(waits), max(alone)


def import_rates(file: Path, data: Path) -> tuple[float, float]:
    """Rows a second of this file read and stored; and seconds of the watch's judging afterwards, measured apart."""
    from spyhole.services.importing import conclude

    studio = Studio(KILN, TONIGHT.plan, "", "")
    with Location(data).writing():
        pass  # a studio that imports has a record
    began = time.perf_counter()
    with file.open() as lines:
        layout = guess_layout([next(lines) for _ in range(50)], str(file), KILN, Said())
    with file.open() as lines:
        log = read_log(lines, str(file), layout)
    stored = 0.0

    def note(rows: int) -> None:
        nonlocal stored
        stored = time.perf_counter()

    with Location(data).writing() as engine:
        told = told_rows(studio, log.utc_ms[0], ())
        put_import(engine, KILN.name, told, log.utc_ms, log.columns, lambda rows: conclude(studio, rows), stored=note)
    return len(log.utc_ms) / (stored - began), time.perf_counter() - stored


def write_log(file: Path) -> None:
    """48 h of three rings each second: up, and down again."""
    with file.open("w") as out:
        out.write("time;bottom degC;middle degC;top degC\n")
        for second in range(IMPORT_HOURS * 3600):
            celsius = 20 + min(second, 86_400) * 0.0117 - max(0, second - 86_400) * 0.0115
            day, rest = divmod(second, 86_400)
            clock = f"{rest // 3600:02}:{rest // 60 % 60:02}:{rest % 60:02}"
            out.write(f"2024-10-{day + 28}T{clock}Z;{celsius:.2f};{celsius + 4:.2f};{celsius - 7:.2f}\n")
