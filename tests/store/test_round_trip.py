"""Every kind of row comes back from the file exactly as it went in."""

import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spyhole.core.concluded import TurnAnswer, TurnSaid
from spyhole.core.drawn import Drawn
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import (
    Acknowledgement,
    Carried,
    Clock,
    InReach,
    Model,
    OutOfService,
    PlanEdit,
    PlanKept,
    Rearm,
    Reset,
    Row,
    Settings,
    Shelving,
    Told,
    Undo,
    WatchFault,
    WatchTaken,
)
from spyhole.core.kiln import Chamber, Kiln, Probe, Ring, Switch, SwitchShares
from spyhole.core.learned import Belief, Learned, ShutoffHabit
from spyhole.core.measured import Lesson, Measured, Tripped, Witnessed
from spyhole.core.outcome import Action, AlarmOutcome, Priority, PromptOutcome
from spyhole.core.plan import Body, Cooling, CoolingLimit, Damp, Plan, Plugs, Spread, Stage, Ware
from spyhole.core.plans import KeptPlan
from spyhole.core.preparation import Preparation
from spyhole.core.reading import Fault, ProbeReading, Reading
from spyhole.services.archive import Batch, Step
from spyhole.store.archive import SqlArchive, open_archive
from spyhole.store.encoding import FAULT_CODES
from spyhole.store.payload import JOURNAL_KINDS, UnreadablePayload, from_json, to_json
from spyhole.store.server import open_server_archive

number = st.floats(allow_nan=False, allow_infinity=False)
words = st.text(max_size=20)
names = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=20)
"""What stands in a column of its own: a server has no room for the character that ends a string."""
whole = st.integers(-(2**53), 2**53)
switch = st.sampled_from(Switch)

hot = st.integers(-200 * 128, 1800 * 128).map(lambda step: step / 128)
cold = st.none() | st.integers(-64 * 64, 128 * 64).map(lambda step: step / 64)
probes = st.builds(ProbeReading, hot, st.none(), cold) | st.builds(
    ProbeReading, st.none(), st.none() | st.sampled_from(Fault), cold
)
readings = st.builds(Reading, st.lists(probes, max_size=8).map(tuple))

kilns = st.builds(
    Kiln,
    words,
    number,
    st.lists(st.builds(Ring, words, number, st.none() | st.builds(Probe, words, whole, number)), max_size=8).map(tuple),
    number,
    st.booleans(),
    st.booleans(),
    st.builds(SwitchShares, number, number, number),
    st.none() | st.builds(Chamber, number, number, number),
)
stages = st.builds(
    Stage,
    words,
    st.lists(switch, max_size=3).map(tuple),
    hours=st.none() | number | st.integers(0, 99).map(float),
    until_cone=st.booleans(),
    plugs=st.none() | st.sampled_from(Plugs),
    ceiling_celsius=st.none() | number,
    expected_end_celsius=st.none() | st.lists(st.none() | number, max_size=3).map(tuple),
)
plans = st.builds(
    Plan,
    words,
    words,
    st.lists(stages, max_size=4).map(tuple),
    st.integers(0, 7),
    words,
    st.sampled_from(Body),
    st.none() | words,
    st.sampled_from(Ware),
    number,
    st.none() | st.builds(Spread, number, number),
    st.builds(Damp, number, number, number),
    st.builds(
        Cooling,
        number,
        number,
        number,
        st.lists(st.builds(CoolingLimit, number, number, number), max_size=2).map(tuple),
    ),
)
beliefs = st.builds(Belief, number, number)
lessons = st.builds(
    Learned,
    whole,
    st.lists(st.none() | beliefs, max_size=3).map(tuple),
    st.none() | beliefs,
    st.lists(st.tuples(words, beliefs), max_size=3).map(tuple),
    shutoff=st.none()
    | st.builds(
        ShutoffHabit,
        st.tuples(number, number, number),
        st.tuples(*[number] * 6),
        st.none() | number,
        whole,
        whole,
        whole,
    ),
)
preparations = st.builds(Preparation, *[st.none() | st.booleans()] * 3, st.none() | number, words)
journal = {
    Clock: st.builds(Clock, whole, st.booleans()),
    Settings: st.builds(Settings, kilns, plans),
    Entry: st.builds(Entry, st.sampled_from(EntryKind), words, words, words, st.none() | whole),
    Acknowledgement: st.builds(Acknowledgement, words, words),
    Reset: st.builds(Reset, words, words),
    Undo: st.builds(Undo, whole, words),
    Shelving: st.builds(Shelving, words, st.none() | words, number, words, words),
    OutOfService: st.builds(OutOfService, words, st.booleans(), words, words),
    WatchTaken: st.builds(WatchTaken, words, words),
    InReach: st.builds(InReach, words),
    TurnAnswer: st.builds(TurnAnswer, whole, st.sampled_from(TurnSaid), words),
    Rearm: st.builds(Rearm, words),
    PlanEdit: st.builds(PlanEdit, plans, words),
    PlanKept: st.builds(PlanKept, words, st.none() | plans, words),
    Preparation: preparations,
    Model: st.builds(Model, lessons),
    Measured: st.builds(Measured, whole, st.lists(st.none() | beliefs, max_size=3).map(tuple), beliefs),
    Witnessed: st.builds(Witnessed, whole, st.lists(st.none() | beliefs, max_size=3).map(tuple)),
    Tripped: st.builds(Tripped, whole, number, beliefs, st.none() | number, whole, st.sampled_from(Lesson)),
    Carried: st.builds(
        Carried,
        st.builds(Settings, kilns, plans),
        st.none() | plans,
        st.lists(st.builds(KeptPlan, words, plans, whole), max_size=2).map(tuple),
        st.lists(st.builds(OutOfService, words, st.just(True), words, words), max_size=2).map(tuple),
        st.builds(WatchTaken, words, words),
        whole,
        st.none() | preparations,
        lessons,
    ),
    WatchFault: st.builds(WatchFault, words, st.booleans()),
    Drawn: st.builds(Drawn, st.lists(st.none() | number, max_size=3).map(tuple)),
}
told = st.one_of(readings, *journal.values())
facts = st.lists(st.tuples(words, number | words | whole | st.none()), max_size=4).map(tuple)
outcomes = st.builds(
    AlarmOutcome,
    whole,
    words,
    names,
    st.none() | words,
    st.sampled_from(Priority),
    st.sampled_from(Action),
    st.booleans(),
    facts,
) | st.builds(PromptOutcome, whole, names, facts)

fresh = count(1)


@pytest.fixture(scope="module", params=["file", "server"])
def archive(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SqlArchive]:
    if request.param == "file":
        folder: Path = tmp_path_factory.mktemp("record")
        archive = open_archive(folder, seconds=time.monotonic, tell=lambda *_: None)
    else:
        url = request.getfixturevalue("server").database()
        archive = open_server_archive(url, seconds=time.monotonic, tell=lambda *_: None)
    yield archive
    archive.close(30)


@pytest.fixture(autouse=True)
def no_thread_left() -> None:
    """The record of this file stays open from one test to the next, with its thread."""


@settings(max_examples=60)
@given(rows=st.lists(st.tuples(told, st.lists(outcomes, max_size=2)), min_size=1, max_size=12), boot=names)
def test_every_row_and_outcome_comes_back_exactly(
    archive: SqlArchive, rows: list[tuple[Told, list[AlarmOutcome | PromptOutcome]]], boot: str
) -> None:
    kiln = f"kiln {next(fresh)}"
    steps = tuple(
        Step(Row(kiln, sequence, boot, sequence * 1000, value), tuple(concluded))
        for sequence, (value, concluded) in enumerate(rows, 1)
    )
    archive.put(Batch(steps=steps))
    assert archive.flush(30)
    back = list(archive.rows_after(kiln, 0))
    assert back == [step.row for step in steps]
    # Equal is not enough: 1 == 1.0, and a replay that prints one for the other is another replay.
    assert repr(back) == repr([step.row for step in steps])
    concluded = [(step.row.sequence, outcome) for step in steps for outcome in step.outcomes]
    found = list(archive.outcomes_between(kiln, 1, len(steps)))
    assert repr(found) == repr(concluded)


def test_every_kind_of_row_is_tried_and_has_a_name() -> None:
    assert {Reading, *journal} == set(get_args(Told)) == {Reading, *JOURNAL_KINDS.values()}


def test_every_fault_has_a_number_of_its_own() -> None:
    assert FAULT_CODES.keys() == set(Fault)
    assert len(set(FAULT_CODES.values())) == len(Fault)
    assert all(0 < code < 16 for code in FAULT_CODES.values())


@pytest.mark.parametrize(
    ("probe", "says"),
    [
        (ProbeReading(20.001), "probe 2: 20.001 is not a multiple of 1/128 degC"),
        (ProbeReading(float("nan")), "nan is not"),
        (ProbeReading(float("inf")), "inf is not"),
        (ProbeReading(1e9), "1000000000.0 is not"),
        (ProbeReading(20.0, None, 25.01), "25.01 is not a multiple of 1/64 degC"),
        (ProbeReading(20.0, Fault.OPEN), "a number beside the fault 'open'"),
    ],
)
def test_what_could_not_come_back_is_refused_at_the_door(archive: SqlArchive, probe: ProbeReading, says: str) -> None:
    kiln = f"kiln {next(fresh)}"
    bad = Row(kiln, 2, "boot", 0, Reading((ProbeReading(20.0), probe)))
    good = Row(kiln, 1, "boot", 0, Reading((ProbeReading(20.0),)))
    with pytest.raises(ValueError, match=says):
        archive.put(Batch(steps=(Step(good), Step(bad))))
    assert archive.flush(30)
    assert archive.last_sequence(kiln) == 0, "nothing of a refused batch is taken"


def test_a_number_that_is_none_is_refused_at_the_door(archive: SqlArchive) -> None:
    row = Row(f"kiln {next(fresh)}", 1, "boot", 0, Clock(0, synchronised=True))
    prompt = PromptOutcome(0, "turn-due", (("celsius", float("nan")),))
    with pytest.raises(ValueError, match="not JSON compliant"):
        archive.put(Batch(steps=(Step(row, (prompt,)),)))


def test_a_field_added_since_takes_its_default() -> None:
    assert from_json('{"type":"S"}', Probe) == Probe("S")


@pytest.mark.parametrize("text", ['{"type":"S","ohms":3}', '{"type":3}', '{"tolerance_class":1.5}', "[]", "{", "null"])
def test_a_payload_that_is_not_understood_is_refused(text: str) -> None:
    with pytest.raises(UnreadablePayload):
        from_json(text, Probe)


def test_every_field_is_written_so_that_a_default_may_change() -> None:
    assert to_json(Probe()) == '{"type":"K","tolerance_class":2,"offset_celsius":0.0}'
