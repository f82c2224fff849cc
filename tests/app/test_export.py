"""`spyhole export`: files from which the same is concluded again."""

import json
import os
import shutil
import sqlite3
import time
import zipfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from spyhole.app.commands import main
from spyhole.app.exporting import ACT, answering
from spyhole.app.hatch import Hatch
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.forms.readings_csv import readings
from spyhole.core.reading import Fault
from spyhole.store.archive import open_archive, open_records
from spyhole.store.database import DATABASE
from spyhole_hardware.emulated import puffin

START = datetime(2024, 10, 30, 19, 41, tzinfo=UTC)
FILES = ["entries.csv", "kiln.toml", "outcomes.jsonl", "plan.toml", "readings.csv", "told.jsonl"]
ENTRIES = """\
time,kind,subject,value
2024-10-30T19:41:00Z,start,,05
2024-10-30T20:01:00Z,switch,bottom,low
2024-10-30T20:31:00Z,note,,"the shelf, by Ruth, ""leans"" on it"
2024-10-30T23:01:00Z,cone,middle,022:down
"""


def firing(folder: Path, start: datetime, entries: str | None = None) -> None:
    """Three hours up and one down, a row each 20 s, out of step with the second; brought in by `spyhole import`."""
    folder.mkdir(exist_ok=True)
    (folder / "kiln.toml").write_text(kiln_to_toml(puffin.KILN))
    (folder / "plan.toml").write_text(plan_to_toml(puffin.TONIGHT.plan, puffin.KILN))
    rows = []
    for n in range(720):
        celsius = 20 + min(n, 540) * 1.6 - max(0, n - 540) * 1.6
        stamp = start + timedelta(seconds=20 * n, milliseconds=n % 7 * 90)
        cells = ("" if n % 111 == 3 else f"{celsius + ring:.4f}" for ring in range(3))
        rows.append(f"{stamp.isoformat(timespec='milliseconds')};{';'.join(cells)}")
    (folder / "old.csv").write_text("time;bottom;middle;top\n" + "\n".join(rows) + "\n")
    more = []
    if entries is not None:
        (folder / "entries.csv").write_text(entries)
        more = ["--entries", str(folder / "entries.csv")]
    assert main([
        "import", str(folder / "old.csv"), "--kiln", str(folder / "kiln.toml"), "--plan", str(folder / "plan.toml"),
        "--data", str(folder / "record"), "--unit", "degC", *more,
    ]) == 0  # fmt: skip


@pytest.fixture(scope="module")
def imported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("imported") / "f"
    firing(folder, START, ENTRIES)
    return folder


@pytest.fixture
def data(imported: Path, tmp_path: Path) -> Path:
    """A record of its own with one imported firing."""
    shutil.copytree(imported, tmp_path / "f")
    return tmp_path / "f" / "record"


def export(data: Path, out: Path, *more: str) -> int:
    return main(["export", "--data", str(data), "--out", str(out), *more])


def only(out: Path) -> Path:
    (folder,) = (path for path in out.iterdir() if path.is_dir())
    return folder


def replay(folder: Path, out: Path) -> bytes:
    assert main([
        "replay", str(folder / "readings.csv"), "--kiln", str(folder / "kiln.toml"),
        "--plan", str(folder / "plan.toml"), "--entries", str(folder / "entries.csv"), "--out", str(out),
    ]) == 0  # fmt: skip
    return out.read_bytes()


def facts(lines: str) -> list[object]:
    """Alarms and prompts alone, which the record keeps; episodes are numbered by the rows of each record."""
    found = [one for one in map(json.loads, lines.splitlines()) if one["type"] != "estimate"]
    return [{key: value for key, value in one.items() if key != "id"} for one in found]


def test_a_replay_of_the_export_is_the_outcomes_byte_for_byte(data: Path, tmp_path: Path):
    assert export(data, tmp_path / "out") == 0
    folder = only(tmp_path / "out")
    assert sorted(os.listdir(folder)) == FILES
    assert replay(folder, tmp_path / "again.jsonl") == (folder / "outcomes.jsonl").read_bytes()


def test_they_are_what_the_record_kept_when_the_firing_came_in(data: Path, tmp_path: Path):
    """The record's own alarms and prompts, stored at the import, against a fold of the exported files."""
    assert export(data, tmp_path / "out") == 0
    folder = only(tmp_path / "out")
    told = facts((folder / "told.jsonl").read_text())
    again = facts((folder / "outcomes.jsonl").read_text())
    assert any(isinstance(one, dict) and one["type"] == "alarm" for one in told)
    assert again == told[: len(again)]
    assert len(again) >= len(told) - 2, "at most what is said of a kiln that has gone cold is missing"


def test_every_reading_is_there_to_its_last_bit(data: Path, tmp_path: Path):
    assert export(data, tmp_path / "out") == 0
    with (only(tmp_path / "out") / "readings.csv").open() as lines:
        exported = list(readings(lines, "readings.csv", puffin.KILN))
    with closing(sqlite3.connect(data / DATABASE)) as connection:
        stored = connection.execute("SELECT monotonic_ms, celsius_1, celsius_2, celsius_3 FROM reading ORDER BY place")
        kept = [(at, *(None if one is None else one / 128 for one in steps)) for at, *steps in stored]
    assert [(at, *(probe.celsius for probe in reading.probes)) for at, reading in exported] == kept[: len(exported)]
    assert len(exported) > 700


def test_entries_come_back_as_they_were_written(data: Path, tmp_path: Path):
    assert export(data, tmp_path / "out") == 0
    assert (only(tmp_path / "out") / "entries.csv").read_text() == ENTRIES


def test_an_export_brought_into_another_record_is_the_same_firing(data: Path, tmp_path: Path):
    assert export(data, tmp_path / "out") == 0
    folder = only(tmp_path / "out")
    other = tmp_path / "other"
    assert main([
        "import", str(folder / "readings.csv"), "--kiln", str(folder / "kiln.toml"),
        "--plan", str(folder / "plan.toml"), "--entries", str(folder / "entries.csv"), "--data", str(other),
        "--unit", "degC",
    ]) == 0  # fmt: skip
    with open_records(data) as records, open_records(other) as again:
        (one,), (two,) = records.firings("Puffin"), again.firings("Puffin")
        assert (one.started_utc_ms, one.peak_celsius, one.alarms) == (two.started_utc_ms, two.peak_celsius, two.alarms)
        assert records.minutes("Puffin", one.id) == again.minutes("Puffin", two.id)


def test_readings_that_were_let_go_are_there_by_the_minute_and_it_says_so(data: Path, tmp_path: Path):
    with closing(sqlite3.connect(data / DATABASE)) as connection:
        connection.execute("DELETE FROM reading WHERE place IN (SELECT place FROM reading ORDER BY place LIMIT 350)")
        connection.commit()
    assert export(data, tmp_path / "out") == 0
    folder = only(tmp_path / "out")
    assert "one a minute" in (folder / "README.txt").read_text()
    with (folder / "readings.csv").open() as lines:
        found = list(readings(lines, "readings.csv", puffin.KILN))
    with open_records(data) as records:
        (book,) = records.firings("Puffin")
        points = records.minutes("Puffin", book.id)
    assert [at for at, _ in found] == [point.utc_ms for point in points]
    means = [None if ring is None else round(ring.mean_celsius * 128) / 128 for point in points for ring in point.rings]
    assert [probe.celsius for _, reading in found for probe in reading.probes] == means
    assert facts((folder / "outcomes.jsonl").read_text())


def test_all_firings_into_one_zip_and_one_of_them_by_its_number(data: Path, tmp_path: Path):
    firing(tmp_path / "f", START + timedelta(days=3))
    assert export(data, tmp_path / "all.zip") == 0
    with zipfile.ZipFile(tmp_path / "all.zip") as packed:
        names = packed.namelist()
        assert packed.testzip() is None
    assert sorted({name.partition("/")[0] for name in names}) == [
        "Puffin-2024-10-30T19-41", "Puffin-2024-11-02T19-41", "README.txt",
    ]  # fmt: skip
    with open_records(data) as records:
        newest, _ = records.firings("Puffin")
    assert export(data, tmp_path / "one", "--firing", str(newest.id)) == 0
    assert only(tmp_path / "one").name == "Puffin-2024-11-02T19-41"
    assert sorted(os.listdir(tmp_path)) == ["all.zip", "f", "one"]


def test_the_daemon_that_has_the_record_writes_the_same(data: Path, tmp_path: Path):
    assert export(data, tmp_path / "out") == 0
    archive = open_archive(data, seconds=time.monotonic, tell=lambda code, words: None)
    hatch = Hatch(data, {ACT: answering(archive, data)})
    hatch.start()
    assert export(data, tmp_path / "asked") == 0
    hatch.stop()
    assert archive.close(30)
    alone, asked = only(tmp_path / "out"), only(tmp_path / "asked")
    for name in FILES:
        assert (alone / name).read_bytes() == (asked / name).read_bytes(), name
    assert not (data / "exports").exists()


def test_a_number_no_probe_reads_becomes_the_fault_range(data: Path, tmp_path: Path):
    with closing(sqlite3.connect(data / DATABASE)) as connection:
        connection.execute("UPDATE reading SET celsius_2 = -100 * 128 WHERE place = (SELECT min(place) FROM reading)")
        connection.commit()
    assert export(data, tmp_path / "out") == 0
    with (only(tmp_path / "out") / "readings.csv").open() as lines:
        _, first = next(readings(lines, "readings.csv", puffin.KILN))
    assert first.probes[1].fault is Fault.RANGE


@pytest.mark.parametrize(
    ("more", "words"), [(["--firing", "7"], "no firing 7"), (["--zone", "Nowhere"], "no time zone")]
)
def test_what_cannot_be_is_refused_and_leaves_nothing(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], words: str
):
    assert export(data, tmp_path / "out", *more) == 2
    assert words in capsys.readouterr().err
    assert sorted(os.listdir(tmp_path)) == ["f"]
    (tmp_path / "out.zip").write_text("mine")
    assert export(data, tmp_path / "out.zip") == 2
    assert (tmp_path / "out.zip").read_text() == "mine"
