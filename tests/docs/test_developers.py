"""DEVELOPERS.md against the code: every name, path and table in it is there."""

import ast
import re
import runpy
from pathlib import Path

import pytest

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.reading import Fault
from spyhole.services.conditions import ALL

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "DEVELOPERS.md").read_text()
PROSE = re.sub(r"^```.*?^```", "", TEXT, flags=re.DOTALL | re.MULTILINE)
TICKED = sorted(set(re.findall(r"`([^`\n]+)`", PROSE)))
SOURCES = ("daemon/spyhole", "hardware/spyhole_hardware", "web/spyhole_web")
CONDITIONS = {condition.code for condition in ALL} | {"watch-disk"}
TABLES = runpy.run_path(str(ROOT / "tests/docs/tables.py"))

PATH = re.compile(r"[\w.-]+(/[\w.-]+)+|[\w-]+\.(md|toml|py)")
NAME = re.compile(r"[A-Za-z_]\w*(\.[A-Za-z_]\w*)*")
COMMAND = re.compile(r"(make|spyhole) .+")

ELSEWHERE = {
    "config.txt", "dtparam=spi=on", "dtoverlay=spi0-0cs", "gpio=5,6,7=op,dh", "dtparam=strict_gpiod",  # of a Pi
    "spyhole[pi]",  # checked in test_the_extra_for_a_pi_exists
    "area: change",  # of a commit
    "/handbook", "whenSeen",  # of the page
}  # fmt: skip
"""What is no path and no name of ours."""


def names_of(tree: ast.Module) -> set[str]:
    """Top-level names of a module, and Class.member: methods, properties, fields."""
    names: set[str] = set()
    for node in tree.body:
        for name in bound(node):
            names.add(name)
        if isinstance(node, ast.ClassDef):
            members = {member for part in node.body for member in bound(part)}
            for method in ast.walk(node):
                if isinstance(method, ast.Attribute) and isinstance(method.ctx, ast.Store):
                    members.add(method.attr)
            names |= {f"{node.name}.{member}" for member in members}
    return names


def bound(node: ast.stmt) -> list[str]:
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
        return [node.name]
    if isinstance(node, ast.AnnAssign):
        return [node.target.id] if isinstance(node.target, ast.Name) else []
    if isinstance(node, ast.Assign):
        return [target.id for target in node.targets if isinstance(target, ast.Name)]
    return []


def known_names() -> set[str]:
    """Every name of the three source roots: as `name`, `Class.member`, `module.name` and `module.Class.member`."""
    known: set[str] = set()
    for source in SOURCES:
        for path in (ROOT / source).rglob("*.py"):
            names = names_of(ast.parse(path.read_text()))
            known |= names | {f"{path.stem}.{name}" for name in names} | {path.stem}
    return known


KNOWN = known_names()
MEMBERS = {name.rpartition(".")[2] for name in KNOWN}


def test_names_are_looked_for_in_the_whole_code() -> None:
    assert {"watch.step", "Sampler.tick", "Max31856Probes.longest_seconds", "open_sensors"} <= KNOWN
    assert "watch.stride" not in KNOWN


@pytest.mark.parametrize("ticked", TICKED)
def test_what_stands_in_backticks_exists(ticked: str) -> None:
    if ticked in ELSEWHERE or ticked in CATALOGUE or ticked in CONDITIONS or COMMAND.fullmatch(ticked):
        return  # alarms: the table; commands: test_words.py
    if PATH.fullmatch(ticked) and ticked not in KNOWN:
        assert (ROOT / ticked).exists(), f"there is no {ticked}"
    else:
        assert NAME.fullmatch(ticked), f"{ticked!r} is neither a path nor a name: put it into ELSEWHERE if it is right"
        settings_keys = TABLES["KEYS"]
        assert ticked in KNOWN | MEMBERS | set(settings_keys) | set(Fault) | {"None"}, f"nothing is called {ticked}"


def test_every_room_has_its_line() -> None:
    rooms = {path.parent for path in (ROOT / "daemon/spyhole").glob("*/__init__.py")}
    listed = {ROOT / path for path in re.findall(r"^\| `([^`]+)` \|", TEXT, re.MULTILINE) if "/" in path}
    assert rooms | {ROOT / source for source in SOURCES[1:]} <= listed
    folders = {path for path in (ROOT / "tests").iterdir() if list(path.glob("**/test_*.py"))}
    assert folders <= listed


def test_the_extra_for_a_pi_exists() -> None:
    assert '\npi = ["spidev' in (ROOT / "pyproject.toml").read_text()


WORKPLACE = (r"/work\b", r"/tmp\b", r"/root\b", r"\bfarm-", r"pypi\.org", r"npmjs")


@pytest.mark.parametrize("secret", WORKPLACE)
@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md", "CHANGELOG.md"])
def test_nothing_of_one_workplace_is_told(document: str, secret: str) -> None:
    assert not re.search(secret, (ROOT / document).read_text())
