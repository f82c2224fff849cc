"""What the installed service costs while it watches a firing: memory, CPU, and what goes to the card."""

import contextlib
import os
import threading
import time
from pathlib import Path

from asking import Page
from box import Box, Outcomes, memory_kib

WARM_SECONDS = int(os.environ.get("WARM", "300"))
MEASURED_SECONDS = int(os.environ.get("MEASURED", "600"))
MEMORY_MIB, CPU_SECONDS, DISK_MIB = 80, 10, 120
BESIDE_MIB = 130
MIB = 1024 * 1024


def prove(box: Box, outcomes: Outcomes) -> None:
    """One line: every process of the service, three probes each second, nobody at the page, the kiln emulated in it."""
    if not (box.root / "opt/spyhole/current").exists():
        box.inside("sh spyhole/systemd/install")
    box.inside("systemctl disable --now spyhole@raku; systemctl stop spyhole")
    # The emulated kiln's own state is no part of a watch: it is kept off the card that is measured.
    kiln = "/var/lib/spyhole/puffin"
    box.inside(f"install -d -o spyhole {kiln}; mount -t tmpfs -o uid=$(id -u spyhole) none {kiln}")
    box.inside("systemctl start spyhole")
    box.answers(60)
    page = Page(box.token(), box.there)
    page.ask("/api/entries", {"kind": "start", "value": "06", "who": "Ruth"})
    time.sleep(WARM_SECONDS)
    process, cpu, written, began = box.pid(), _cpu_seconds(box), _written(box), time.monotonic()
    time.sleep(MEASURED_SECONDS)
    passed = time.monotonic() - began
    cpu = (_cpu_seconds(box) - cpu) / passed * 3_600
    disk = (_written(box) - written) / passed * 86_400 / MIB
    memory = sum(memory_kib(pid) for pid in _processes(box)) / 1024
    well = box.pid() == process and memory <= MEMORY_MIB and cpu <= CPU_SECONDS and disk <= DISK_MIB
    seen = (
        f"{memory:.1f} MiB in {len(_processes(box))} processes, {cpu:.1f} s of CPU an hour, {disk:.0f} MiB written a "
        f"day (its own count), over {passed / 60:.0f} minutes after {WARM_SECONDS // 60}; load {os.getloadavg()[0]:.0f}"
    )
    outcomes.say(f"steady: at most {MEMORY_MIB} MiB, {CPU_SECONDS} s an hour, {DISK_MIB} MiB a day", well, seen)
    _drawing(box, page, outcomes)
    box.inside(f"systemctl stop spyhole; umount {kiln}; systemctl start spyhole")


def _drawing(box: Box, page: Page, outcomes: Outcomes) -> None:
    """The most that watch and child hold together while a report is drawn, looked at as often as this machine lets us.

    It is the one child that a steady watch has: what is foretold and learned is worked out in the watch itself.
    """
    book, kilobytes = page.ask("/api/firings")["firings"], list[float]()
    assert isinstance(book, list)

    def wish() -> None:
        with contextlib.suppress(OSError):
            kilobytes.append(len(page.file(f"/api/firings/{book[0]['id']}/report.pdf")) / 1000)

    asker = threading.Thread(target=wish)
    asker.start()
    most, seen, began = 0, 0, time.monotonic()
    while asker.is_alive():
        with contextlib.suppress(OSError, IndexError):  # a child that has just ended
            # A child that has not begun its own program yet stands in its parent's memory, and is the parent still.
            held = {Path(f"/proc/{pid}/cmdline").read_bytes(): memory_kib(pid) for pid in reversed(_processes(box))}
            most, seen = max(most, sum(held.values())), seen + (len(held) > 1)
        time.sleep(0.05)
    words = (
        f"{most / 1024:.1f} MiB, {seen} looks with a child there in {time.monotonic() - began:.1f} s, a page of "
        f"{sum(kilobytes):.0f} kB; afterwards {memory_kib(box.pid()) / 1024:.1f} MiB"
    )
    well = bool(kilobytes) and seen > 0 and most <= BESIDE_MIB * 1024
    outcomes.say(f"steady, while a report is drawn beside it: at most {BESIDE_MIB} MiB", well, words)


def _processes(box: Box) -> list[int]:
    """The watch and whatever any of its threads began: a child is written down with the thread that began it."""
    found, waiting = [], [box.pid()]
    while waiting:
        pid = waiting.pop()
        found.append(pid)
        for children in Path(f"/proc/{pid}/task").glob("*/children"):
            with contextlib.suppress(OSError):  # a thread that has just ended
                waiting += map(int, children.read_text().split())
    return found


def _cpu_seconds(box: Box) -> float:
    """Of all processes, those that have ended too: in a container systemd itself may be unable to count."""
    after_name = [Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split() for pid in _processes(box)]
    return sum(int(ticks) for fields in after_name for ticks in fields[11:15]) / os.sysconf("SC_CLK_TCK")


def _written(box: Box) -> int:
    """Bytes that its processes sent towards a disk."""
    words = [Path(f"/proc/{pid}/io").read_text() for pid in _processes(box)]
    return sum(int(one.partition("\nwrite_bytes: ")[2].split()[0]) for one in words)
