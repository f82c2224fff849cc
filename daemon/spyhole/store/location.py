"""Where a record stands: in a file of the data folder, or in a database on a server where the settings name one."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import URL, Engine
from sqlalchemy.exc import DBAPIError

from spyhole.core.refusal import Refusal
from spyhole.services.archive import ConditionTold
from spyhole.store.archive import SqlArchive, open_archive, open_records
from spyhole.store.before import keep_before
from spyhole.store.database import (
    DATABASE,
    FolderLock,
    refusing,
    schema_version,
    upkeep_engine,
    usable_folder,
    writing_engine,
)
from spyhole.store.migrate import bring_up_to_date
from spyhole.store.queries import SqlRecords
from spyhole.store.tables import SCHEMA
from spyhole.store.troubles import Trouble
from spyhole.store.upkeep import Upkeep
from spyhole.store.writer import Pace


@dataclass(frozen=True, slots=True)
class Location:
    """folder: the data folder. url: of a database on a server (`server.server_url`); None is a file in the folder."""

    folder: Path
    url: URL | None = None

    @property
    def name(self) -> str:
        """For a person: the file, or the address without its secret."""
        return str(self.folder / DATABASE) if self.url is None else self.url.render_as_string(hide_password=True)

    def upgrade(self) -> tuple[str | None, str]:
        """Bring the tables to this version's, as an opening does; returns what they were at and what they are at."""
        if self.url is None:
            usable_folder(self.folder)
            with refusing(self.folder), _locked(self.folder):
                engine = writing_engine(self.folder)
                return _upgraded(engine, self.name, lambda: keep_before(self.folder, engine))
        from spyhole.store import server

        with server.refusing(self.url):
            return _upgraded(server.writing_engine(self.url), self.name)

    @property
    def is_due(self) -> bool:
        """Whether an opening would make or change tables in a file. False also where that cannot be said."""
        file = self.folder / DATABASE
        if self.url is not None or not file.exists():
            return self.url is None
        engine = upkeep_engine(self.folder)  # a reader alone would leave an index of the log on the card
        try:
            return file.stat().st_size > 0 and schema_version(engine, self.name) != SCHEMA
        except (OSError, Refusal, DBAPIError):
            return False
        finally:
            engine.dispose()

    def open(
        self,
        *,
        seconds: Callable[[], float],
        tell: ConditionTold,
        pace: Pace | None = None,
        lasting: Trouble | None = None,
    ) -> SqlArchive:
        """For the daemon; see `archive.open_archive`."""
        if self.url is None:
            return open_archive(self.folder, seconds=seconds, tell=tell, pace=pace, lasting=lasting)
        # Only who has a server needs this.
        from spyhole.store.server import open_server_archive

        return open_server_archive(self.url, seconds=seconds, tell=tell, pace=pace)

    @contextmanager
    def writing(self) -> Iterator[Engine]:
        """For a command that writes: nobody else does meanwhile. Refusal where a daemon has the record."""
        if self.url is None:
            usable_folder(self.folder)
            engine = writing_engine(self.folder)
            with refusing(self.folder), _locked(self.folder), _current(engine, self.name):
                yield engine
            return
        from spyhole.store import server

        engine = server.writing_engine(self.url)
        with server.refusing(self.url), _current(engine, self.name):
            yield engine

    def read(self) -> SqlRecords:
        """For a command; see `archive.open_records`."""
        if self.url is None:
            return open_records(self.folder)
        from spyhole.store.server import open_server_records

        return open_server_records(self.url)

    def upkeep(self, pause: Callable[[], None]) -> Upkeep:
        """What is done beside the daemon's writer, in its process."""
        url = self.url
        if url is None:
            return Upkeep(lambda: upkeep_engine(self.folder), pause)
        from spyhole.store import server

        return Upkeep(lambda: server.upkeep_engine(url), pause)


@contextmanager
def _current(engine: Engine, name: str) -> Iterator[None]:
    try:
        bring_up_to_date(engine, name)
        yield
    finally:
        engine.dispose()


def _upgraded(engine: Engine, name: str, keep: Callable[[], None] = lambda: None) -> tuple[str | None, str]:
    try:
        before = schema_version(engine, name)
        bring_up_to_date(engine, name, before=keep)
    finally:
        engine.dispose()
    return before, SCHEMA


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """While the tables change, nobody else writes."""
    lock = FolderLock(folder)
    try:
        yield
    finally:
        lock.release()


def location_of(folder: Path, address: str) -> Location:
    """As the settings say. Refusal, which never shows it, for an address that cannot be one."""
    if not address:
        return Location(folder)
    from spyhole.store.server import server_url

    return Location(folder, server_url(address, "database, url"))
