"""Another logger's CSV: each peculiarity is right, or refused with the line and the reason."""

from array import array
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.forms.foreign.guess import SAMPLE_LINES, Said, guess_layout
from spyhole.core.forms.foreign.layout import Same, TempUnit, TimeForm
from spyhole.core.forms.foreign.log import Log, check_log, read_log
from spyhole.core.forms.foreign.values import NOTHING, STEPS
from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.core.refusal import Refusal

PUFFIN = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle", "top")))
IN_CELSIUS = Said(zone="UTC", unit=TempUnit.CELSIUS)
NOW_MS = round(datetime(2026, 1, 1, tzinfo=UTC).timestamp() * 1000)


def ms(text: str) -> int:
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def read(text: str, said: Said = IN_CELSIUS, kiln: Kiln = PUFFIN) -> Log:
    lines = text.splitlines(keepends=True)
    layout = guess_layout(lines[:SAMPLE_LINES], "old.csv", kiln, said)
    log = read_log(lines, "old.csv", layout)
    check_log(log, "old.csv", layout, kiln, NOW_MS)
    return log


def celsius(log: Log) -> list[list[float | None]]:
    return [[None if steps == NOTHING else steps / STEPS for steps in column] for column in log.columns]


PLAIN = """time,bottom,middle,top
2024-10-30T19:41:00Z,20,21,22
2024-10-30T19:41:05Z,20.5,21.5,22.5
"""


def test_a_plain_file_is_read_as_it_stands():
    log = read(PLAIN)
    assert list(log.utc_ms) == [ms("2024-10-30T19:41:00Z"), ms("2024-10-30T19:41:05Z")]
    assert celsius(log) == [[20, 20.5], [21, 21.5], [22, 22.5]]
    assert list(log.lines) == [2, 3]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_any_separator(delimiter: str):
    assert celsius(read(PLAIN.replace(",", delimiter))) == [[20, 20.5], [21, 21.5], [22, 22.5]]


def test_decimal_commas_between_semicolons():
    assert celsius(read(PLAIN.replace(",", ";").replace(".", ","))) == [[20, 20.5], [21, 21.5], [22, 22.5]]


def test_a_comma_as_separator_and_in_a_number_is_refused_with_its_line():
    text = PLAIN.replace("20.5,", '"20,5",')
    with pytest.raises(Refusal, match=r"line 3: '20,5' is not a number with a decimal point"):
        read(text)


def test_words_above_the_columns_and_columns_of_no_ring_are_passed_over():
    text = "Logger 7\nStarted by Wren\n\n" + PLAIN.replace("top\n", "top,ambient\n").replace("22\n", "22,17\n").replace(
        "22.5\n", "22.5,17\n"
    )
    assert celsius(read(text)) == [[20, 20.5], [21, 21.5], [22, 22.5]]


def test_fahrenheit_by_its_heading_each_column_by_its_own():
    text = (
        "time,bottom (°F),middle (degC),top [F]\n2024-10-30T19:41:00Z,212,100,32\n2024-10-30T19:41:05Z,1832,1000,50\n"
    )
    assert celsius(read(text, Said(zone="UTC"))) == [[100, 1000], [100, 1000], [0, 10]]


def test_a_unit_in_each_cell_is_believed_cell_by_cell():
    text = "time,bottom,middle,top\n2024-10-30T19:41:00Z,212 F,100 C,100°C\n2024-10-30T19:41:05Z,101C,213.8F,100\n"
    with pytest.raises(Refusal, match=r"nothing says whether 'top'|--unit"):
        read(text.replace("100°C", "100"), Said(zone="UTC"))
    assert celsius(read(text, IN_CELSIUS)) == [[100, 101], [100, 101], [100, 100]]


def test_a_unit_that_nothing_says_is_asked_for():
    with pytest.raises(Refusal, match=r"degC or degF; say --unit"):
        read(PLAIN, Said(zone="UTC"))


def test_a_heading_that_contradicts_what_was_said_is_refused():
    with pytest.raises(Refusal, match=r"--unit says degC and the column"):
        read(PLAIN.replace("bottom", "bottom (F)"), IN_CELSIUS)


def test_a_unit_that_changes_midway_is_refused_with_its_line():
    text = "time,bottom,middle,top\n" + "".join(
        f"2024-10-30T19:{minute:02}:00Z,{c},{c},{c}\n"
        for minute, c in enumerate([500, 502, 504, 939.2 + 3.6, 946.4, 950])
    )
    with pytest.raises(Refusal, match=r"line 5, bottom: from 504 to 943 at once: .* another unit"):
        read(text)


def test_hotter_than_the_kiln_goes_is_refused_and_degf_suggested():
    with pytest.raises(Refusal, match=r"line 3, bottom: 1800 degC is more than Puffin can reach.*--unit degF"):
        read(PLAIN.replace("20.5", "1800"))


def test_no_number_is_no_reading():
    text = PLAIN.replace("20,21,22", ",OPEN,---").replace("20.5", "NaN")
    assert celsius(read(text)) == [[None, None], [None, 21.5], [None, 22.5]]


@pytest.mark.parametrize("bad", ["hot", "1e3x", "1_0", "12.5.6", "9999", "1e400"])
def test_a_cell_that_is_no_temperature_is_refused_with_its_line(bad: str):
    with pytest.raises(Refusal, match=r"old.csv line 3: "):
        read(PLAIN.replace("20.5", bad))


def test_a_row_of_another_length_is_refused_with_its_line():
    with pytest.raises(Refusal, match=r"line 3: it has 5 cells and the others 4"):
        read(PLAIN.replace("22.5", "22.5,1") + PLAIN.splitlines()[1].replace("19:41", "19:42") + "\n")


@pytest.mark.parametrize(
    ("stamps", "form"),
    [
        (("30/10/2024 19:41:00", "30/10/2024 19:41:05"), None),
        (("10/30/2024 7:41:00 PM", "10/30/2024 7:41:05 PM"), None),
        (("30.10.24 19:41:00", "30.10.24 19:41:05"), None),
        (("2024/10/30 19:41:00", "2024/10/30 19:41:05"), None),
        (("2024-10-30 19:41:00.000", "2024-10-30 19:41:05.000"), None),
        (("1730317260", "1730317265"), None),
        (("1730317260000", "1730317265000"), None),
        (("2024-10-30 21:41:00+02:00", "2024-10-30 21:41:05+02:00"), None),
        (("10-30-2024 19:41:00", "10-30-2024 19:41:05"), TimeForm.MONTH_FIRST),
    ],
)
def test_times_as_loggers_write_them(stamps: tuple[str, str], form: TimeForm | None):
    text = PLAIN.replace("2024-10-30T19:41:00Z", stamps[0]).replace("2024-10-30T19:41:05Z", stamps[1])
    assert list(read(text, replace(IN_CELSIUS, time_form=form)).utc_ms) == [1730317260000, 1730317265000]


def test_date_and_clock_in_columns_of_their_own():
    text = "Date,Clock,bottom,middle,top\n30.10.2024,19:41:00,20,21,22\n30.10.2024,19:41:05,20,21,22\n"
    assert list(read(text).utc_ms) == [1730317260000, 1730317265000]


def test_day_or_month_first_is_never_guessed():
    text = PLAIN.replace("2024-10-30T19:41:00Z", "03/04/2024 10:00:00").replace(
        "2024-10-30T19:41:05Z", "03/04/2024 10:00:05"
    )
    with pytest.raises(Refusal, match=r"03/04/2024 may be read with the day or the month first"):
        read(text)


@pytest.mark.parametrize(
    ("name", "cells"), [("elapsed (min)", ("0", "0.5")), ("seconds", ("0", "30")), ("elapsed", ("0:00:00", "0:00:30"))]
)
def test_times_counted_from_a_start_want_the_start(name: str, cells: tuple[str, str]):
    text = f"{name},bottom,middle,top\n{cells[0]},20,21,22\n{cells[1]},20,21,22\n"
    with pytest.raises(Refusal, match=r"count from a start it does not name; say --start"):
        read(text)
    log = read(text, replace(IN_CELSIUS, start_utc_ms=1730317260000))
    assert list(log.utc_ms) == [1730317260000, 1730317290000]


def test_a_zone_is_asked_for_where_times_name_none():
    with pytest.raises(Refusal, match=r"its times name no zone; say .*--zone"):
        read(PLAIN.replace("Z,", ",").replace("T", " "), Said(unit=TempUnit.CELSIUS))
    with pytest.raises(Refusal, match=r"'Europe/Atlantis' is no zone"):
        read(PLAIN.replace("Z,", ","), Said(zone="Europe/Atlantis", unit=TempUnit.CELSIUS))


@given(
    zone=st.sampled_from(["Europe/Dublin", "America/St_Johns", "Australia/Lord_Howe", "America/Sao_Paulo", "UTC"]),
    # From the tz database: each of these zones has its changes, if any, in these nights.
    begin=st.sampled_from(
        ["2024-10-26T20:00:00Z", "2024-11-02T20:00:00Z", "2024-04-06T05:00:00Z", "2024-03-30T20:00:00Z"]
    ),
    minutes=st.integers(1, 30),
)
def test_local_times_come_out_right_across_every_change_of_the_clocks(zone: str, begin: str, minutes: int):
    """A logger that writes its zone's wall clock, whatever that does; the times are the tz database's own."""
    start = datetime.fromisoformat(begin)
    true = [start + timedelta(minutes=minutes * n) for n in range(12 * 60 // minutes)]
    text = "time,bottom,middle,top\n" + "".join(
        f"{t.astimezone(ZoneInfo(zone)):%d.%m.%Y %H:%M:%S},20,21,22\n" for t in true
    )
    assert list(read(text, replace(IN_CELSIUS, zone=zone)).utc_ms) == [round(t.timestamp() * 1000) for t in true]


def test_an_hour_that_never_was_is_refused_with_its_line():
    text = PLAIN.replace("2024-10-30T19:41:00Z", "2024-03-31 00:59:00").replace(
        "2024-10-30T19:41:05Z", "2024-03-31 01:30:00"
    )
    with pytest.raises(Refusal, match=r"line 3: '2024-03-31 01:30:00' did not exist in Europe/Dublin"):
        read(text, replace(IN_CELSIUS, zone="Europe/Dublin"))


def test_a_time_that_goes_back_is_refused_with_its_line_and_why_it_may_be():
    text = PLAIN + "2024-10-30T18:41:10Z,20,21,22\n"
    with pytest.raises(Refusal, match=r"line 4: the time goes back by 60 min: .*clock was set.*zone"):
        read(text)


def test_newest_first_is_turned_round():
    head, *rows = PLAIN.splitlines(keepends=True)
    more = [f"2024-10-30T19:41:{s:02}Z,{s},21,22\n" for s in range(10, 60, 5)]
    log = read(head + "".join(reversed(rows + more)))
    assert list(log.utc_ms) == sorted(log.utc_ms)
    assert celsius(log)[0][:3] == [20, 20.5, 10]


def test_a_row_that_is_there_twice_counts_once_and_is_counted():
    log = read(PLAIN + PLAIN.splitlines()[-1] + "\n")
    assert (len(log.utc_ms), log.repeated) == (2, 1)


def test_an_instant_with_two_numbers_is_refused_until_somebody_says_which():
    text = PLAIN + "2024-10-30T19:41:05Z,99,21,22\n"
    with pytest.raises(Refusal, match=r"line 4: .*comes twice with different numbers"):
        read(text)
    assert celsius(read(text, replace(IN_CELSIUS, same=Same.LAST)))[0] == [20, 99]
    assert celsius(read(text, replace(IN_CELSIUS, same=Same.FIRST)))[0] == [20, 20.5]


def test_gaps_stay_gaps():
    log = read(PLAIN + "2024-10-30T23:00:00Z,20,21,22\n")
    assert len(log.utc_ms) == 3


def test_what_is_still_to_come_is_refused():
    with pytest.raises(Refusal, match=r"line 3: this is still to come"):
        read(PLAIN.replace("2024", "2031"))


LONG = """time,where,temperature
2024-10-30T19:41:00Z,bottom,20
2024-10-30T19:41:00Z,middle,21
2024-10-30T19:41:00Z,top,22
2024-10-30T19:41:00Z,room,15
2024-10-30T19:41:05Z,top,22.5
2024-10-30T19:41:05Z,bottom,20.5
"""


def test_a_ring_a_row():
    log = read(LONG)
    assert celsius(log) == [[20, 20.5], [21, None], [22, 22.5]]
    assert log.others == 1


def test_a_ring_a_row_under_names_of_the_loggers_own():
    text = LONG.replace("bottom", "CH1").replace("middle", "CH2").replace("top", "CH3")
    said = replace(IN_CELSIUS, ring_column="where", rings={"bottom": "CH1", "middle": "CH2", "top": "CH3"})
    assert celsius(read(text, said)) == [[20, 20.5], [21, None], [22, 22.5]]


def test_rings_are_named_by_a_person_where_the_file_does_not():
    text = PLAIN.replace("bottom,middle,top", "T1,T2,T3")
    with pytest.raises(Refusal, match=r"cannot be told which column is which ring.*T1, T2, T3"):
        read(text)
    said = replace(IN_CELSIUS, rings={"bottom": "T3", "middle": "T2", "top": "T1"})
    assert celsius(read(text, said))[0] == [22, 22.5]


def test_one_probe_and_one_column_need_no_name():
    kiln = replace(PUFFIN, rings=(Ring("only", 3000.0, Probe()),))
    assert celsius(read("when time,degC\n1730317260,20\n1730317265,21\n", IN_CELSIUS, kiln)) == [[20, 21]]


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_and_nothing_else(data: bytes):
    try:
        read(data.decode("utf-8", "replace"))
    except Refusal:
        return


@given(
    st.lists(
        st.tuples(st.integers(0, 10_000), st.floats(-40, 1300).map(lambda c: round(c, 3))), min_size=2, max_size=50
    )
)
def test_columns_read_at_once_are_what_cells_read_one_by_one_would_be(rows: list[tuple[int, float]]):
    rows = sorted(dict(rows).items())
    text = "time,bottom,middle,top\n" + "".join(f"{1730317260 + s},{c},{c},{c}\n" for s, c in rows)
    lines = (text + f"{1730317260 + 20_000},,,\n").splitlines()
    fast = read_log(lines, "old.csv", guess_layout(lines, "old.csv", PUFFIN, IN_CELSIUS))
    assert list(fast.columns[0]) == [*array("i", (round(c * STEPS) for _, c in rows)), NOTHING]


def seconds(count: int) -> list[str]:
    began = datetime(2024, 10, 30, tzinfo=UTC)
    return [f"{began + timedelta(seconds=n):%Y-%m-%dT%H:%M:%SZ},{20 + n / 1000:.3f},21,22\n" for n in range(count)]


@pytest.mark.parametrize("at", [3, 1_999, 2_000, 4_321], ids=lambda at: f"row {at}")
@pytest.mark.parametrize(
    ("odd", "said"),
    [
        ('"2024-10-30T05:00:00Z","a,b",21,22\n', "bottom|a,b"),
        ("2024-10-30T05:00:00Z,20,21\n", "it has 3 cells and the others 4"),
        ("2024-10-30T05:00:00Z,warm,21,22\n", "'warm' is not a number"),
        ("2023-10-30T05:00:00Z,20,21,22\n", "the time goes back"),
    ],
)
def test_in_a_long_file_the_first_wrong_row_is_named_by_its_line(at: int, odd: str, said: str) -> None:
    rows = seconds(6_000)
    rows.insert(at, odd)
    with pytest.raises(Refusal) as refused:
        read("".join(["time,bottom,middle,top\n", *rows]))
    assert f"line {at + 2}" in str(refused.value)
    assert any(part in str(refused.value) for part in said.split("|"))


def test_quoted_and_blank_rows_in_a_long_file_lose_nothing_around_them() -> None:
    rows = seconds(5_000)
    plain = read("".join(["time,bottom,middle,top\n", *rows]))
    in_quotes = (",".join(f'"{cell}"' for cell in row.rstrip().split(",")) + "\n" for row in rows[3_000:])
    quoted = [*rows[:3_000], "\n", *in_quotes]
    again = read("".join(["time,bottom,middle,top\n", *quoted]))
    assert (again.utc_ms, again.columns) == (plain.utc_ms, plain.columns)
    assert list(plain.lines) == list(range(2, 5_002))
    assert list(again.lines) == [*range(2, 3_002), *range(3_003, 5_003)]
