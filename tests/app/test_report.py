"""`spyhole report`, from a record alone and from one that a daemon has, and what the settings say of the price."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import httpx
import pytest

from spyhole.app.commands import main
from spyhole.app.settings import read_settings
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.refusal import Refusal
from spyhole.core.report.tariff import Hours, Tariff
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

LOG = "Time;bottom °C;middle °C;top °C\n" + "".join(
    f"2024-10-30 {8 + n // 60:02d}:{n % 60:02d}:00;{20 + n};{18 + n};{15 + n}\n" for n in range(600)
)
COST = """
[cost]
currency = "EUR"
per_kwh = 0.34
[[cost.hours]]
from = "23:00"
to = "08:00"
per_kwh = 0.18
days = ["monday", "sunday"]
"""
MARKS = {"pdf": b"%PDF-", "png": b"\x89PNG", "csv": b"table,what", "json": b"{"}


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record with one firing of ten hours in it, from another logger's file."""
    tmp_path = tmp_path_factory.mktemp("report")
    (tmp_path / "kiln.toml").write_text(kiln_to_toml(KILN))
    (tmp_path / "plan.toml").write_text(plan_to_toml(TONIGHT.plan, KILN))
    (tmp_path / "log.csv").write_text(LOG)
    files = ["--kiln", str(tmp_path / "kiln.toml"), "--plan", str(tmp_path / "plan.toml")]
    data = tmp_path / "record"
    assert main(["import", str(tmp_path / "log.csv"), *files, "--data", str(data), "--zone", "UTC"]) == 0
    return data


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """What draws is drawn, however busy the machine is."""
    monkeypatch.setattr("spyhole.app.reporting.PRESS_SECONDS", 200.0)
    monkeypatch.setattr("spyhole.app.hatch.SECONDS", 240.0)


@pytest.mark.parametrize("form", MARKS)
def test_the_ending_of_the_file_says_the_form(record: Path, form: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = record.parent / f"friday.{form}"
    assert main(["report", "latest", "--out", str(out), "--data", str(record)]) == 0
    assert out.read_bytes().startswith(MARKS[form])
    assert str(out) in capsys.readouterr().out


@pytest.mark.parametrize(
    ("firing", "out", "says"),
    [
        ("latest", "friday.doc", "no form of a report; it ends in .pdf, .png, .csv, .json"),
        ("latest", "nowhere/friday.pdf", "cannot be written there"),
        ("99", "friday.pdf", "no firing of Puffin has the number 99"),
        ("friday", "friday.pdf", "'friday' is no firing; it is latest, or the number"),
    ],
)
def test_what_is_refused(record: Path, firing: str, out: str, says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", firing, "--out", str(record.parent / out), "--data", str(record)]) == 2
    assert says in capsys.readouterr().err
    assert not list(record.parent.glob("**/*.part"))


def test_a_folder_without_a_record(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "latest", "--out", str(tmp_path / "x.pdf"), "--data", str(tmp_path)]) == 2
    assert "there is no record here" in capsys.readouterr().err


def test_a_running_daemon_makes_it_for_the_page_and_for_the_command(puffin: Any, tmp_path: Path) -> None:
    daemon = puffin()
    daemon.start()
    daemon.until(lambda: _hour_is_in(daemon))
    address = f"http://127.0.0.1:{daemon.daemon.guest.port}/api/firings"
    firing = daemon.get("/api/firings")["firings"][0]["id"]
    for form, mark in MARKS.items():
        answer = httpx.get(f"{address}/{firing}/report.{form}", params={"paper": "letter"}, timeout=300)
        assert answer.status_code == 200
        assert answer.content.startswith(mark)
        assert f"puffin-firing-{firing}.{form}" in answer.headers["content-disposition"]
        out = tmp_path / f"friday.{form}"
        assert main(["report", "latest", "--out", str(out), "--data", str(tmp_path)]) == 0
        assert out.read_bytes().startswith(mark)
    assert list((tmp_path / "reports").iterdir()) == []
    gone = httpx.get(f"{address}/999999/report.csv", timeout=300)
    assert (gone.status_code, gone.headers["content-type"]) == (404, "application/problem+json")
    assert httpx.get(f"{address}/{firing}/report.doc", timeout=300).status_code == 422


def _hour_is_in(daemon: Any) -> bool:
    try:
        return bool(daemon.get("/api/firings")["firings"]) and len(daemon.get("/api/curve")["utc_ms"]) > 20
    except OSError:  # the page comes up beside the watch
        return False


DRAWN = """
import sys
from pathlib import Path
import spyhole.app.build
from spyhole.app.reporting import press_beside
from spyhole.core.words import Manner
from spyhole.services.reporting import Form, Reporter
from spyhole.store.archive import open_records
with open_records(Path(sys.argv[1])) as records:
    sheet = Reporter(records, "Puffin", Manner(), None, press_beside).report(None, Form.PDF)
print(sheet.content[:5].decode(), *(name for name in ("reportlab", "pypdfium2", "PIL") if name in sys.modules))
"""


def test_what_draws_is_not_loaded_into_a_daemon(record: Path) -> None:
    done = subprocess.run([sys.executable, "-c", DRAWN, record], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "%PDF-"


def test_the_price_by_the_hour(files: Any) -> None:
    assert read_settings(files.settings).cost is None
    files.set(files.settings.read_text() + COST)
    assert read_settings(files.settings).cost == Tariff("EUR", 0.34, (Hours(1380, 480, 0.18, (0, 6)),))


@pytest.mark.parametrize(
    ("there", "instead", "says"),
    [
        ('"EUR"', '""', "cost, currency"),
        ("per_kwh = 0.34", "per_kwh = -1", "out of range"),
        ('"23:00"', '"23h"', "no time of day; for example 23:00"),
        ('"08:00"', '"23:00"', "ends where it begins"),
        ('"monday"', '"mon"', "names no days; it is a list of monday"),
        ("days =", "day =", "there is no such key"),
    ],
)
def test_a_price_that_cannot_be(files: Any, there: str, instead: str, says: str) -> None:
    files.set(files.settings.read_text() + COST.replace(there, instead))
    with pytest.raises(Refusal, match="cost") as refused:
        read_settings(files.settings)
    assert says in str(refused.value)
