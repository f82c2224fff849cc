"""Replay: how files become rows, and that the same files say the same, byte for byte."""

import io
from datetime import UTC
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.app.commands import main
from spyhole.app.replay import rows
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, Row, Settings
from spyhole.core.moment import utc_ms_from_text
from spyhole.core.reading import ProbeReading, Reading
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

PLAN = TONIGHT.plan
SECOND = Reading((ProbeReading(20.0),) * 3)
NOTE = Entry(EntryKind.NOTE, "", "a note")


def kinds(made: list[Row]) -> list[str]:
    return [type(row.told).__name__ for row in made]


def utc_of(made: list[Row]) -> list[int]:
    """What the watch takes for UTC at each row after the first: the clock rows mend it."""
    offset, derived = 0, []
    for row in made:
        if isinstance(row.told, Clock):
            offset = row.told.utc_ms - row.monotonic_ms
        derived.append(row.monotonic_ms + offset)
    return derived


def test_the_clock_and_the_settings_come_first() -> None:
    made = list(rows(KILN, PLAN, [(5000, SECOND), (6000, SECOND)]))
    assert kinds(made) == ["Clock", "Settings", "Reading", "Reading"]
    assert made[1].told == Settings(KILN, PLAN)
    assert [row.sequence for row in made] == [1, 2, 3, 4]
    assert [row.monotonic_ms for row in made] == [5000, 5000, 5000, 6000]
    assert {row.boot for row in made} == {"replay"}


def test_an_entry_comes_before_the_reading_of_its_instant() -> None:
    made = list(rows(KILN, PLAN, [(5000, SECOND), (6000, SECOND)], [(1000, NOTE), (6000, NOTE), (9000, NOTE)]))
    assert kinds(made) == ["Clock", "Settings", "Entry", "Reading", "Entry", "Reading", "Entry"]
    assert [row.monotonic_ms for row in made] == [1000, 1000, 1000, 5000, 6000, 6000, 9000]


def test_a_clock_that_steps_back_is_told_and_time_goes_on() -> None:
    made = list(rows(KILN, PLAN, [(10_000, SECOND), (15_000, SECOND), (3_000, SECOND), (8_000, SECOND)]))
    assert kinds(made) == ["Clock", "Settings", "Reading", "Reading", "Clock", "Reading", "Reading"]
    assert [row.monotonic_ms for row in made] == [10_000, 10_000, 10_000, 15_000, 20_000, 20_000, 25_000]
    assert made[4].told == Clock(3_000, synchronised=True)


times = st.lists(st.integers(0, 10**9), min_size=1, max_size=40)


@given(times, times)
def test_whatever_the_clocks_say_rows_are_ordered_and_keep_their_time(readings: list[int], notes: list[int]) -> None:
    made = list(rows(KILN, PLAN, [(t, SECOND) for t in readings], [(t, NOTE) for t in sorted(notes)]))
    assert [row.sequence for row in made] == list(range(1, len(made) + 1))
    assert all(a.monotonic_ms <= b.monotonic_ms for a, b in pairwise(made))
    assert sum(isinstance(row.told, Entry) for row in made) == len(notes)
    derived = [utc for row, utc in zip(made, utc_of(made), strict=True) if isinstance(row.told, Reading)]
    assert derived == readings


def test_the_same_files_say_the_same_byte_for_byte(files: Any) -> None:
    long = ["time,bottom,middle,top"]
    start = utc_ms_from_text("2031-10-30T19:41:39Z") // 1000
    from datetime import datetime

    for second in range(0, 7200, 10):
        stamp = datetime.fromtimestamp(start + second, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        long.append(f"{stamp},{20 + second / 100},{20 + second / 200},{20 + second / 300}")
    files.set("\n".join(long) + "\n", "friday.csv")
    said = []
    for name in ("first.jsonl", "second.jsonl"):
        out = files.folder / name
        named = ["--kiln", str(files.kiln), "--plan", str(files.plan), "--entries", str(files.entries)]
        assert main(["replay", str(files.readings), *named, "--out", str(out)]) == 0
        said.append(out.read_bytes())
    assert said[0] == said[1]
    assert said[0].count(b'"type": "estimate"') > 100


def test_a_spreadsheets_mark_and_line_ends_are_no_matter(files: Any, capsys: pytest.CaptureFixture[str]) -> None:
    def said() -> str:
        assert main(["replay", str(files.readings), "--kiln", str(files.kiln), "--plan", str(files.plan)]) == 0
        return capsys.readouterr().out

    plain = said()
    text = files.readings.read_text()
    files.readings.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert said() == plain


def test_a_reader_who_goes_away_is_no_error(files: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    class Gone(io.StringIO):
        def write(self, text: str) -> int:
            raise BrokenPipeError

        def fileno(self) -> int:
            import os

            return os.open(os.devnull, os.O_WRONLY)

    files.set(files.readings.read_text().replace("19:42:09", "19:59:09"), "friday.csv")
    monkeypatch.setattr("sys.stdout", Gone())
    named = ["--kiln", str(files.kiln), "--plan", str(files.plan), "--entries", str(files.entries)]
    assert main(["replay", str(files.readings), *named]) == 0
