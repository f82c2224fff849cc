"""A damaged record is moved aside, whole and for whoever can mend it, and never written to again."""

import os
from pathlib import Path

from spyhole.store.database import DATABASE, LOCK, sync_folder

_PARTS = ("", "-wal", "-shm")


def emptied(folder: Path) -> bool:
    """Whether the database has no byte left though a spyhole wrote here before. Asked before the folder is locked."""
    database, lock = folder / DATABASE, folder / LOCK
    return database.is_file() and not database.stat().st_size and lock.is_file() and bool(lock.stat().st_size)


def set_aside(folder: Path) -> str:
    """Move the database and its log to names of their own; returns the database's. No connection may be open.

    The log goes first: a database without its log is an older record, a log without its database would spoil the new.
    """
    number = 1
    while (folder / f"{DATABASE}.damaged-{number}").exists() or (folder / f"{DATABASE}.damaged-{number}-wal").exists():
        number += 1
    aside = f"{DATABASE}.damaged-{number}"
    for part in reversed(_PARTS):
        if (folder / f"{DATABASE}{part}").exists():
            os.replace(folder / f"{DATABASE}{part}", folder / f"{aside}{part}")
    sync_folder(folder)
    return aside
