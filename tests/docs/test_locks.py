"""What is installed is decided here and nowhere else: every version pinned, every file by hash, no address recorded."""

import json
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text())
GROUPS = SETTINGS["dependency-groups"]
RUNTIME = SETTINGS["project"]["dependencies"]
WANTED = {
    "requirements.txt": RUNTIME,
    "requirements-audit.txt": GROUPS["audit"],
    "requirements-build.txt": GROUPS["pi-build"],
    "requirements-dev.txt": RUNTIME + GROUPS["dev"],
    "requirements-node.txt": GROUPS["node"],
    "requirements-pi.txt": RUNTIME + SETTINGS["project"]["optional-dependencies"]["pi"],
    "requirements-tools.txt": GROUPS["tools"],
}


def locked(name: str) -> dict[str, list[str]]:
    """Package -> its pinned lines; each line of the lock is `name==version [; marker] --hash=... --hash=...`."""
    text = (ROOT / name).read_text().replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    packages: dict[str, list[str]] = {}
    for line in lines:
        packages.setdefault(line.split("==")[0], []).append(line)
    return packages


def test_every_lock_is_looked_at() -> None:
    assert {path.name for path in ROOT.glob("requirements*.txt")} == set(WANTED)


@pytest.mark.parametrize("name", WANTED)
def test_every_line_of_a_lock_is_pinned_and_hashed(name: str) -> None:
    line = re.compile(r"[a-z0-9-]+==[0-9][0-9a-z.+]*( ; [^#]+?)?( +--hash=sha256:[0-9a-f]{64})+")
    assert [text for lines in locked(name).values() for text in lines if not line.fullmatch(text.strip())] == []


@pytest.mark.parametrize(("name", "wanted"), WANTED.items())
def test_a_lock_holds_what_the_project_asks_for(name: str, wanted: list[str]) -> None:
    names = {re.split(r"[^A-Za-z0-9-]", text, maxsplit=1)[0].lower() for text in wanted}
    assert names - locked(name).keys() == set()


def test_the_tests_run_on_what_a_kiln_is_watched_with() -> None:
    runtime, dev = locked("requirements.txt"), locked("requirements-dev.txt")
    assert {name: lines for name, lines in runtime.items() if dev.get(name) != lines} == {}


def test_the_page_is_locked_by_version_and_hash_without_an_address() -> None:
    text = (ROOT / "web/package-lock.json").read_text()
    packages = {name: package for name, package in json.loads(text)["packages"].items() if name}
    assert "://" not in text
    assert [name for name, package in packages.items() if not package["integrity"].startswith("sha512-")] == []
    asked = json.loads((ROOT / "web/package.json").read_text())
    for name, version in (asked["dependencies"] | asked["devDependencies"]).items():
        assert packages[f"node_modules/{name}"]["version"] == version
