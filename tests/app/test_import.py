"""`spyhole import`: a firing of another logger into a real record, beside the watch's own journal."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from spyhole.app.commands import main
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.journal import Settings
from spyhole.core.outcome import AlarmOutcome
from spyhole.core.reading import ProbeReading, Reading
from spyhole.store.archive import open_records
from spyhole.store.tables import IMPORT_ROWS, IMPORTED
from spyhole_hardware.emulated import puffin

START = datetime(2024, 10, 30, 19, 41, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "kiln.toml").write_text(kiln_to_toml(puffin.KILN))
    (tmp_path / "plan.toml").write_text(plan_to_toml(puffin.TONIGHT.plan, puffin.KILN))
    (tmp_path / "old.csv").write_text(log_of(START))
    return tmp_path


def log_of(start: datetime) -> str:
    """Six hours up and two down, a row each half minute, in degF as its heading says."""
    rows = []
    for n in range(960):
        celsius = 20 + min(n, 720) * 1.25 - max(0, n - 720) * 1.25
        stamp = start + timedelta(seconds=30 * n)
        cells = (f"{1.8 * (celsius + ring) + 32:.2f}" for ring in range(3))
        rows.append(f"{stamp:%d/%m/%Y %H:%M:%S};{';'.join(cells)}".replace(".", ","))
    return "Time;bottom °F;middle °F;top °F\n" + "\n".join(rows) + "\n"


def bring(folder: Path, *more: str) -> int:
    return main(
        [
            "import", str(folder / "old.csv"), "--kiln", str(folder / "kiln.toml"), "--plan", str(folder / "plan.toml"),
            "--data", str(folder / "record"), "--zone", "UTC", *more,
        ]
    )  # fmt: skip


def test_a_preview_says_how_the_file_is_understood_and_keeps_nothing(folder: Path, capsys: pytest.CaptureFixture[str]):
    assert bring(folder, "--preview") == 0
    said = capsys.readouterr().out
    assert "parted by semicolons, decimal comma" in said
    assert "960 instants from 2024-10-30T19:41:00Z to 2024-10-31T03:40:30Z, mostly 30 s apart" in said
    assert "bottom: column 2, written in degF: 20 to 920 degC, 0 empty" in said
    assert not (folder / "record").exists()


def test_the_firing_stands_in_the_kiln_book_with_its_curve_and_its_rows(folder: Path):
    assert bring(folder) == 0
    with open_records(folder / "record") as records:
        (line,) = records.firings("Puffin")
        assert line.started_utc_ms == round(START.timestamp() * 1000)
        assert line.ended_utc_ms == line.started_utc_ms + 959 * 30_000
        assert line.peak_celsius == pytest.approx(922, abs=1.5)
        rows = list(records.rows_between("Puffin", IMPORTED, IMPORTED + IMPORT_ROWS))
        readings = [row for row in rows if isinstance(row.told, Reading)]
        assert len(readings) == 960
        assert [row.sequence for row in rows] == list(range(IMPORTED, IMPORTED + len(rows)))
        assert isinstance(rows[1].told, Settings)
        assert readings[2].told == Reading(tuple(ProbeReading(round((22.5 + r) * 128) / 128) for r in range(3)))
        assert len(records.minutes("Puffin", line.id)) == pytest.approx(480, abs=2)
        assert any(isinstance(mark.what, AlarmOutcome) for mark in records.marks("Puffin", line.id))


def test_the_watch_never_folds_an_imported_row(folder: Path):
    assert bring(folder) == 0
    with open_records(folder / "record") as records:
        assert records.last_sequence("Puffin") == 0
        assert list(records.rows_after("Puffin", 0)) == []


def test_the_same_firing_is_refused_a_second_time_and_another_is_taken(
    folder: Path, capsys: pytest.CaptureFixture[str]
):
    assert bring(folder) == 0
    assert bring(folder) == 2
    assert "the kiln book has a firing in this time already" in capsys.readouterr().err
    (folder / "old.csv").write_text(log_of(START - timedelta(days=7)))
    assert bring(folder) == 0
    with open_records(folder / "record") as records:
        newer, older = records.firings("Puffin")
        assert newer.started_utc_ms - older.started_utc_ms == 7 * 86_400_000
        assert older.id > newer.id, "the kiln book goes by the day of the firing, not by when it was brought in"
        assert [line.id for line in records.firings("Puffin", newest=1, before=newer.id)] == [older.id]


def test_entries_of_another_day_are_refused(folder: Path, capsys: pytest.CaptureFixture[str]):
    (folder / "entries.csv").write_text("time,kind,subject,value\n2024-11-02T10:00:00Z,note,,clean\n")
    assert bring(folder, "--entries", str(folder / "entries.csv")) == 2
    assert "look whether --zone is where the logger's clock was set to" in capsys.readouterr().err


def test_entries_are_folded_where_they_belong(folder: Path):
    (folder / "entries.csv").write_text("time,kind,subject,value\n2024-10-30T21:00:00Z,switch,middle,high\n")
    assert bring(folder, "--entries", str(folder / "entries.csv")) == 0
    with open_records(folder / "record") as records:
        rows = list(records.rows_between("Puffin", IMPORTED, IMPORTED + IMPORT_ROWS))
        at = next(n for n, row in enumerate(rows) if getattr(row.told, "value", "") == "high")
        assert rows[at - 1].monotonic_ms < rows[at].monotonic_ms == rows[at + 1].monotonic_ms


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("°F", ""), "say --unit"),
        (("30/10/2024 19:45:00", "30/10/2024 18:45:00"), "line 10: the time goes back by 60 min"),
        (("30/10/2024 19:45:00", "yesterday"), "line 10: 'yesterday' is no date and time"),
    ],
)
def test_a_bad_file_is_one_sentence_and_keeps_nothing(
    folder: Path, capsys: pytest.CaptureFixture[str], change: tuple[str, str], words: str
):
    (folder / "old.csv").write_text((folder / "old.csv").read_text().replace(*change))
    assert bring(folder) == 2
    said = capsys.readouterr().err
    assert words in said
    assert said.count("\n") == 1
    assert not (folder / "record").exists()
