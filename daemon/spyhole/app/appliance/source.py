"""Where a version comes from: a checkout, or a wheel, which has all it needs but the libraries."""

import hashlib
import platform
import shutil
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from spyhole.app.appliance.house import House, asked, run, say, write
from spyhole.core.refusal import Refusal

LOCK = "requirements-pi.txt"
"""Run-time libraries by hash; whole, and without what the amplifier's driver asks for and never needs."""

BUILD_LOCK = "requirements-build.txt"
"""What builds the one library that comes as source, the reader of a Pi's bus: else pip brings it without a hash."""

UNITS = (
    "spyhole.service",
    "spyhole-settle.service",
    "spyhole-settle.path",
    "spyhole-selftest.service",
    "spyhole-selftest.timer",
)
OTHERS = ("spyhole.sysusers.conf", "60-spyhole.rules", "60-spyhole-journal.conf", "first.toml", "puffin.toml",
          "bisque-06.toml", "spyhole.example.toml")  # fmt: skip
BUILT_FROM = ("daemon/spyhole", "hardware/spyhole_hardware", "web/spyhole_web", "systemd", "web/hatch_build.py",
              "web/package.json", "web/package-lock.json", "pyproject.toml", LOCK, BUILD_LOCK)  # fmt: skip
WHOLE = "whole"
"""A file that is written last: a version without it was never finished."""


@dataclass(frozen=True, slots=True)
class Source:
    """place: the checkout's folder, or the wheel. version: its number. id: the same for the same content."""

    place: Path
    version: str
    id: str

    @property
    def is_wheel(self) -> bool:
        """Whether nothing has to be built."""
        return self.place.is_file()

    def text(self, name: str) -> str:
        """One of UNITS, OTHERS, or the locks."""
        if self.is_wheel:
            import zipfile

            with zipfile.ZipFile(self.place) as wheel:
                return wheel.read(f"spyhole/app/appliance/files/{name}").decode()
        return (self.place / name if name in (LOCK, BUILD_LOCK) else self.place / "systemd" / name).read_text()


def source_here() -> Source:
    """What this very program was started from. Refusal where that is a version in service."""
    for folder in Path(__file__).parents:
        if folder.is_file():
            return source_of(folder)
        if (folder / "pyproject.toml").is_file() and (folder / "systemd/install").is_file():
            return source_of(folder)
    raise Refusal(
        "install", "there is nothing here to install from", "name a wheel, or run systemd/install in a checkout"
    )


def source_of(place: Path) -> Source:
    """A checkout's folder or a wheel. Refusal for anything else."""
    place = place.resolve()
    digest = hashlib.sha256(f"{sys.version_info[:2]}{platform.machine()}".encode())
    if place.is_file() and place.suffix == ".whl":
        digest.update(place.read_bytes())
        version = place.name.split("-")[1]
    elif (place / "pyproject.toml").is_file():
        for path in _files(place):
            digest.update(f"\n{path.relative_to(place)}\n".encode())
            digest.update(path.read_bytes())
        version = str(tomllib.loads((place / "pyproject.toml").read_text())["project"]["version"])
    else:
        raise Refusal(str(place), "this is neither a wheel of spyhole nor a checkout", "name the .whl file")
    return Source(place, version, f"{version}-{digest.hexdigest()[:12]}")


def _files(checkout: Path) -> Iterator[Path]:
    for name in BUILT_FROM:
        path = checkout / name
        # The chart library is brought by the build, and held by its lock.
        found = path.rglob("*") if path.is_dir() else iter((path,))
        yield from sorted(
            one for one in found if one.is_file() and "__pycache__" not in one.parts and "uplot" not in one.parts
        )


def make(source: Source, house: House) -> Path:
    """The version in its folder, whole. One that was not finished is made afresh. Refusal."""
    folder = house.versions / source.id
    if (folder / WHOLE).is_file():
        return folder
    say(f"version {source.id}, into {folder} (network; a few minutes on a Pi)")
    shutil.rmtree(folder, ignore_errors=True)
    house.versions.mkdir(parents=True, exist_ok=True)
    house.opt.chmod(0o755)
    with _wheel(source, house) as wheel:
        run(sys.executable, "-m", "venv", folder, what="a Python environment")
        pip = (folder / "bin/python", "-m", "pip", "--quiet", "--disable-pip-version-check")
        install = (*pip, "install", "--no-deps")
        for lock, what in ((BUILD_LOCK, "what builds the reader of the bus"), (LOCK, "the libraries")):
            write(folder / lock, source.text(lock))
            run(*install, "--no-build-isolation", "--require-hashes", "-r", folder / lock, what=what)
        run(*pip, "uninstall", "--yes", "setuptools", what="what has been built with")
        run(*install, wheel, what="spyhole itself")
        if asked(folder / "bin/python", "-m", "spyhole.app.appliance.lean")[0] != 0:
            say("its libraries keep their docstrings")  # an older version, put in again, knows nothing of that
    (folder / "units").mkdir()
    for name in UNITS:
        write(folder / "units" / name, source.text(name))
    # One unit for one kiln and for several: in the first its instance is empty.
    write(folder / "units/spyhole@.service", source.text("spyhole.service"))
    run("sync", "--file-system", folder, what="the card")
    write(folder / WHOLE, f"{source.version}\n")
    return folder


@contextmanager
def _wheel(source: Source, house: House) -> Iterator[Path]:
    """The wheel; built for the moment where there is only a checkout, with tools that are held by hashes too."""
    if source.is_wheel:
        yield source.place
        return
    with tempfile.TemporaryDirectory(dir=house.opt, prefix="building-") as building:
        tools = Path(building)
        run(sys.executable, "-m", "venv", tools, what="a Python environment to build with")
        python = tools / "bin/python"
        pip = (python, "-m", "pip", "--quiet", "--disable-pip-version-check")
        locks = ["requirements-tools.txt"] + ([] if shutil.which("npm") else ["requirements-node.txt"])
        for lock in locks:
            run(*pip, "install", "--no-deps", "--require-hashes", "-r", source.place / lock, what="what builds it")
        run(*pip, "wheel", "--no-deps", "--no-build-isolation", "-w", tools / "made", source.place, what="the package")
        (wheel,) = (tools / "made").glob("spyhole-*.whl")
        yield wheel


def debian_needs() -> tuple[str, ...]:
    """What Debian has to give before a version can be made."""
    needed = []
    if asked(sys.executable, "-c", "import ensurepip")[0] != 0:
        needed.append("python3-venv")
    if platform.machine() in ("aarch64", "armv7l"):  # the reader of the bus comes as source
        if shutil.which("cc") is None:
            needed.append("gcc")
        if asked(sys.executable, "-c", _HEADERS)[0] != 0:
            needed.append("python3-dev")
    return tuple(needed)


_HEADERS = "import sysconfig, sys, os; sys.exit(not os.path.exists(sysconfig.get_path('include') + '/Python.h'))"
