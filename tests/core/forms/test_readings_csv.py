"""The readings file: every row a time and what each probe said, or one clear sentence."""

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.forms.readings_csv import header_line, reading_line, readings
from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.core.moment import utc_ms_from_text
from spyhole.core.reading import NOTHING_READ, Fault, ProbeReading, Reading
from spyhole.core.refusal import Refusal

HEADER = "time,bottom,middle\n"
ROW = "2031-10-30T19:41:39Z,15.078125,15.5\n"
PUFFIN = Kiln(
    "Puffin", 1290.0, (Ring("bottom, left", 3100.0, Probe()), Ring("middle", 2900.0), Ring('t"op', 1.0, Probe()))
)


def read(text: str, kiln: Kiln) -> list[tuple[int, Reading]]:
    return list(readings(text.splitlines(keepends=True), "readings.csv", kiln))


def refusal(text: str, kiln: Kiln) -> str:
    with pytest.raises(Refusal) as caught:
        read(text, kiln)
    return str(caught.value)


def test_a_row_is_a_time_and_what_each_probe_said(kiln: Kiln) -> None:
    text = "time,bottom,middle,middle_fault\n2031-10-30T19:41:39Z,15.078125,15.5,\n2031-10-30T19:41:44Z,,,open\n"
    first = utc_ms_from_text("2031-10-30T19:41:39Z")
    assert read(text, kiln) == [
        (first, Reading((ProbeReading(15.078125), ProbeReading(15.5)))),
        (first + 5_000, Reading((NOTHING_READ, ProbeReading(None, Fault.OPEN)))),
    ]


def test_columns_stand_in_any_order_and_blank_lines_and_a_mark_at_the_start_do_no_harm(kiln: Kiln) -> None:
    assert read("\ufeffmiddle,time,bottom\n\n15.5,2031-10-30T19:41:39Z,15.078125\r\n\n", kiln) == read(
        HEADER + ROW, kiln
    )


def test_a_fault_beside_a_number_stands_and_the_number_does_not(kiln: Kiln) -> None:
    [(_, reading)] = read("time,bottom,middle,bottom_fault\n2031-10-30T19:41:39Z,400,15,unsure\n", kiln)
    assert reading.probes[0] == ProbeReading(None, Fault.UNSURE)


def test_temperatures_are_taken_to_the_amplifiers_own_step(kiln: Kiln) -> None:
    [(_, reading)] = read(HEADER + "2031-10-30T19:41:39Z,1017.2,-50\n", kiln)
    assert reading.probes == (ProbeReading(1017.203125), ProbeReading(-50.0))


def test_a_clock_that_steps_back_is_read_in_the_order_of_the_rows(kiln: Kiln) -> None:
    rows = [ROW, ROW.replace("19:41", "18:41"), ROW, ROW.replace("Z", "+02:00")]
    times = [utc_ms for utc_ms, _ in read(HEADER + "".join(rows), kiln)]
    assert [time - times[0] for time in times] == [0, -3_600_000, 0, -7_200_000]


def test_rows_are_read_one_at_a_time(kiln: Kiln) -> None:
    def endless() -> Iterator[str]:
        yield HEADER
        while True:
            yield ROW

    source = readings(endless(), "readings.csv", kiln)
    assert next(source) == next(source)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "readings.csv line 1: the file is empty; it begins time,bottom,middle"),
        ("\n\n", "readings.csv line 1: the file is empty"),
        (HEADER, "readings.csv line 2: there is no reading under the header"),
        (
            "stamp,temp\n1,2\n",
            "readings.csv line 1: there is no column 'stamp'; the header is time,bottom,middle, and if",
        ),
        (
            "time;bottom;middle\n1;2;3\n",
            "no column 'time;bottom;middle' (columns are parted by commas, decimals by a point)",
        ),
        ("time,bottom\n", "readings.csv line 1: the column 'middle' is missing; the header is time,bottom,middle"),
        ("bottom,middle\n", "readings.csv line 1: the column 'time' is missing"),
        ("time,bottom,middle,bottom\n", "readings.csv line 1: the column 'bottom' stands there twice"),
        ("time,bottom,middle,lid\n", "readings.csv line 1: there is no column 'lid'"),
        ("time,bottom,middle,top\n", "readings.csv line 1: the top ring has no probe in the kiln file"),
        ("time,bottom,middle,top_fault\n", "readings.csv line 1: there is no column 'top_fault'"),
        (ROW, "readings.csv line 1: there is no column '2031-10-30T19:41:39Z'; the header is time,bottom,middle"),
        (
            HEADER + ROW + ROW.replace("2031-10-30T19:41:39Z", "half past"),
            "readings.csv line 3, time: 'half past' is not a",
        ),
        (
            HEADER + ROW.replace("Z", ""),
            "line 2, time: '2031-10-30T19:41:39' is not a time between 1970 and 2200; times are",
        ),
        (
            HEADER + ROW.replace("2031", "1931"),
            "line 2, time: '1931-10-30T19:41:39Z' is not a time between 1970 and 2200",
        ),
        (
            HEADER + ROW.replace("2031", "9999"),
            "line 2, time: '9999-10-30T19:41:39Z' is not a time between 1970 and 2200",
        ),
        (
            HEADER + ROW + ROW.replace("15.5", "1e9"),
            "readings.csv line 3, middle: no probe reads '1e9' degC; it is from -50 ",
        ),
        (HEADER + ROW.replace("15.5", "nan"), "readings.csv line 2, middle: no probe reads 'nan' degC"),
        (HEADER + ROW.replace("15.5", "-inf"), "readings.csv line 2, middle: no probe reads '-inf' degC"),
        (
            HEADER + ROW.replace("15.5", "hot"),
            "readings.csv line 2, middle: 'hot' is not a number; it is degC, or empty",
        ),
        (HEADER + ROW.replace("15.5", "1_5"), "readings.csv line 2, middle: '1_5' is not a number"),
        (
            HEADER + ROW.replace("15.5", "15,5"),
            "readings.csv line 2: it has 4 cells and the header 3; decimals have a point",
        ),
        (HEADER + "2031-10-30T19:41:39Z,15\n", "readings.csv line 2: it has 2 cells and the header 3"),
        (
            "time,bottom,middle,bottom_fault\n" + ROW.strip() + ",broken\n",
            "line 2, bottom_fault: 'broken' is no fault; it is",
        ),
        ("x" * 200_000, "readings.csv line 1: this is not CSV (field larger than field limit (131072))"),
    ],
)
def test_what_is_no_readings_file_is_refused_with_file_line_and_what_is_allowed(
    kiln: Kiln, text: str, said: str
) -> None:
    assert said in refusal(text, kiln)
    assert len(refusal(text, kiln)) < 300


def test_a_file_that_is_no_text_is_refused(kiln: Kiln, tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_bytes(b"time,bottom,middle\n\xff\xfe\x00")
    with path.open(encoding="utf-8", newline="") as lines, pytest.raises(Refusal, match="this is not text in UTF-8"):
        list(readings(lines, "readings.csv", kiln))


steps = st.integers(-50 * 128, 1820 * 128).map(lambda step: step / 128.0)
said = (
    st.builds(ProbeReading, steps) | st.builds(ProbeReading, st.none(), st.sampled_from(Fault)) | st.just(NOTHING_READ)
)
seconds = st.integers(0, 7_258_118_400).map(lambda second: second * 1000)


@given(st.lists(st.tuples(seconds, st.builds(Reading, st.tuples(said, said))), min_size=1))
def test_readings_written_are_read_back_the_same(taken: list[tuple[int, Reading]]) -> None:
    lines = [header_line(PUFFIN), *(reading_line(utc_ms, reading) for utc_ms, reading in taken)]
    assert read("\n".join(lines), PUFFIN) == taken


@given(st.text() | st.text().map((HEADER + "{}").format) | st.text().map((HEADER + ROW + "{}").format))
def test_any_text_is_readings_or_refused(text: str) -> None:
    kiln = Kiln("Puffin", 1290.0, (Ring("bottom", 3100.0, Probe()), Ring("middle", 2900.0, Probe())))
    with suppress(Refusal):
        read(text, kiln)
