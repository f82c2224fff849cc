"""What reaches the device below a folder, by the kernel's own count: file system and its journal included."""

import os
import time
from dataclasses import dataclass
from pathlib import Path

SECTOR_BYTES = 512
"""The kernel counts in these, whatever the device's own are (Linux, Documentation/admin-guide/iostats)."""
SECTORS_WRITTEN = 6
QUIET_SECONDS = 30
SHARED = 0.2
"""Others' writing, as a share of ours, from which on a device says more of them than of us."""


@dataclass(frozen=True)
class Device:
    """count: the file that counts. others: bytes a second that went there while nothing of ours ran."""

    count: Path
    others: float

    def written(self) -> int:
        """Bytes since the machine started."""
        return int(self.count.read_text().split()[SECTORS_WRITTEN]) * SECTOR_BYTES

    def ours(self, before: int, seconds: float, own: float) -> float | None:
        """Bytes of ours since `before`; None where others wrote so much that this says nothing. own: our own count."""
        if self.others * seconds > SHARED * own:
            return None
        return self.written() - before - self.others * seconds


def device_of(folder: Path) -> Device | None:
    """The device this folder is on, listened to for a while; None where the machine does not tell."""
    at = folder.stat().st_dev
    count = Path(f"/sys/dev/block/{os.major(at)}:{os.minor(at)}/stat")
    if not count.is_file():
        return None
    quiet = Device(count, 0.0)
    os.sync()  # what waits from before is not others' writing
    before, began = quiet.written(), time.monotonic()
    time.sleep(QUIET_SECONDS)
    return Device(count, (quiet.written() - before) / (time.monotonic() - began))
