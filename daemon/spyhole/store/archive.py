"""The record, opened: by the daemon that writes it (`open_archive`) or by a command that reads it (`open_records`)."""

import shutil
import threading
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path

from sqlalchemy import Engine, select
from sqlalchemy.exc import DBAPIError

from spyhole.core.refusal import Refusal
from spyhole.services.archive import Batch, ConditionTold
from spyhole.store import database, tables
from spyhole.store.before import keep_before
from spyhole.store.database import (
    DATABASE,
    FolderLock,
    reading_engine,
    refusing,
    schema_version,
    usable_folder,
    writing_engine,
)
from spyhole.store.held import Delivery, Held, held_of
from spyhole.store.journal_queries import last_sequence
from spyhole.store.migrate import bring_up_to_date
from spyhole.store.quarantine import emptied, set_aside
from spyhole.store.queries import SqlRecords
from spyhole.store.restoring import BESIDE
from spyhole.store.tables import SCHEMA
from spyhole.store.troubles import DAMAGED, UNKEPT, Trouble, begun_anew, trouble_of
from spyhole.store.writer import Pace, Writer


class SqlArchive(SqlRecords):
    """`services.archive.Archive` on a database file."""

    def __init__(
        self, reader: Engine, writer: Writer, last: dict[str, int], closing: ExitStack, *, kept: bool = True
    ) -> None:
        """kept: whether what is committed outlives the machine's power."""
        super().__init__(reader)
        self._kept = kept
        self._writer = writer
        self._last = last  # sequence of the last row taken in, by kiln
        self._door = threading.Lock()
        self._closing = closing

    def put(self, batch: Batch) -> None:
        held = held_of(batch)
        with self._door:
            last = dict(self._last)
            for step in batch.steps:
                row = step.row
                before = last.get(row.kiln)
                if row.sequence < 1 or (before is not None and row.sequence != before + 1):
                    raise ValueError(f"row {row.sequence} of {row.kiln} is out of order: the last was {before}")
                last[row.kiln] = row.sequence
            self._last = last
            self._writer.put(held, urgent=batch.urgent, firing=batch.firing)

    def last_put(self, kiln: str) -> int:
        with self._door:
            return self._last.get(kiln, 0)

    def begin_anew(self) -> None:
        self._writer.begin_anew()

    def flush(self, timeout_seconds: float) -> bool:
        return self._writer.flush(timeout_seconds) and self._kept

    def message_sent(self, key: str, utc_ms: int = 0) -> None:
        self._deliver(Delivery(key, "sent", "", utc_ms))

    def message_failed(self, key: str, error: str, *, give_up: bool = False) -> None:
        self._deliver(Delivery(key, "given-up" if give_up else "pending", error))

    def close(self, timeout_seconds: float) -> bool:
        done = self._writer.stop(timeout_seconds)
        self._closing.close()
        return done

    def _deliver(self, delivery: Delivery) -> None:
        # At once: a message sent and not noted is sent again after a power cut.
        self._writer.put(Held(deliveries=[delivery]), urgent=True, firing=True)


def open_archive(
    folder: Path,
    *,
    seconds: Callable[[], float],
    tell: ConditionTold,
    pace: Pace | None = None,
    lasting: Trouble | None = None,
) -> SqlArchive:
    """The record in this folder, made or brought up to date where needed, locked for this process.

    seconds: the machine's own monotonic clock, also in a rehearsal. tell: see `ConditionTold`. lasting: what stands of
    it from the start on.
    A damaged record is moved aside and a new one begun, which is told of.
    Refusal for a folder that cannot be used, another spyhole writing there, a newer spyhole's or another's database.
    """
    usable_folder(folder)
    lost = emptied(folder)
    with ExitStack() as half_open:
        lock = FolderLock(folder)
        half_open.callback(lock.release)
        shutil.rmtree(folder / BESIDE, ignore_errors=True)  # of a restore that was killed
        engine = writing_engine(folder)
        half_open.callback(engine.dispose)
        reader = reading_engine(folder, beside_writer=True)
        half_open.callback(reader.dispose)

        def renew() -> str:
            engine.dispose()
            reader.dispose()
            aside = set_aside(folder)
            bring_up_to_date(engine, str(folder / DATABASE))
            database.sync_folder(folder)
            return aside

        with refusing(folder):
            aside = renew() if lost else None
            try:
                last = _looked_over(engine, folder)
            except DBAPIError as problem:
                if trouble_of(problem) != DAMAGED:
                    raise
                aside = renew()
                last = {}
        database.grow_log(folder)
        writer = Writer(engine, seconds, tell, pace or Pace(), renew)
        if aside is not None:
            writer.say_lasting(begun_anew(aside))
        if lasting is not None:
            writer.say_lasting(lasting)
        return SqlArchive(reader, writer, last, half_open.pop_all(), kept=lasting != UNKEPT)


def _looked_over(engine: Engine, folder: Path) -> dict[str, int]:
    """The tables brought up to date, and the last sequence of each kiln. What is damaged elsewhere shows when used."""
    bring_up_to_date(engine, str(folder / DATABASE), before=lambda: keep_before(folder, engine))
    database.sync_folder(folder)
    with engine.connect() as connection:
        kilns = connection.execute(select(tables.kiln.c.name, tables.kiln.c.id)).all()
        return {name: last_sequence(connection, number) for name, number in kilns}


def open_records(folder: Path) -> SqlRecords:
    """The record in this folder for reading only, also in the process that writes it; close it, or use it in a `with`.

    Refusal when there is none to read, or a daemon has it open.
    """
    if not (folder / DATABASE).is_file():
        raise Refusal(str(folder), "there is no record here", "name the folder that spyhole watches with")
    with ExitStack() as half_open:
        engine = reading_engine(folder)
        half_open.callback(engine.dispose)
        with refusing(folder):
            version = schema_version(engine, str(folder / DATABASE))
        if version != SCHEMA:
            raise Refusal(
                str(folder / DATABASE),
                f"another version of spyhole wrote this record (its tables are at {version}, this one knows {SCHEMA})",
                "start this version's daemon on it once, or use the version that wrote it",
            )
        half_open.pop_all()
        return SqlRecords(engine)
