"""The record as it was before its tables were changed: kept whole beside it, so that an upgrade can be undone.

Unlike a backup it has every column, secrets too, because it never leaves the folder.
"""

import logging
import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Engine

from spyhole.core.refusal import Refusal
from spyhole.store.database import DATABASE, FolderLock, sync_file, sync_folder
from spyhole.store.restoring import BESIDE, put_in_place

log = logging.getLogger(__name__)

BEFORE = f"{DATABASE}.before-upgrade"
RESERVE_BYTES = 64 * 1024 * 1024


def keep_before(folder: Path, engine: Engine) -> None:
    """Copy the record of this folder, which `engine` has open. Without room it goes on without: a kiln is watched."""
    part = folder / f"{BEFORE}.part"
    part.unlink(missing_ok=True)
    needed = (folder / DATABASE).stat().st_size + RESERVE_BYTES
    if shutil.disk_usage(folder).free < needed:
        log.warning("no room for a copy of the record before its tables change (%d MB); going on without", needed >> 20)
        return
    with closing(engine.raw_connection()) as session, closing(sqlite3.connect(part)) as copy:
        connection = session.driver_connection
        assert isinstance(connection, sqlite3.Connection)
        connection.backup(copy)
    part.chmod(0o600)
    sync_file(part)
    os.replace(part, folder / BEFORE)
    sync_folder(folder)


def put_back(folder: Path) -> str:
    """Have the copy in the record's place again, by one rename; returns the name of the record that was there.

    May be killed and called again. Refusal where there is no copy, or a daemon has the record.
    """
    kept = folder / BEFORE
    if not kept.is_file():
        raise Refusal(str(folder), "there is no record here from before an upgrade", "spyhole restore takes a backup")
    lock = FolderLock(folder)
    try:
        if kept.samefile(folder / DATABASE):  # killed after the rename
            kept.unlink()
            return ""
        beside = folder / BESIDE
        shutil.rmtree(beside, ignore_errors=True)
        beside.mkdir()
        os.link(kept, beside / DATABASE)
        aside = put_in_place(folder, beside)
        kept.unlink()
        shutil.rmtree(beside, ignore_errors=True)
        return aside or ""
    finally:
        lock.release()
