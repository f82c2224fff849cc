"""Backups: each night in the daemon, and `spyhole backup` and `spyhole restore`.

While a daemon has the record nobody else can read it, so the command asks the daemon, which makes the backup in a
thread of its own; the command waits for it, and copies it where it was wanted.
"""

import logging
import os
import shutil
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from spyhole.app.clock import MachineClock
from spyhole.app.hatch import Given, ask
from spyhole.app.replay import on_terminal
from spyhole.core.refusal import Refusal
from spyhole.services.archive import ArchiveTrouble
from spyhole.services.backups import FOLDER, BackupsView, BackupView, Keep, backup_name, let_go, made_utc_ms
from spyhole.services.conditions import BACKUP, Conditions
from spyhole.store.backup import PART, BackupStopped, back_up
from spyhole.store.database import DATABASE, FolderLock, refusing, sync_folder
from spyhole.store.restoring import restore

log = logging.getLogger(__name__)

ACT = "backup"
BEGIN, ASK = "begin", "ask"
BETWEEN_PIECES_SECONDS = 0.01
"""Between two pieces, for whoever else wants the processor and the card."""

ASK_AGAIN_SECONDS = 0.3


class Backups:
    """Those of a running daemon. data: its folder. utc_ms: the machine's wall clock, in a rehearsal too."""

    def __init__(
        self,
        data: Path,
        keep: Keep,
        conditions: Conditions,
        utc_ms: Callable[[], int] = lambda: MachineClock().now().utc_ms,
    ) -> None:
        self._data = data
        self._folder = data / FOLDER
        self._keep = keep
        self._conditions = conditions
        self._utc_ms = utc_ms
        self._leaving = threading.Event()
        self._one = threading.Lock()
        self._asked: threading.Thread | None = None
        self._answer: str | ArchiveTrouble = ""

    def nightly(self) -> None:
        """A new backup; where there is none the condition says so, and the next night tries again."""
        try:
            log.info("backup: %s", self.make())
        except ArchiveTrouble as trouble:
            log.warning("no backup: %s", trouble)

    def make(self) -> Path:
        """A new backup, and those that need not stay are gone. ArchiveTrouble, and a condition, when there is none."""
        with self._one:
            try:
                made = _make(self._data, self._utc_ms(), beside_writer=True, pause=self._pause)
            except BackupStopped:
                raise
            except ArchiveTrouble as trouble:
                self._conditions.set(BACKUP, str(trouble))
                raise
            self._conditions.clear(BACKUP)
            prune(made, self._keep)
            return made

    def asked(self, given: Given) -> str:
        """For the command: begin one, or say whether it is done: "" while it is not, then its name. Refusal."""
        if given.get("do") == BEGIN and (self._asked is None or not self._asked.is_alive()):
            self._answer = ""
            self._asked = threading.Thread(target=self._for_somebody, name="backup", daemon=True)
            self._asked.start()
        if isinstance(self._answer, ArchiveTrouble):
            raise Refusal("backup", str(self._answer))
        return self._answer

    def begin(self) -> None:
        """For the page: make one now, unless one is being made."""
        with suppress(Refusal):
            self.asked({"do": BEGIN})

    def view(self) -> BackupsView:
        """For the page: those there are."""
        ours = [(made_utc_ms(path.name), path) for path in self._folder.glob("*.zip")]
        dated = sorted((made, path) for made, path in ours if made is not None)
        newest = None
        if dated:
            with suppress(OSError):
                newest = BackupView(dated[-1][1].name, dated[-1][0], dated[-1][1].stat().st_size)
        trouble = str(self._answer) if isinstance(self._answer, ArchiveTrouble) else ""
        return BackupsView(newest, len(dated), self._asked is not None and self._asked.is_alive(), trouble)

    def stop(self) -> None:
        """Leave one that is under way."""
        self._leaving.set()
        if self._asked is not None:
            self._asked.join(5.0)

    def _for_somebody(self) -> None:
        try:
            self._answer = str(self.make())
        except ArchiveTrouble as trouble:
            self._answer = trouble
        except Exception as error:
            log.exception("the backup failed")
            self._answer = ArchiveTrouble(f"It failed ({type(error).__name__}); the log says why.")

    def _pause(self) -> None:
        if self._leaving.wait(BETWEEN_PIECES_SECONDS):
            raise BackupStopped("spyhole is ending, and left the backup it was making.")


def _make(data: Path, utc_ms: int, *, beside_writer: bool = False, pause: Callable[[], None] = lambda: None) -> Path:
    """A backup under a name of its own; halves of earlier ones that were killed are gone."""
    folder = data / FOLDER
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
        for half in folder.glob(f"*{PART}"):
            half.unlink()
    except OSError as error:
        raise ArchiveTrouble(f"Backups cannot be kept in {folder} ({error.strerror}).") from None
    while (out := folder / backup_name(utc_ms)).exists():
        utc_ms += 1000
    back_up(data, out, made_utc_ms=utc_ms, spyhole=_version(), beside_writer=beside_writer, pause=pause)
    return out


def prune(made: Path, keep: Keep) -> None:
    """Let go of those beside this new one that need not stay."""
    for name in let_go((path.name for path in made.parent.iterdir()), keep, made.name):
        (made.parent / name).unlink(missing_ok=True)
    sync_folder(made.parent)


def backup(data: Path, out: Path | None, *, elsewhere: bool = False) -> int:
    """`spyhole backup`. elsewhere: the record stands on a server. Refusal."""
    if elsewhere:
        raise Refusal(
            "backup", "this record stands on a database server, which makes its own backups",
            "pg_dump makes one, or: spyhole export",
        )  # fmt: skip
    if not (data / DATABASE).is_file():
        raise Refusal(str(data), "there is no record here", "name the folder that spyhole watches with")
    if out is not None and out.is_dir():
        raise Refusal(str(out), "this is a folder", f"name the file: {out / backup_name(0)}")
    try:
        made = _by_daemon(data)
        if made is None:
            made = _alone(data, out)
        elif out is not None:
            made = _copied(made, out)
    except ArchiveTrouble as trouble:
        raise Refusal("backup", str(trouble)) from None
    print(f"{made}: {made.stat().st_size / 1e6:.1f} MB, read back and found whole.")
    print("Addresses of people's channels are not in it: after a restore give them again (spyhole people).")
    return 0


def _by_daemon(data: Path) -> Path | None:
    said = ask(data, ACT, {"do": BEGIN})
    while said == "":
        time.sleep(ASK_AGAIN_SECONDS)
        said = ask(data, ACT, {"do": ASK})
        if said is None:
            raise Refusal(str(data), "spyhole ended while it made the backup", "ask again")
    return None if said is None else Path(said)


def _alone(data: Path, out: Path | None) -> Path:
    lock = FolderLock(data)  # no daemon begins meanwhile
    try:
        with refusing(data):
            utc_ms = MachineClock().now().utc_ms
            if out is None:
                return _make(data, utc_ms)
            back_up(data, out, made_utc_ms=utc_ms, spyhole=_version())
            return out
    finally:
        lock.release()


def _copied(made: Path, out: Path) -> Path:
    """Where it was wanted: there whole or not at all."""
    part = out.with_name(out.name + PART)
    try:
        shutil.copyfile(made, part)
        os.replace(part, out)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise Refusal(str(out), f"it cannot be copied there ({error.strerror})", f"it is kept as {made}") from None
    return out


def bring_back(file: Path, data: Path) -> int:
    """`spyhole restore`. Refusal, and nothing changed."""
    restored = restore(file, data, on_terminal("{} rows"))
    manifest = restored.manifest
    print(f"{data / DATABASE}: the record of {manifest.made}, {manifest.rows:,} rows, verified.")
    if restored.aside is not None:
        print(f"The record that was there is kept as {restored.aside}; delete it when you are sure.")
    if restored.ways:
        whose = ", ".join(f"{person}: {channel}" for person, channel in restored.ways)
        print(f"Addresses are secrets and in no backup. Give them again (spyhole people), and test each: {whose}.")
    else:
        print("Addresses are secrets and in no backup; nobody had one.")
    return 0


def _version() -> str:
    try:
        return version("spyhole")
    except PackageNotFoundError:
        return "0"
