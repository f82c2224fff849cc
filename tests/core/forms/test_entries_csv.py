"""What people write down: the words there are, and a clear sentence for any other."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.forms.entries_csv import check_entry, entries
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.moment import utc_ms_from_text
from spyhole.core.plan import Plan, Stage
from spyhole.core.refusal import Refusal

HEADER = "time,kind,subject,value\n"
PUFFIN = Kiln("Puffin", 1290.0, (Ring("bottom", 3100.0, Probe()), Ring("top", 2900.0)))
NIGHT = Plan("Bisque", "05", (Stage("high", (Switch.HIGH, Switch.HIGH), until_cone=True),), 0, "05")


def read(text: str) -> list[tuple[int, Entry]]:
    return entries(text.splitlines(keepends=True), "entries.csv", PUFFIN, NIGHT)


def refusal(row: str) -> str:
    with pytest.raises(Refusal) as caught:
        read(f"{HEADER}2031-10-30T19:41:11Z,{row}\n")
    return str(caught.value)


@pytest.mark.parametrize(
    ("row", "entry"),
    [
        ("start,,05", Entry(EntryKind.START, "", "05")),
        ("start,,", Entry(EntryKind.START, "", "05")),
        ("start,,5", Entry(EntryKind.START, "", "5")),
        ("switch,bottom,low", Entry(EntryKind.SWITCH, "bottom", "low")),
        ("plugs,,half", Entry(EntryKind.PLUGS, "", "half")),
        ("plugs,top,out", Entry(EntryKind.PLUGS, "top", "out")),
        ("lid,,propped", Entry(EntryKind.LID, "", "propped")),
        ("timer,,240", Entry(EntryKind.TIMER, "", "240")),
        ("timer,,37.6", Entry(EntryKind.TIMER, "", "38")),
        ("timer,,0", Entry(EntryKind.TIMER, "", "0")),
        ("shutoff,,tripped", Entry(EntryKind.SHUTOFF, "", "tripped")),
        ("power,,back", Entry(EntryKind.POWER, "", "back")),
        ("cone,top,06:down", Entry(EntryKind.CONE, "top", "06:down")),
        ("cone,top,05.5:flat", Entry(EntryKind.CONE, "top", "05.5:flat")),
        ("cone,bottom,05:85", Entry(EntryKind.CONE, "bottom", "05:85")),
        ('note,,"clean firing, top a touch cool"', Entry(EntryKind.NOTE, "", "clean firing, top a touch cool")),
        ("note,top,new elements", Entry(EntryKind.NOTE, "top", "new elements")),
    ],
)
def test_each_kind_is_read(row: str, entry: Entry) -> None:
    assert read(f"{HEADER}2031-10-30T19:41:11Z,{row}\n") == [(utc_ms_from_text("2031-10-30T19:41:11Z"), entry)]


def test_entries_keep_the_order_of_their_rows_and_there_may_be_none() -> None:
    rows = ["2031-10-30T19:41:11Z,lid,,cracked", "2031-10-30T18:00:00Z,lid,,closed"]
    assert [entry.value for _, entry in read(HEADER + "\n".join(rows))] == ["cracked", "closed"]
    assert read(HEADER) == []


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            "swich,bottom,low",
            "entries.csv line 2, kind: 'swich' is no entry; it is one of start, switch, plugs, lid, timer",
        ),
        ("switch,botom,low", "entries.csv line 2, subject: no ring is called 'botom'; switch wants one of bottom, top"),
        ("switch,,low", "subject: no ring is called ''; switch wants one of bottom, top"),
        (
            "switch,bottom,on",
            "entries.csv line 2, value: 'on' is no setting of switch; it is one of off, low, medium, high",
        ),
        ("plugs,middle,in", "subject: 'middle' is no subject of plugs; it is empty or one of bottom, top"),
        ("plugs,,shut", "value: 'shut' is no setting of plugs; it is one of in, half, out"),
        ("lid,top,open", "subject: 'top' is no subject of lid; it stays empty"),
        ("lid,,ajar", "value: 'ajar' is no setting of lid; it is one of closed, cracked, propped, open"),
        ("timer,,-5", "value: '-5' is not what a timer can be wound to; it is minutes from now, 0 to 1440"),
        ("timer,,1e9", "value: '1e9' is not what a timer can be wound to"),
        ("timer,,nan", "value: 'nan' is not what a timer can be wound to"),
        ("timer,,4 h", "value: '4 h' is not what a timer can be wound to"),
        ("shutoff,,dropped", "value: 'dropped' is no setting of shutoff; it is one of tripped, armed"),
        ("power,,off", "value: 'off' is no setting of power; it is one of lost, back"),
        ("start,,99", "value: there is no cone '99'; the cones are 022, 021"),
        (
            "cone,top,06",
            "value: '06' says no cone and how far it has bent; it is CONE:BEND, BEND 0 to 120 degrees, down or",
        ),
        ("cone,top,06:200", "value: '06:200' says no cone and how far it has bent"),
        ("cone,top,99:down", "value: there is no cone '99'"),
        ("cone,,06:down", "subject: no ring is called ''; cone wants one of bottom, top"),
        ("note,,", "value: a note says something; it is 1 to 500 characters"),
        ("note,,a,b", "entries.csv line 2: it has 5 cells and the header 4; a value with a comma stands in quotes"),
    ],
)
def test_a_slip_is_refused_with_file_line_and_what_may_stand_there(row: str, said: str) -> None:
    assert said in refusal(row)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "entries.csv line 1: the file is empty; it begins time,kind,subject,value"),
        ("\n", "entries.csv line 1: the file is empty"),
        ("time;kind;subject;value\n", "the header reads 'time;kind;subject;value' (columns are parted by commas"),
        (
            "time,kind,ring,value\n",
            "entries.csv line 1: the header reads 'time,kind,ring,value'; it is time,kind,subject,value",
        ),
        (HEADER + "last night,lid,,open\n", "entries.csv line 2, time: 'last night' is not a time"),
    ],
)
def test_what_is_no_entries_file_is_refused(text: str, said: str) -> None:
    with pytest.raises(Refusal) as caught:
        read(text)
    assert said in str(caught.value)


def test_an_entry_from_the_page_is_refused_by_its_field() -> None:
    with pytest.raises(Refusal) as caught:
        check_entry("switch", "bottom", "on", "Ines", PUFFIN, NIGHT)
    assert caught.value.where == "value"
    with pytest.raises(Refusal) as caught:
        check_entry("switch", "bottom", "low", "x" * 61, PUFFIN, NIGHT)
    assert caught.value.where == "who"
    assert check_entry("switch", "bottom", "low", "Ines", PUFFIN, NIGHT).who == "Ines"


@given(
    st.sampled_from(EntryKind),
    st.sampled_from(["", "bottom", "top"]) | st.text(),
    st.text() | st.text().map("05:{}".format),
)
def test_any_words_are_an_entry_or_refused_and_an_entry_stays_as_checked(kind: str, subject: str, value: str) -> None:
    with suppress(Refusal):
        entry = check_entry(kind, subject, value, "", PUFFIN, NIGHT)
        assert check_entry(entry.kind, entry.subject, entry.value, entry.who, PUFFIN, NIGHT) == entry


@given(st.text() | st.text().map((HEADER + "2031-10-30T19:41:11Z,{}").format))
def test_any_text_is_entries_or_refused(text: str) -> None:
    with suppress(Refusal):
        read(text)
