"""The service as systemd reads it: what it is exposed to, and that it never gives up."""

import configparser
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest

from spyhole.app.appliance import source
from spyhole.app.settings import EVERYWHERE, Driver, read_settings

ROOT = Path(__file__).parents[2]
UNIT = ROOT / "systemd" / "spyhole.service"
SELFTEST = ROOT / "systemd" / "spyhole-selftest.service"
EXPOSURE_AT_MOST = 20
"""In tenths, as systemd-analyze counts: 0 for none, 100 for a program that may do anything."""


def unit() -> configparser.ConfigParser:
    read = configparser.ConfigParser(strict=False, interpolation=None)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read(UNIT)
    return read


@pytest.mark.parametrize("unit", [UNIT, SELFTEST], ids=lambda path: path.stem)
def test_it_is_exposed_to_little(unit: Path) -> None:
    analyze = shutil.which("systemd-analyze")
    assert analyze, "the unit is looked at by systemd itself: sudo apt-get install systemd"
    command = [analyze, "security", "--offline=true", f"--threshold={EXPOSURE_AT_MOST}", "--no-pager", unit]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_stricter_look_would_say_no() -> None:
    analyze = shutil.which("systemd-analyze") or ""
    command = [analyze, "security", "--offline=true", "--threshold=5", "--no-pager", UNIT]
    assert subprocess.run(command, capture_output=True, check=False).returncode != 0


def test_it_is_fed_by_readings_and_started_again_for_ever() -> None:
    service = unit()["Service"]
    assert service["Type"] == "notify"
    assert int(service["WatchdogSec"]) > 30, "longer than the longest time between readings that may be set"
    assert service["Restart"] == "always"
    assert service["RestartSec"] == "500ms", "of the five seconds within which readings come again"
    assert unit()["Unit"]["StartLimitIntervalSec"] == "0"


def test_its_first_settings_are_an_emulated_kiln_that_needs_no_wire(tmp_path: Path) -> None:
    for name in ("puffin.toml", "bisque-06.toml", "first.toml"):
        shutil.copy(UNIT.parent / name, tmp_path)
    settings = read_settings(tmp_path / "first.toml")
    assert settings.driver is Driver.EMULATED
    assert settings.kiln.name == "Puffin"
    assert settings.listen == EVERYWHERE, "phones reach it, and need a code"


def test_the_installer_finds_every_file_it_names_in_a_checkout_and_in_a_wheel() -> None:
    names = {*source.UNITS, *source.OTHERS}
    assert all((UNIT.parent / name).is_file() for name in names)
    packed = tomllib.loads((ROOT / "pyproject.toml").read_text())
    files = packed["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert {place.rpartition("/")[2] for place in files.values()} == names | {source.LOCK, source.BUILD_LOCK}
    assert all((ROOT / name).is_file() for name in files)


def test_it_waits_for_no_network_and_fills_no_log() -> None:
    assert "network" not in unit()["Unit"].get("After", "")
    assert "LogRateLimitBurst" in unit()["Service"]
