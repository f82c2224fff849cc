"""Makes the handbook's page of what spyhole is built on: versions by the lock, licences and sizes as installed.

python tests/docs/supply.py writes the tables; with --wheels 3.11,3.13 also for which Pythons every file of the lock was
installed for a 64 bit Pi (`make supply` does that first). test_supply.py holds the page to the locks.
"""

import argparse
import hashlib
import re
import tomllib
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "web/spyhole_web/handbook/supply.md"
LOCK = ROOT / "requirements.txt"

WHY = {
    "fastapi": ("the interface and its description", "routing, checking and describing sixty addresses by hand"),
    "uvicorn": ("speaks HTTP to the phones", "a server of our own"),
    "pydantic": ("checks what is sent, and the state that is read again", "hundreds of hand-written checks"),
    "sqlalchemy": ("the record, in a file or on a server", "SQL in two dialects, written twice"),
    "alembic": ("brings an old record to a new version", "migrations of our own"),
    "apscheduler": ("backups and tidying by the clock", "a cron file, and a second process at the record"),
    "apprise": ("mail, push and messenger services", "a client for each service"),
    "aiomqtt": ("the studio's broker", "a protocol of our own"),
    "itsdangerous": ("signs the links in messages", "putting keyed digests together by hand"),
    "markdown": ("this handbook, when it is read", "HTML in the repository; apprise brings it anyway"),
    "segno": ("the square code that lets a phone in", "typing an address and a code"),
    "pwdlib": ("passwords, by argon2id", "a slow hash chosen by us"),
    "reportlab": ("draws the report of a firing", "writing PDF by hand"),
    "pypdfium2": ("the same report as a picture", "drawing everything twice"),
    "adafruit-circuitpython-max31856": ("the amplifier's driver", "register code tried on nothing but an emulation"),
    "gpiod": ("chip select, sounder, lamp, button", "lgpio, which has no wheel for Python 3.13 on a Pi"),
    "spidev": ("the bus; on a Pi only, built there", "ioctl calls of our own"),
    "psycopg": ("a record on a PostgreSQL server, if one is named", "nothing: without it the record is a file"),
}
"""What asks for it, and what it is instead of."""

NOT_HERE = {"spidev": "MIT", "tzdata": "Apache-2.0"}
"""Licences of what is installed elsewhere only: on a Pi, on Windows. From their pages at PyPI, from memory."""

GIVEN_ELSEWHERE = {"pypdfium2": "BSD-3-Clause, Apache-2.0 and those of PDFium's parts"}


def pins(lock: str) -> dict[str, str]:
    """Package -> version."""
    return dict(re.findall(r"^([a-z0-9-]+)==([^ ;\\]+)", (ROOT / lock).read_text(), re.MULTILINE))


def asked_for() -> tuple[str, ...]:
    """What pyproject.toml names for the daemon and its extras, in that order."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = [text for extra in project["optional-dependencies"].values() for text in extra]
    return tuple(canonicalize_name(Requirement(text).name) for text in (*project["dependencies"], *extras))


def licence(package: str) -> str:
    """As the package itself says."""
    if package in GIVEN_ELSEWHERE:
        return GIVEN_ELSEWHERE[package]
    try:
        said = metadata.metadata(package)
    except metadata.PackageNotFoundError:
        return NOT_HERE[package]
    classes = [text.split(" :: ")[-1] for text in said.get_all("Classifier", []) if text.startswith("License :: ")]
    return said.get("License-Expression") or ", ".join(classes) or (said.get("License") or "")


def size(package: str) -> str:
    """Megabytes on disk, without what it brings."""
    try:
        files = metadata.files(package) or []
    except metadata.PackageNotFoundError:
        return ""
    return f"{sum(each.size or 0 for each in files) / 1e6:.1f}"


def brought_by(package: str, among: dict[str, str]) -> str:
    """Who asks for it, on any Python."""
    return ", ".join(sorted(other for other in among if package in _needs(other)))


def _needs(package: str) -> set[str]:
    try:
        lines = metadata.requires(package) or []
    except metadata.PackageNotFoundError:
        return set()
    extras = {"argon2", "binary"}
    needed = [Requirement(line) for line in lines]
    return {
        canonicalize_name(each.name)
        for each in needed
        if "extra" not in str(each.marker or "") or any(f'extra == "{extra}"' in str(each.marker) for extra in extras)
    }


def direct() -> list[tuple[str, ...]]:
    """package, version, licence, MB, what for, instead of what."""
    versions = pins("requirements-dev.txt") | pins("requirements-pi.txt")
    return [(name, versions[name], licence(name), size(name), *WHY[name]) for name in asked_for()]


def indirect() -> list[tuple[str, ...]]:
    """package, version, licence, MB, brought by."""
    among = pins(LOCK.name)
    rest = [name for name in among if name not in asked_for()]
    return [(name, among[name], licence(name), size(name), brought_by(name, among)) for name in rest]


def digest() -> str:
    """Of the lock that a Pi is installed from."""
    return hashlib.sha256(LOCK.read_bytes()).hexdigest()


def main() -> None:
    """Write the page's tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wheels", default="", help="Pythons that all wheels were found for, with commas")
    wish = parser.parse_args()
    text = PAGE.read_text()
    text = placed(text, "direct", table(("package", "version", "licence", "MB", "what for", "instead of"), direct()))
    text = placed(text, "indirect", table(("package", "version", "licence", "MB", "brought by"), indirect()))
    if wish.wheels:
        said = " and ".join(f"Python {each}" for each in wish.wheels.split(","))
        text = placed(text, "wheels", f"Last checked for {said}, with the lock `{digest()}`.")
    PAGE.write_text(text)


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """In Markdown."""
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ("---",) * len(head), *rows))


def placed(text: str, name: str, made: str) -> str:
    """The page with this between its marks."""
    mark = re.compile(rf"(<!-- {name}: begin -->\n)(.*?)(<!-- {name}: end -->)", re.DOTALL)
    text, found = mark.subn(lambda seen: f"{seen[1]}\n{made}\n\n{seen[3]}", text)
    if found != 1:
        raise ValueError(f"the marks of {name} stand {found} times")
    return text


if __name__ == "__main__":
    main()
