"""The service as systemd reads it: what it is exposed to, and that it never gives up."""

import configparser
import re
import shutil
import subprocess
from pathlib import Path

from spyhole.app.settings import LOOPBACK, Driver, read_settings

UNIT = Path(__file__).parents[2] / "systemd" / "spyhole.service"
EXPOSURE_AT_MOST = 20
"""In tenths, as systemd-analyze counts: 0 for none, 100 for a program that may do anything."""


def unit() -> configparser.ConfigParser:
    read = configparser.ConfigParser(strict=False, interpolation=None)
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read(UNIT)
    return read


def test_it_is_exposed_to_little() -> None:
    analyze = shutil.which("systemd-analyze")
    assert analyze, "the unit is looked at by systemd itself: sudo apt-get install systemd"
    command = [analyze, "security", "--offline=true", f"--threshold={EXPOSURE_AT_MOST}", "--no-pager", UNIT]
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
    assert unit()["Unit"]["StartLimitIntervalSec"] == "0"


def test_its_first_settings_are_an_emulated_kiln_that_needs_no_wire(tmp_path: Path) -> None:
    for name in ("puffin.toml", "bisque-06.toml", "first.toml"):
        shutil.copy(UNIT.parent / name, tmp_path)
    settings = read_settings(tmp_path / "first.toml")
    assert settings.driver is Driver.EMULATED
    assert settings.kiln.name == "Puffin"
    assert settings.listen == LOOPBACK


def test_the_installer_puts_every_file_in_place_that_it_names() -> None:
    script = (UNIT.parent / "install").read_text()
    named = set(re.findall(r"\$here/([\w.-]+\.\w+)", script)) | {"puffin.toml", "bisque-06.toml"}
    assert {"spyhole.service", "first.toml", "spyhole.example.toml"} <= named
    assert all((UNIT.parent / name).is_file() for name in named)
    checked = subprocess.run(["sh", "-n", UNIT.parent / "install"], capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stderr


def test_it_waits_for_no_network_and_fills_no_log() -> None:
    assert "network" not in unit()["Unit"].get("After", "")
    assert "LogRateLimitBurst" in unit()["Service"]
