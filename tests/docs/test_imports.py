"""Imports run one way, app to the side rooms to services to core, and side rooms are strangers to each other."""

import subprocess
import sys
import tomllib
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).parents[2]
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text())
ROOTS = ("spyhole", "spyhole_hardware", "spyhole_web")

# Where each third-party package may be imported. A package that is not named here may be imported nowhere.
ROOM_OF = {
    "adafruit_max31856": {"spyhole_hardware"},
    "aiomqtt": {"spyhole.channels"},
    "alembic": {"spyhole.store"},
    "apprise": {"spyhole.channels"},
    "apscheduler": {"spyhole.app"},
    "fastapi": {"spyhole_web"},
    "gpiod": {"spyhole_hardware"},
    "itsdangerous": {"spyhole.channels"},
    "markdown": {"spyhole_web.handbook"},
    "numpy": {"spyhole.core.thermal"},
    "pwdlib": {"spyhole.app"},
    "pydantic": {"spyhole_web", "spyhole.app"},
    "pypdfium2": {"spyhole.reports"},
    "reportlab": {"spyhole.reports"},
    "segno": {"spyhole.app"},
    "spidev": {"spyhole_hardware"},
    "sqlalchemy": {"spyhole.store"},
    "starlette": {"spyhole_web"},
    "uvicorn": {"spyhole_web", "spyhole.app"},
}


def strangers(root_names: tuple[str, ...], room_of: dict[str, set[str]]) -> list[str]:
    """Each import of a third-party package outside its room, as 'importer -> package'."""
    graph = grimp.build_graph(*root_names, include_external_packages=True, cache_dir=None)
    inside = {name for name in graph.modules if name.split(".")[0] in root_names}
    return sorted(
        f"{importer} -> {package}"
        for importer in inside
        for package in graph.find_modules_directly_imported_by(importer) - inside
        if package not in sys.stdlib_module_names
        and not any(f"{importer}.".startswith(f"{room}.") for room in room_of.get(package, ()))
    )


def lint_imports(folder: Path) -> subprocess.CompletedProcess[str]:
    command = [Path(sys.executable).parent / "lint-imports", "--no-logo", "--no-cache", "--config", "pyproject.toml"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def test_imports_run_one_way() -> None:
    done = lint_imports(ROOT)
    assert done.returncode == 0, done.stdout


def test_third_party_packages_stay_in_their_rooms() -> None:
    assert strangers(ROOTS, ROOM_OF) == []


def test_a_third_party_package_out_of_its_room_is_red(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for room in ("store", "core"):
        (tmp_path / "annex" / room).mkdir(parents=True)
        (tmp_path / "annex" / room / "__init__.py").write_text("import json\nimport sqlalchemy.orm\n")
    (tmp_path / "annex" / "__init__.py").write_text("from hypothesis import given\n")
    monkeypatch.syspath_prepend(tmp_path)
    found = strangers(("annex",), {"sqlalchemy": {"annex.store"}})
    assert found == ["annex -> hypothesis", "annex.core -> sqlalchemy"]


def test_the_contract_covers_every_source_root() -> None:
    built = {Path(package).name for package in SETTINGS["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]}
    assert built == set(ROOTS) == set(SETTINGS["tool"]["importlinter"]["root_packages"])


def test_the_top_of_the_daemon_is_empty() -> None:
    """An `import spyhole` loads nothing: each room is asked for by its name."""
    assert (ROOT / "daemon/spyhole/__init__.py").read_bytes() == b""


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A house of empty rooms under the real contract, where a test may build something wrong."""
    (tmp_path / "pyproject.toml").write_text((ROOT / "pyproject.toml").read_text())
    for room in ("spyhole", "spyhole_hardware", "spyhole_web"):
        (tmp_path / room).mkdir()
        (tmp_path / room / "__init__.py").touch()
    for room in ("app", "channels", "core", "reports", "services", "store"):
        (tmp_path / "spyhole" / room).mkdir()
        (tmp_path / "spyhole" / room / "__init__.py").touch()
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    return tmp_path


def test_empty_rooms_keep_the_contract(house: Path) -> None:
    done = lint_imports(house)
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    ("importer", "imported"),
    [
        ("spyhole/core", "spyhole.services"),
        ("spyhole/services", "spyhole.store"),
        ("spyhole/store", "spyhole.channels"),
        ("spyhole/reports", "spyhole.store"),
        ("spyhole_web", "spyhole.store"),
        ("spyhole_hardware", "spyhole_web"),
        ("spyhole/channels", "spyhole.app"),
    ],
)
def test_an_import_the_wrong_way_is_red(house: Path, importer: str, imported: str) -> None:
    (house / importer / "wrong.py").write_text(f"import {imported}\n")
    done = lint_imports(house)
    assert done.returncode == 1, done.stdout
    assert "wrong" in done.stdout


def test_a_room_without_a_place_is_red(house: Path) -> None:
    (house / "spyhole" / "attic").mkdir()
    (house / "spyhole" / "attic" / "__init__.py").touch()
    done = lint_imports(house)
    assert done.returncode == 1, done.stdout
    assert "attic" in done.stdout
