"""Where things are on the machine, and how the machine is asked to do something."""

import fcntl
import os
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from spyhole.core.refusal import Refusal

USER = "spyhole"
PORT = 8420
FIRST = "spyhole"
"""The unit of the first kiln; a further one is `spyhole@NAME`."""


@dataclass(frozen=True, slots=True)
class House:
    """root: of the file system; another one in tests."""

    root: Path = Path("/")

    @property
    def opt(self) -> Path:
        """The program."""
        return self.root / "opt/spyhole"

    @property
    def versions(self) -> Path:
        """A folder a version."""
        return self.opt / "versions"

    @property
    def current(self) -> Path:
        """A link to the version in service."""
        return self.opt / "current"

    @property
    def settings(self) -> Path:
        """Of the first kiln; a folder in it for each further one."""
        return self.root / "etc/spyhole"

    @property
    def data(self) -> Path:
        """The record of the first kiln; a folder in it for each further one."""
        return self.root / "var/lib/spyhole"

    @property
    def units(self) -> Path:
        """Where this machine's own units are."""
        return self.root / "etc/systemd/system"

    @property
    def wanted(self) -> Path:
        """What is started with the machine."""
        return self.units / "multi-user.target.wants"

    @property
    def command(self) -> Path:
        """What somebody types."""
        return self.root / "usr/local/bin/spyhole"

    def kilns(self) -> tuple[str, ...]:
        """Units of the kilns that are started with the machine: the first one's, then the others'."""
        names = sorted(path.name.removesuffix(".service") for path in self.wanted.glob("spyhole*.service"))
        return tuple(name for name in names if name == FIRST or name.startswith(f"{FIRST}@"))

    def config(self, unit: str) -> Path:
        """The settings file of a kiln's unit."""
        return self.settings / unit.partition("@")[2] / "spyhole.toml"

    def data_of(self, unit: str) -> Path:
        """The data folder of a kiln, as its settings have it."""
        config = self.config(unit)
        told = _table(config).get("data")
        return config.parent / told if isinstance(told, str) else self.data / unit.partition("@")[2]

    def page(self, unit: str) -> tuple[str, int]:
        """Host and port by which this machine reaches the kiln's page."""
        table = _table(self.config(unit))
        listen, port = table.get("listen", ""), table.get("port", PORT)
        host = listen if isinstance(listen, str) and listen not in ("", "0.0.0.0") else "127.0.0.1"  # noqa: S104
        return host, port if isinstance(port, int) else PORT


def _table(config: Path) -> dict[str, object]:
    """What a settings file says; nothing where it cannot be read, which the watch itself will say better."""
    try:
        return tomllib.loads(config.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError):
        return {}


def say(words: str) -> None:
    """A line for whoever looks on, at once."""
    print(f"spyhole: {words}", flush=True)


def run(*command: str | Path, what: str) -> None:
    """Refusal, with what the command said, when it fails. what: what is wanted, for a person."""
    done = _said(command)
    if done.returncode != 0:
        last = "\n    ".join(done.stdout.strip().splitlines()[-15:])
        raise Refusal(what, f"{Path(command[0]).name} said:\n    {last}", "mend that and run this again")


def asked(*command: str | Path) -> tuple[int, str]:
    """Exit code and what was said."""
    done = _said(command)
    return done.returncode, done.stdout.strip()


def _said(command: tuple[str | Path, ...]) -> subprocess.CompletedProcess[str]:
    words = [str(part) for part in command]
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    out, err = subprocess.PIPE, subprocess.STDOUT
    return subprocess.run(words, check=False, text=True, stdout=out, stderr=err, env=environment)  # noqa: S603


def as_user(*command: str | Path) -> tuple[str | Path, ...]:
    """The same, by the daemon's own user: what is written in its folders stays its own."""
    return ("runuser", "-u", USER, "--", *command)


def sync(folder: Path) -> None:
    """Have the card know which files there are."""
    opened = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def write(path: Path, text: str, mode: int = 0o644) -> None:
    """The file whole or as it was, and on the card. Untouched where it says that already."""
    if path.is_file() and path.read_text() == text:
        return
    part = path.with_name(f".{path.name}.part")
    with part.open("w") as file:
        os.fchmod(file.fileno(), mode)
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    os.replace(part, path)
    sync(path.parent)


def link(path: Path, target: str) -> None:
    """A link to this target, by one rename. Untouched where it is that already."""
    if path.is_symlink() and os.readlink(path) == target:
        return
    part = path.with_name(f".{path.name}.part")
    part.unlink(missing_ok=True)
    part.symlink_to(target)
    os.replace(part, path)
    sync(path.parent)


@contextmanager
def alone(house: House, *, wait: bool = False) -> Iterator[None]:
    """One change at a time; who is killed lets go. Refusal, or with `wait` a wait, while another is at work."""
    lock = os.open(house.opt / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        yield
    except BlockingIOError:
        raise Refusal(str(house.opt), "another installer is at work here", "wait until it is done") from None
    finally:
        os.close(lock)


def need_root() -> None:
    """Refusal for anybody else."""
    if os.geteuid() != 0:
        raise Refusal("appliance", "this changes the machine and needs root", f"sudo {' '.join(sys.argv)}")
