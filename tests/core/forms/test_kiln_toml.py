"""The kiln file: what it says, and how it refuses what it cannot be."""

from contextlib import suppress
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.cones.tolerance import CLASSES
from spyhole.core.forms.kiln_toml import kiln_from_toml, kiln_to_toml
from spyhole.core.kiln import Chamber, Kiln, Probe, Ring, SwitchShares
from spyhole.core.refusal import Refusal


def refusal(text: str) -> str:
    with pytest.raises(Refusal) as caught:
        kiln_from_toml(text, "kiln.toml")
    return str(caught.value)


def test_puffin_is_read_as_written(kiln: Kiln) -> None:
    assert kiln == Kiln(
        name="Puffin",
        maximum_celsius=1290.0,
        rings=(
            Ring("bottom", 3100.0, Probe("K", 1, 0.0)),
            Ring("middle", 2900.0, Probe("K", 2, -1.5)),
            Ring("top", 3000.0, None),
        ),
        mains_volts=230.0,
        cone_shutoff=True,
        timer_stops_in_power_cut=False,
        switch=SwitchShares(0.25, 0.5, 1.0),
        chamber=Chamber(70.0, 570.0, 240.0),
    )


def test_what_is_left_out_is_as_usual() -> None:
    kiln = kiln_from_toml(
        'name = "Puffin"\nmaximum_celsius = 1290\n[[ring]]\nname = "all"\nwatts = 3000\nprobe = {}', "kiln.toml"
    )
    assert kiln == Kiln("Puffin", 1290.0, (Ring("all", 3000.0, Probe("K", 2, 0.0)),), 230.0, True, True)


@pytest.mark.parametrize(
    ("written", "instead", "said"),
    [
        (
            "mains_volts = 230",
            "main_volts = 230",
            "kiln.toml, main_volts: there is no such key; the keys here are name,",
        ),
        ("maximum_celsius = 1290", "maximum_celsius = 1e9", "maximum_celsius: 1000000000.0 is out of range; it is a "),
        ("maximum_celsius = 1290", "maximum_celsius = 99", "number from 100 to 1400 degC"),
        ("maximum_celsius = 1290", "maximum_celsius = nan", "nan is out of range"),
        ("maximum_celsius = 1290", 'maximum_celsius = "1290"', "'1290' is not a number"),
        ("maximum_celsius = 1290", "maximum_celsius = true", "true is not a number"),
        (
            "maximum_celsius = 1290",
            "",
            "kiln.toml, maximum_celsius: it is missing; it is a number from 100 to 1400 degC",
        ),
        ("cone_shutoff = true", "cone_shutoff = 1", "cone_shutoff: 1 is neither yes nor no; it is true or false"),
        (
            "watts = 3100",
            "watts = 31000",
            "kiln.toml, ring 1, watts: 31000 is out of range; it is a number from 0 to 30000",
        ),
        ("watts = 2900", "watts = -1", "kiln.toml, ring 2, watts: -1 is out of range"),
        ('name = "middle"', 'name = "bottom"', "kiln.toml, ring 2, name: two rings are called 'bottom'"),
        ('name = "middle"', 'name = " "', "ring 2, name: ' ' is no name"),
        ('name = "middle"', "name = 2", "ring 2, name: 2 is not text"),
        ('name = "middle"', 'name = "time"', "'time' is a column of its own in a readings file"),
        (
            'type = "K", tolerance_class = 1',
            'type = "Q"',
            "ring 1, probe, type: 'Q' is no thermocouple; the types are B, E",
        ),
        (
            "tolerance_class = 2,",
            "tolerance_class = 3,",
            "type K has no class 3 at kiln temperatures; it comes in 1 and 2",
        ),
        ("offset_celsius = -1.5", "offset_celsius = 51", "number from -50 to 50 degC"),
        ("offset_celsius = -1.5", "ofset = 1", "ring 2, probe, ofset: there is no such key; the keys here are type, "),
        ("medium = 0.5", "medium = 0.2", "kiln.toml, switch: a higher setting gives fewer watts"),
        ("high = 1.0", "high = 100", "kiln.toml, switch, high: 100 is out of range"),
        ("ring_height_millimetres = 240", "", "chamber, ring_height_millimetres: it is missing"),
        ("[switch]", "[switch", "kiln.toml line 7: this is not TOML (expected ']'"),
        (
            'name = "Puffin"',
            "name = Puffin",
            "kiln.toml line 1: this is not TOML (invalid value); a line reads key = value",
        ),
        ('name = "Puffin"', "name,maximum\nPuffin,1290", "kiln.toml line 1: this is not TOML"),
    ],
)
def test_a_slip_is_refused_with_file_key_and_what_may_stand_there(
    kiln_text: str, written: str, instead: str, said: str
) -> None:
    assert written in kiln_text
    assert said in refusal(kiln_text.replace(written, instead, 1))


def test_a_kiln_has_one_to_eight_rings_a_probe_and_watts() -> None:
    head = 'name = "Puffin"\nmaximum_celsius = 1290\n'
    ring = '[[ring]]\nname = "{}"\nwatts = {}\n'
    assert "kiln.toml, ring: there is no ring; one to eight" in refusal(head)
    assert "kiln.toml, ring: there are 9; there may be 8" in refusal(
        head + "".join(ring.format(i, 1) for i in range(9))
    )
    assert "kiln.toml, ring: no ring has a probe" in refusal(head + ring.format("a", 3000))
    assert "kiln.toml, ring: no ring has any watts" in refusal(head + ring.format("a", 0) + "probe = {}")
    assert "kiln.toml, ring: 3 is not a list of tables; each begins with [[ring]]" in refusal(head + "ring = 3")


def test_an_empty_file_says_so() -> None:
    assert refusal("") == refusal(" \n\n") == "kiln.toml line 1: the file is empty"


printable = st.characters(exclude_categories=["C", "Z"]) | st.just(" ")
names = st.text(printable, min_size=1, max_size=60).map(str.strip).filter(lambda text: text not in ("", "time"))
probes = st.sampled_from([(letter, number) for letter, numbers in CLASSES.items() for number in numbers]).flatmap(
    lambda kind: st.builds(Probe, st.just(kind[0]), st.just(kind[1]), st.floats(-50.0, 50.0))
)
rings = st.lists(
    st.builds(Ring, names.filter(lambda text: not text.endswith("_fault")), st.floats(1.0, 30_000.0), probes),
    min_size=1,
    max_size=8,
    unique_by=lambda ring: ring.name,
).flatmap(lambda found: st.integers(1, len(found)).map(lambda seen: _with_probes(found, seen)))
shares = st.lists(st.floats(0.01, 1.0), min_size=3, max_size=3).map(sorted).map(lambda three: SwitchShares(*three))
chambers = st.builds(Chamber, st.floats(20.0, 400.0), st.floats(80.0, 2000.0), st.floats(20.0, 1000.0))
kilns = st.builds(
    Kiln,
    name=names,
    maximum_celsius=st.floats(100.0, 1400.0),
    rings=rings,
    mains_volts=st.floats(90.0, 500.0),
    cone_shutoff=st.booleans(),
    timer_stops_in_power_cut=st.booleans(),
    switch=shares,
    chamber=st.none() | chambers,
)


def _with_probes(found: list[Ring], seen: int) -> tuple[Ring, ...]:
    return tuple(ring if i < seen else replace(ring, probe=None) for i, ring in enumerate(reversed(found)))


@given(kilns)
def test_a_kiln_written_is_read_back_the_same(kiln: Kiln) -> None:
    assert kiln_from_toml(kiln_to_toml(kiln), "kiln.toml") == kiln


@given(st.text())
def test_any_text_is_a_kiln_or_refused(text: str) -> None:
    with suppress(Refusal):
        kiln_from_toml(text, "kiln.toml")


@pytest.mark.parametrize("text", ["a = " + "[" * 100_000, "maximum_celsius = " + "9" * 5000, "a = " + "9" * 400])
def test_what_would_break_a_reader_is_refused_too(text: str) -> None:
    assert len(refusal(text)) < 300
