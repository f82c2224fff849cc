"""A real record, that can be closed and opened again, with what it told of its conditions.

`file_record` is a file of SQLite's in a folder of its own; `server_record` stands on a PostgreSQL server that the tests
make, start and throw away (`.ci/setup test` installs Debian's `postgresql`); `any_record` is each in turn.
A module's `record` is the file, unless it says otherwise.
"""

import os
import runpy
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from itertools import count
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import URL, make_url

from spyhole.core.journal import Row, Told
from spyhole.core.outcome import Action, AlarmOutcome, Priority
from spyhole.core.reading import ProbeReading, Reading
from spyhole.services.archive import Step
from spyhole.store.archive import SqlArchive, open_archive
from spyhole.store.server import open_server_archive
from spyhole.store.writer import Pace

free_port: Callable[[], int] = runpy.run_path(str(Path(__file__).parents[1] / "ports.py"))["free_port"]

SLOW = Pace(firing_seconds=1e6, idle_seconds=1e6, retry_seconds=0.02)
"""Nothing is committed on its own: what is found on the disk was urgent or was asked for."""


class Record:
    """The record of one test. url: where it stands on a server; None is a file in the folder."""

    def __init__(self, folder: Path, url: URL | None = None) -> None:
        self.folder = folder
        self.url = url
        self.told: list[tuple[str, str | None]] = []
        self._open = ExitStack()

    def open(self, pace: Pace = SLOW, tell: Callable[[str, str | None], None] | None = None) -> SqlArchive:
        tell = tell or (lambda *what: self.told.append(what))
        if self.url is not None:
            archive = open_server_archive(self.url, seconds=time.monotonic, tell=tell, pace=pace)
        else:
            archive = open_archive(self.folder, seconds=time.monotonic, tell=tell, pace=pace)
        self._open.callback(archive.close, 30)
        return archive

    def close(self) -> None:
        self._open.close()

    @staticmethod
    def until(true: Callable[[], bool]) -> None:
        """Wait for something the writer's thread does; two minutes are more than any of it takes on a busy machine."""
        deadline = time.monotonic() + 120
        while not true():
            assert time.monotonic() < deadline
            time.sleep(0.005)

    @staticmethod
    def reading(sequence: int, told: Told | None = None, boot: str = "first", kiln: str = "Puffin") -> Row:
        """Row number `sequence`, a second after the one before; a reading of three probes unless something is told."""
        if told is None:
            told = Reading(tuple(ProbeReading(20.0 + sequence / 128 + probe, None, 25.5) for probe in range(3)))
        return Row(kiln, sequence, boot, sequence * 1000, told)

    @classmethod
    def steps(cls, first: int, last: int, kiln: str = "Puffin") -> tuple[Step, ...]:
        return tuple(Step(cls.reading(sequence, kiln=kiln)) for sequence in range(first, last + 1))

    @staticmethod
    def alarm(episode: str = "a1") -> AlarmOutcome:
        return AlarmOutcome(
            0,
            episode,
            "stall",
            "top",
            Priority.MEDIUM,
            Action.RAISE,
            tell=True,
            facts=(("climb", 12.5), ("cone", "05")),
        )


@pytest.fixture
def file_record(tmp_path: Path) -> Iterator[Record]:
    record = Record(tmp_path)
    yield record
    record.close()


@pytest.fixture
def server_record(server: "Server", tmp_path: Path) -> Iterator[Record]:
    url = server.database()
    record = Record(tmp_path, url)
    yield record
    record.close()
    server.drop(url)


@pytest.fixture(params=["file", "server"])
def any_record(request: pytest.FixtureRequest) -> Record:
    record: Record = request.getfixturevalue(f"{request.param}_record")
    return record


@pytest.fixture
def record(file_record: Record) -> Record:
    return file_record


USER = "postgres"


class Server:
    """One server. stop and start are those of a server that goes away and comes back."""

    until = staticmethod(Record.until)

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._programs = max(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda path: int(path.parent.name))
        self._numbers = count(1)
        self.port = free_port()
        if os.getuid() == 0:
            shutil.chown(folder, USER)
        self._run(
            "initdb", "-D", str(folder / "data"), "-U", USER, "-A", "trust", "-E", "UTF8", "--no-sync", "--locale=C"
        )
        with (folder / "data" / "postgresql.conf").open("a") as settings:
            settings.write(f"port = {self.port}\nlisten_addresses = '127.0.0.1'\n")
            settings.write(f"unix_socket_directories = '{folder}'\nshared_buffers = 16MB\nmax_connections = 40\n")
            settings.write("fsync = off\n")  # a server that is killed loses nothing by it, and no power goes here

    def start(self) -> None:
        self._run("pg_ctl", "-D", str(self._folder / "data"), "-w", "-l", str(self._folder / "log"), "start")

    def stop(self, how: str = "fast") -> None:
        self._run("pg_ctl", "-D", str(self._folder / "data"), "-w", "-m", how, "stop")

    def database(self) -> URL:
        """A new, empty database."""
        name = f"clay_room_{next(self._numbers)}"
        with self.session() as session:
            session.execute(f"CREATE DATABASE {name}")  # type: ignore[call-overload]
        return make_url(f"postgresql+psycopg://{USER}@127.0.0.1:{self.port}/{name}")

    def drop(self, url: URL) -> None:
        with self.session() as session:
            session.execute(f"DROP DATABASE {url.database} WITH (FORCE)")  # type: ignore[call-overload]

    def session(self, database: str = USER) -> "psycopg.Connection[tuple[object, ...]]":
        return psycopg.connect(host="127.0.0.1", port=self.port, user=USER, dbname=database, autocommit=True)

    def _run(self, program: str, *arguments: str) -> None:
        command = [str(self._programs / program), *arguments]
        if os.getuid() == 0:
            command = ["runuser", "-u", USER, "--", *command]
        done = subprocess.run(
            command, cwd=self._folder, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
            check=False, timeout=400,
        )  # fmt: skip
        assert done.returncode == 0, f"{program}: {done.stderr.decode(errors='replace')}"


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A running server, gone afterwards."""
    # Not in pytest's own folder, which is closed to other users.
    folder = Path(tempfile.mkdtemp(prefix="spyhole-server-", dir="/var/tmp"))
    try:
        ours = Server(folder)
        ours.start()
        try:
            yield ours
        finally:
            ours.stop("immediate")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
