"""What a watch costs on this machine, against the goals: `make bench`, or with --long for ten minutes of watching.

The kiln is emulated, in the same process as the watch, so memory and CPU contain it; nobody looks at the page. The
emulated kiln's own state file is kept off the disk that is measured.
Exits 1 past a budget.
"""

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from dataclasses import dataclass
from pathlib import Path

import bringing
import ten_years
from device import Device, device_of

from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.forms.readings_csv import header_line, reading_line
from spyhole.core.journal import Row
from spyhole.core.moment import utc_text
from spyhole.core.reading import ProbeReading, Reading, to_chip_step
from spyhole.services.archive import Batch, Step
from spyhole.store.archive import open_archive
from spyhole.store.database import DATABASE
from spyhole.store.location import Location
from spyhole_hardware.emulated.puffin import BUILD, KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal

HERE = Path(__file__).parent
SPYHOLE = [sys.executable, "-m", "spyhole.app.commands"]
MIB = 1024 * 1024
DAY_SECONDS = 86_400
HOUR_SECONDS = 3_600
REPLAY_HOURS = 48
LIT_UTC_MS = 1_951_155_600_000
CROSSINGS = 10
TURNING_SECONDS = 6
MEMORY = Path("/dev/shm")


@dataclass(frozen=True)
class Figure:
    """One line. budget: the most it may be, or the least where `least`."""

    name: str
    value: float
    unit: str
    budget: float
    least: bool = False

    @property
    def kept(self) -> bool:
        return self.value >= self.budget if self.least else self.value <= self.budget

    def __str__(self) -> str:
        bound = "at least" if self.least else "at most"
        verdict = "" if self.kept else "   PAST THE BUDGET"
        return f"{self.name:<44}{self.value:>12.4g} {self.unit:<12}{bound} {self.budget:g}{verdict}"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    names = ("watching", "crossings", "recovering", "replay", "decade", "importing")
    parser.add_argument("--only", choices=names, help="one part")
    parser.add_argument("--long", action="store_true", help="watch for ten minutes before and while measuring")
    wish = parser.parse_args()
    warm, measured = (600, 600) if wish.long else (30, 300)
    print(
        f"on {os.cpu_count()} cores, Python {sys.version.split()[0]}; watching for {measured} s after {warm} s",
        flush=True,
    )
    figures: list[Figure] = []
    with tempfile.TemporaryDirectory(prefix="bench-", dir=scratch()) as folder:
        parts = {
            "watching": lambda: watching(Path(folder), warm, measured),
            "crossings": crossings,
            "recovering": lambda: recovering(Path(folder)),
            "replay": lambda: replay(Path(folder)),
            "decade": lambda: decade(Path(folder)),
            "importing": lambda: importing(Path(folder)),
        }
        for part in parts.values() if wish.only is None else (parts[wish.only],):
            for figure in part():
                figures.append(figure)
                print(figure, flush=True)
    return 0 if all(figure.kept for figure in figures) else 1


def scratch() -> Path:
    """On the disk the checkout is on, where git does not look."""
    folder = HERE.parents[1] / "var"
    folder.mkdir(exist_ok=True)
    return folder


def watching(folder: Path, warm: float, measured: float) -> list[Figure]:
    """Puffin on high at speed 1, three probes each second, one recipient, the record on this disk."""
    data = folder / "record"
    aside = Path(tempfile.mkdtemp(dir=MEMORY if MEMORY.is_dir() else None))
    data.mkdir()
    (data / "puffin").symlink_to(aside)
    options = ["--data", str(data), "--speed", "1", "--sample-seconds", "1", "--port", "0"]
    tell = ["--tell", "json://127.0.0.1:9/"]
    # Filling the record leaves memory behind that a watch never had: that is done by another process, which also
    # brings the kiln past the keeper's turn to high and the entries that belong to it.
    seeded = start([*options, "--speed", "120"])
    time.sleep(TURNING_SECONDS)
    stop(seeded)
    device = device_of(data)
    process = start([*options, *tell])
    address = process.address
    try:
        time.sleep(warm)
        before, written, began = cpu_seconds(process.pid), bytes_written(process.pid), time.monotonic()
        reached = 0 if device is None else device.written()
        time.sleep(measured)
        passed = time.monotonic() - began
        cpu = (cpu_seconds(process.pid) - before) / passed * HOUR_SECONDS
        own = float(bytes_written(process.pid) - written)
        by_device = None if device is None else device.ours(reached, passed, own)
        memory = pss(process.pid) / MIB
        curve = curve_ms(address)
    finally:
        stop(process)
    print(f"  {counted(device, by_device)}", flush=True)
    disk = (own if by_device is None else by_device) / passed * DAY_SECONDS / MIB
    return [
        Figure("memory, all processes (PSS)", memory, "MiB", 80),
        Figure("CPU while firing", cpu, "s an hour", 10),
        Figure("written to disk while firing", disk, "MiB a day", 120),
        Figure("curve of the night for the page, median", curve, "ms", 12),
    ]


def counted(device: Device | None, by_device: float | None) -> str:
    """Who counted what was written."""
    if device is None:
        return "this machine does not tell what reaches the device: the process's own count is judged"
    if by_device is None:
        return "other work writes to this device: the process's own count is judged"
    return "what was written is counted at the device"


class Running:
    """A `spyhole rehearse`, or another command, whose page answers."""

    def __init__(self, options: list[str], command: str = "rehearse") -> None:
        self.process = subprocess.Popen(
            [*SPYHOLE, command, *options], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        self.pid = self.process.pid
        assert self.process.stdout is not None
        said = ""
        for line in self.process.stdout:
            said += line
            if "the page is " in line:
                self.address = line.split("the page is ")[1].strip()
                return
        raise SystemExit(f"the rehearsal did not start:\n{said}")


def start(options: list[str]) -> Running:
    return Running(options)


def stop(running: Running) -> None:
    running.process.terminate()
    running.process.communicate(timeout=30)


def family(pid: int) -> list[int]:
    """This process and its children."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [pid, *(grandchild for child in children for grandchild in family(int(child)))]


def pss(pid: int) -> int:
    total = 0
    for one in family(pid):
        for line in Path(f"/proc/{one}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                total += int(line.split()[1]) * 1024
    return total


def cpu_seconds(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return sum(int(fields[n]) for n in (11, 12, 13, 14)) / os.sysconf("SC_CLK_TCK")


def bytes_written(pid: int) -> int:
    """What this process sent towards a disk, by its own count."""
    for line in Path(f"/proc/{pid}/io").read_text().splitlines():
        if line.startswith("write_bytes:"):
            return int(line.split()[1])
    return 0


def curve_ms(address: str) -> float:
    return statistics.median(answers_ms(address, "/api/curve"))


def answers_ms(address: str, path: str, times: int = 20) -> list[float]:
    """What each of so many questions of the page takes."""
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        with urllib.request.urlopen(f"{address.replace('localhost', '127.0.0.1')}{path}") as answer:
            answer.read()
        taken.append((time.perf_counter() - began) * 1000)
    return taken


def crossings() -> list[Figure]:
    """Ten alarms, each in a daemon of its own, from the end of the conversion to a web service on loopback.

    And the readings of a minute while such a service hangs.
    """
    taken = []
    for _ in range(CROSSINGS):
        done = subprocess.run([sys.executable, HERE / "crossing.py"], capture_output=True, text=True, check=True)
        taken.append(float(json.loads(done.stdout)))
    stalled = subprocess.run([sys.executable, HERE / "stalling.py"], capture_output=True, text=True, check=True)
    return [
        Figure("sampling jitter while a channel hangs", float(json.loads(stalled.stdout)), "ms", 100),
        Figure("crossing to webhook, median", statistics.median(taken), "s", 0.6),
        Figure(f"crossing to webhook, longest of {CROSSINGS}", max(taken), "s", 1.1),
    ]


def recovering(folder: Path) -> list[Figure]:
    """A start after 48 hours of firing with no checkpoint that fits, in a process of its own."""
    done = subprocess.run([sys.executable, HERE / "recovering.py", folder], capture_output=True, text=True, check=True)
    took = json.loads(done.stdout)
    return [
        Figure("start after 48 h, no checkpoint: sampling", took["sampling"], "s", 5),
        Figure("start after 48 h, no checkpoint: alarms", took["alarms"], "s", 10),
    ]


def replay(folder: Path) -> list[Figure]:
    """48 hours of three rings each second, from lighting to long after unloading."""
    notes: list[tuple[int, str, str, str]] = []
    kiln = Rehearsal(
        KILN,
        BUILD,
        TONIGHT,
        start_utc_ms=LIT_UTC_MS,
        log=lambda kind, subject, value: notes.append((kiln.now().utc_ms, kind, subject, value)),
    )
    files = {name: folder / name for name in ("friday.csv", "notes.csv", "puffin.toml", "bisque-05.toml")}
    files["puffin.toml"].write_text(kiln_to_toml(KILN))
    files["bisque-05.toml"].write_text(plan_to_toml(TONIGHT.plan, KILN))
    with files["friday.csv"].open("w") as out:
        out.write(f"{header_line(KILN)}\n")
        for second in range(REPLAY_HOURS * HOUR_SECONDS):
            kiln.wait_until(second * 1000)
            probes = (ProbeReading(to_chip_step(kiln.probe_celsius(ring))) for ring in KILN.probe_rings)
            out.write(f"{reading_line(kiln.now().utc_ms, Reading(tuple(probes)))}\n")
    with files["notes.csv"].open("w") as out:
        out.write("time,kind,subject,value\n")
        out.writelines(f"{utc_text(at)},{kind},{subject},{value}\n" for at, kind, subject, value in notes)
    named = ["--kiln", files["puffin.toml"], "--plan", files["bisque-05.toml"], "--entries", files["notes.csv"]]
    command = [*SPYHOLE, "replay", files["friday.csv"], *named, "--out", folder / "said.jsonl"]
    began = time.monotonic()
    process = subprocess.Popen(command)
    _, status, used = os.wait4(process.pid, 0)
    passed = time.monotonic() - began
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit("the replay failed")
    return [
        Figure(f"replay of {REPLAY_HOURS} h, 1 Hz, three rings", passed, "s", 30),
        Figure("replay", REPLAY_HOURS * HOUR_SECONDS / passed, "rows a s", 5_760, least=True),
        Figure("replay, most memory", peak_bytes(used) / MIB, "MiB", 150),
    ]


def decade(folder: Path) -> list[Figure]:
    """Ten years of three firings a week: how large the record is, and whether anybody has to wait for it."""
    home = folder / "decade"
    home.mkdir()
    (home / "puffin.toml").write_text(kiln_to_toml(KILN))
    (home / "bisque-05.toml").write_text(plan_to_toml(TONIGHT.plan, KILN))
    made = ten_years.make(home / "long")
    size = (home / "long" / DATABASE).stat().st_size
    print(f"  {made.firings} firings, {made.minutes} minutes, {made.readings} readings", flush=True)
    begins = {name: begin_seconds(home, name, f"/api/curve?firing={made.quick_firing}") for name in ("short", "long")}
    pieces, total = forget_seconds(home / "long", made.now_utc_ms)
    curve, first_page, late_page, sheet, care, use, use_again, before_lighting = begins["long"][1:]
    beside, waited, waited_alone = bringing.backup_beside_writer(home / "long")
    print(f"  a commit without a backup waited at most {waited_alone * 1000:.0f} ms", flush=True)
    backup = bringing.spent("backup", "--data", home / "long", "--out", home / "ten.zip")
    restored = bringing.spent("restore", home / "ten.zip", "--data", home / "again")
    exported = bringing.spent("export", "--data", home / "long", "--out", home / "all.zip")
    print(f"  a firing is {exported.seconds / made.firings:.2f} s of the export", flush=True)
    return [
        Figure("ten years: nightly backup beside the writer", beside, "s", 900),
        Figure("ten years: longest wait of a commit beside it", waited * 1000, "ms", 250),
        Figure("ten years: backup by command", backup.seconds, "s", 120),
        Figure("ten years: backup, most memory", backup.peak_bytes / MIB, "MiB", 100),
        Figure("ten years: the backup", (home / "ten.zip").stat().st_size / 1e9, "GB", 0.3),
        Figure("ten years: restore", restored.seconds, "s", 600),
        Figure("ten years: restore, most memory", restored.peak_bytes / MIB, "MiB", 150),
        Figure("ten years: export of everything", exported.seconds, "s", 1800),
        Figure("ten years: export, most memory", exported.peak_bytes / MIB, "MiB", 150),
        Figure("ten years: the database", size / 1e9, "GB", 1),
        Figure("ten years: page of the kiln book, longest", first_page, "ms", 50),
        Figure("ten years: page in its middle, longest", late_page, "ms", 50),
        Figure("ten years: curve of 24 h, three rings, median", curve, "ms", 12),
        Figure("ten years: report of a firing, longest of 5", sheet / 1000, "s", 2),
        Figure("ten years: care of the kiln, longest of 5", care / 1000, "s", 1),
        Figure("ten years: what is offered before lighting, longest of 5", before_lighting / 1000, "s", 1),
        Figure("ten years: use by person, 200 firings, the first time", use / 1000, "s", 10),
        Figure("ten years: the same again, longest of 5", use_again, "ms", 50),
        Figure("ten years: the same by the command", command_seconds(home, made.quick_firing), "s", 2),
        Figure("ten years: start-up, longer than with none", begins["long"][0] - begins["short"][0], "s", 1),
        Figure("ten years: letting a day of readings go", total, "s", 30),
        Figure("ten years: longest wait for the one who writes", max(pieces) * 1000, "ms", 250),
    ]


def importing(folder: Path) -> list[Figure]:
    """48 hours of another logger, each second, three rings: read and stored; judging it is counted apart."""
    bringing.write_log(folder / "old.csv")
    rate, judged = bringing.import_rates(folder / "old.csv", folder / "imported")
    return [
        Figure("import, read and stored", rate, "rows a s", 150_000, least=True),
        Figure("import, judged by the watch afterwards", judged, "s", 60),
    ]


def command_seconds(home: Path, firing: int) -> float:
    """`spyhole report`, from its start to the file, on a record no daemon has."""
    command = [*SPYHOLE, "report", str(firing), "--out", home / "firing.pdf", "--data", home / "long"]
    began = time.monotonic()
    subprocess.run(command, check=True, capture_output=True)
    return time.monotonic() - began


def begin_seconds(home: Path, data: str, curve: str) -> tuple[float, ...]:
    """Seconds until the page answers; median ms of a curve, longest of the kiln book's first page and a middle one, of
    a report, of the kiln's care, of use by person the first time and again, and of what is offered before lighting."""
    settings = home / f"{data}.toml"
    lines = 'kiln = "puffin.toml"\nplan = "bisque-05.toml"\ndriver = "emulated"\nmains_hertz = 50\nport = 0\n'
    settings.write_text(f'{lines}data = "{data}"\n')
    (home / data).mkdir(exist_ok=True)
    began = time.monotonic()
    running = Running(["--config", str(settings)], "watch")
    try:
        while not answers(running.address):
            time.sleep(0.01)
        passed = time.monotonic() - began
        if data == "short":
            return (passed, *[0.0] * 8)
        firing = curve.rsplit("=", 1)[1]
        page = f"/api/firings?newest=50&before={firing}"
        return (
            passed,
            statistics.median(answers_ms(running.address, curve)),
            max(answers_ms(running.address, "/api/firings")),
            max(answers_ms(running.address, page)),
            max(answers_ms(running.address, f"/api/firings/{firing}/report.pdf", 5)),
            max(answers_ms(running.address, "/api/care", 5)),
            *answers_ms(running.address, "/api/use?days=3660", 1),
            max(answers_ms(running.address, "/api/use?days=3660", 5)),
            max(answers_ms(running.address, "/api/start", 5)),
        )
    finally:
        stop(running)


def answers(address: str) -> bool:
    try:
        return bool(answers_ms(address, "/api/now", 1))
    except OSError:
        return False


def forget_seconds(data: Path, now_utc_ms: int) -> tuple[list[float], float]:
    """A day of readings is let go beside a writer that commits all the while: what its commits wait, and the whole."""
    archive = open_archive(data, seconds=time.monotonic, tell=lambda code, words: None)
    sequence, waits = archive.last_sequence(KILN.name), []
    probes = (ProbeReading(20.0),) * len(KILN.probe_rings)

    def write() -> None:
        nonlocal sequence
        sequence += 1
        archive.put(Batch(steps=(Step(Row(KILN.name, sequence, "bench", sequence, Reading(probes))),), urgent=True))
        began = time.perf_counter()
        if not archive.flush(10):
            raise SystemExit("the writer was held up")
        waits.append(time.perf_counter() - began)

    done = threading.Event()

    def writing() -> None:
        while not done.wait(0.05):
            write()

    writer = threading.Thread(target=writing)
    writer.start()
    began = time.monotonic()
    gone = Location(data).upkeep(lambda: time.sleep(0.1)).forget_readings(60, now_utc_ms)
    passed = time.monotonic() - began
    done.set()
    writer.join()
    archive.close(5)
    if not 80_000 < gone < 100_000:
        raise SystemExit(f"{gone} readings were let go where a day of them is too old")
    return waits, passed


def peak_bytes(used: resource.struct_rusage) -> int:
    """Linux counts kibibytes. A child starts with its parent's figure until it has loaded its own program."""
    return used.ru_maxrss * 1024


if __name__ == "__main__":
    sys.exit(main())
