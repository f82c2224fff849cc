"""A card that takes no writes from the start on: the watch begins all the same, on a copy in memory, and says so.

The copy stands in the folder of memory that systemd makes for the service (RUNTIME_DIRECTORY): it is there again after
a kill, and gone when the machine is switched off. Where there is no such folder, or the record has no room in it, the
start is refused as ever and tried again.
"""

import errno
import logging
import os
import shutil
from pathlib import Path

from spyhole.store.database import DATABASE, LOCK
from spyhole.store.troubles import UNKEPT, Trouble

log = logging.getLogger(__name__)

COPY, PART = "record", "record.part"
SHARE = 0.5
"""Of the room in memory, what a copy may take: the rest is for what comes."""


def place_of(folder: Path, memory: str = "") -> tuple[Path, Trouble | None]:
    """Where the record of this run stands, and what is to be said of it.

    folder: the data folder. memory: what systemd says, "" for nothing.
    """
    memory = memory or os.environ.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    if not memory:
        return folder, None
    copy, part = Path(memory) / COPY, Path(memory) / PART
    if not takes_no_writes(folder):
        if copy.is_dir():
            log.error("the card takes writes again: what was watched in memory meanwhile is in no record")
            shutil.rmtree(copy, ignore_errors=True)
        return folder, None
    if not (folder / DATABASE).is_file():
        return folder, None
    try:
        if not copy.is_dir():
            shutil.rmtree(part, ignore_errors=True)
            wanted = _files(folder)
            if sum(path.stat().st_size for path in wanted) > SHARE * shutil.disk_usage(memory).free:
                log.error("the card takes no writes, and memory has no room for a copy of the record")
                return folder, None
            part.mkdir(mode=0o700)
            for path in wanted:
                shutil.copy2(path, part / path.name)
            part.rename(copy)
    except OSError as error:
        log.warning("the card takes no writes, and no copy of the record could be made (%s)", error.strerror)
        return folder, None
    log.error("the card takes no writes: the watch keeps no record, and goes on in %s", copy)
    return copy, UNKEPT


def takes_no_writes(folder: Path) -> bool:
    """Whether it is read-only. That is tried: of a file system that found an error in itself newer kernels do not say
    so where they list what is mounted."""
    try:
        os.close(os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644))
    except OSError as error:
        return error.errno == errno.EROFS
    return False


def _files(folder: Path) -> list[Path]:
    """The record with its log, the keys and what else is small; no backup, and no record of before."""
    return [
        path
        for path in folder.iterdir()
        if path.is_file() and (path.name in (DATABASE, f"{DATABASE}-wal") or not path.name.startswith(DATABASE))
    ]
