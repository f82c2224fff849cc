"""The self-test says what would fail when it is needed, to the daemon, or to people where none runs."""

import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from spyhole.app import selftest as looked
from spyhole.app.hatch import Hatch
from spyhole.app.selftest import (
    ACT,
    FOUND,
    NOT_RUNNING,
    findings,
    found_by_selftest,
    selftest,
    started_with_the_machine,
)
from spyhole.app.settings import read_settings
from spyhole.services.backups import FOLDER, backup_name
from spyhole.services.conditions import SELFTEST, Conditions
from spyhole.store.backup import back_up
from spyhole.store.database import writing_engine
from spyhole.store.migrate import bring_up_to_date

SYSTEMD = Path(__file__).parents[2] / "systemd"
NOW = 1_951_155_600


@pytest.fixture
def config(tmp_path: Path) -> Path:
    for name in ("puffin.toml", "bisque-06.toml"):
        shutil.copy(SYSTEMD / name, tmp_path)
    data = tmp_path / "data"
    data.mkdir()
    words = (SYSTEMD / "first.toml").read_text().replace("/var/lib/spyhole", str(data))
    (tmp_path / "spyhole.toml").write_text(words)
    engine = writing_engine(data)
    bring_up_to_date(engine, "here")
    engine.dispose()
    (data / FOLDER).mkdir()
    back_up(data, data / FOLDER / backup_name((NOW - 3600) * 1000), made_utc_ms=(NOW - 3600) * 1000, spyhole="0")
    return tmp_path / "spyhole.toml"


def found(config: Path, now: float = NOW) -> list[str]:
    return list(findings(read_settings(config), now))


def test_a_machine_that_is_well_has_no_findings(config: Path) -> None:
    assert found(config) == []


def test_two_nights_without_a_backup_are_found(config: Path) -> None:
    assert "no backup of the last two nights" in found(config, NOW + 3 * 86_400)[0]


def test_a_backup_that_rotted_on_the_card_is_found(config: Path) -> None:
    (backup,) = (config.parent / "data" / FOLDER).iterdir()
    whole = bytearray(backup.read_bytes())
    whole[200:260] = bytes(60)
    backup.write_bytes(whole)
    assert "cannot be read back" in found(config)[0]


def test_a_card_that_is_nearly_full_is_found(config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(looked, "ROOM_BYTES", 1 << 60)
    assert "make room" in found(config)[0]


def test_a_card_that_takes_no_writes_is_found(config: Path) -> None:
    settings = read_settings(config)
    assert "takes no writes" in next(findings(replace(settings, data=config.parent / "gone"), NOW))


def test_the_daemon_shows_it_until_nothing_is_found() -> None:
    conditions = Conditions(lambda: 0)
    found_by_selftest(conditions, {FOUND: "The card has 3 MB left; make room."})
    (view,) = conditions.views()
    assert view.code == SELFTEST.code
    assert view.words.endswith("make room.")
    found_by_selftest(conditions, {FOUND: ""})
    assert conditions.views() == ()


def test_a_running_daemon_is_told(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    heard: list[str] = []
    newest = config.parent / "data" / FOLDER
    for path in newest.iterdir():
        path.unlink()
    os.utime(config.parent / "data", (NOW - 10 * 86_400,) * 2)
    hatch = Hatch(config.parent / "data", {ACT: lambda given: str(heard.append(given[FOUND]))})
    hatch.start()
    try:
        selftest(config)
    finally:
        hatch.stop()
    assert len(heard) == 1
    assert NOT_RUNNING not in capsys.readouterr().out


def test_where_none_runs_that_is_said_and_nobody_to_tell_too(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert selftest(config) == 1
    said = capsys.readouterr().out
    assert NOT_RUNNING in said
    assert "nobody to tell" in said


def test_every_kiln_that_is_started_with_the_machine_is_looked_at(tmp_path: Path) -> None:
    for name in ("spyhole.service", "spyhole@raku.service", "spyhole-settle.service"):
        (tmp_path / name).symlink_to(f"../{name}")
    settings = Path("/etc/spyhole")
    assert started_with_the_machine(settings, tmp_path) == [settings / "spyhole.toml", settings / "raku/spyhole.toml"]
