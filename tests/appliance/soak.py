"""Three days in fast time on the installed program: what it holds after one day and after three (fault 24)."""

import contextlib
import os
import signal
import time
from pathlib import Path

from box import Box, Outcomes, memory_kib, until

SOAK_HOURS = 72


def soak(box: Box, outcomes: Outcomes) -> None:
    """The installed program on an emulated kiln in fast time, three days: what it holds after one and after three."""
    box.inside("systemctl stop spyhole; rm -rf /srv/soak; install -d -o spyhole /srv/soak")
    at_work = box.begin(
        "exec runuser -u spyhole -- /opt/spyhole/current/bin/spyhole rehearse --data /srv/soak --speed 3600 "
        "--sample-seconds 30 --earlier 0 --fresh"
    )
    asks = (
        "import json, urllib.request as u; print(json.load(u.urlopen('http://127.0.0.1:8420/api/now'))['now_utc_ms'])"
    )

    def hour() -> float:
        code, said = box.inside(f'python3 -c "{asks}"')
        return int(said) / 3_600_000 if code == 0 else 0.0

    until(60, lambda: hour() > 0)
    begun, held, now = hour(), {}, 0.0
    pid = next((_pid(path) for path in Path("/proc").glob("[0-9]*/cmdline") if _soaks(path)), 0)
    while now < SOAK_HOURS and at_work.poll() is None:
        time.sleep(2)
        now = hour() - begun
        for wanted in (24, SOAK_HOURS):
            if now >= wanted and wanted not in held:
                held[wanted] = (memory_kib(pid), len(list(Path(f"/proc/{pid}/fd").iterdir())))
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, signal.SIGTERM)
    at_work.wait(30)
    box.inside("systemctl start spyhole")
    if set(held) != {24, SOAK_HOURS}:
        outcomes.say("24  three days in fast time", False, f"it came to hour {now:.0f}")
        return
    (early, few), (late, many) = held[24], held[SOAK_HOURS]
    well = late < early * 1.05 and many <= few + 1
    outcomes.say("24  three days in fast time", well, f"{early >> 10} MiB after a day, {late >> 10} after three; "
                 f"{few} and {many} descriptors")  # fmt: skip


def _pid(path: Path) -> int:
    return int(path.parent.name)


def _soaks(path: Path) -> bool:
    try:
        words = path.read_bytes().split(b"\0")
    except OSError:
        return False
    return b"/srv/soak" in words and b"rehearse" in words and b"python" in words[0]
