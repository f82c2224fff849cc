"""Curve and log tell a turn differently: somebody is asked, once, and what they say is believed.

Puffin fires, and its keeper's log is made wrong; what the watch may conclude comes from the readings alone.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from spyhole.core import watch
from spyhole.core.concluded import TurnAnswer, TurnSaid
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing
from spyhole.core.journal import Row, Undo
from spyhole.core.kiln import Switch
from spyhole.core.outcome import PromptOutcome
from spyhole.core.state import State
from spyhole.core.words import sentence

Fire = Callable[..., Any]
MINUTE = 60_000
HIGH, MEDIUM = (Switch.HIGH,) * 3, (Switch.MEDIUM,) * 3
LATER = 900_000
"""Sequences of what is told beside Puffin's own rows."""


def is_turn(row: Row, setting: str) -> bool:
    told = row.told
    return isinstance(told, Entry) and told.kind is EntryKind.SWITCH and told.value == setting


@pytest.fixture(scope="module")
def rows(fired: Fire) -> tuple[Row, ...]:
    made: tuple[Row, ...] = fired("none", 30).rows
    return made


@pytest.fixture(scope="module")
def turned_ms(rows: tuple[Row, ...]) -> int:
    """When Puffin was turned to high, by its keeper's own log [monotonic]."""
    return min(row.monotonic_ms for row in rows if is_turn(row, "high"))


def run(rows: Iterable[Row], state: State | None = None) -> tuple[State, list[PromptOutcome]]:
    """The state after these rows, and what was asked about turns meanwhile."""
    state, asked = state or watch.begin(), []
    for row in rows:
        state, said = watch.step(state, row)
        asked += [one for one in said if isinstance(one, PromptOutcome) and one.tag == "turn-doubted"]
    return state, asked


def firing(state: State) -> Firing:
    assert state.firing is not None
    return state.firing


def until(rows: Iterable[Row], ms: int, from_ms: int = -1) -> list[Row]:
    return [row for row in rows if from_ms < row.monotonic_ms <= ms]


@pytest.fixture(scope="module")
def before(rows: tuple[Row, ...], turned_ms: int) -> State:
    """On medium, an hour and a quarter before the turn to high."""
    return run(until(rows, turned_ms - 75 * MINUTE))[0]


def unwritten(row: Row) -> Row | None:
    return None if is_turn(row, "high") else row


def one_ring_wrong(row: Row) -> Row | None:
    told = row.told
    if is_turn(row, "high") and isinstance(told, Entry) and told.subject == "middle":
        return replace(row, told=replace(told, value="medium"))
    return row


Log = Callable[[Row], Row | None]


@pytest.fixture(scope="module")
def asked(
    rows: tuple[Row, ...], turned_ms: int, before: State
) -> Callable[[Log], tuple[State, Row, list[PromptOutcome]]]:
    """The state, last row and questions forty minutes after the turn to high, with the log as it is made."""

    @cache
    def ask(log: Log) -> tuple[State, Row, list[PromptOutcome]]:
        coming = until(rows, turned_ms + 40 * MINUTE, turned_ms - 75 * MINUTE)
        told = [row for row in map(log, coming) if row is not None]
        state, said = run(told, before)
        return state, told[-1], said

    return ask


def answer(state: State, row: Row, said: TurnSaid, *more: object) -> State:
    """As the desk does: the answer, and what it writes down or takes back."""
    question = firing(state).turn_asked
    assert question is not None
    told = (TurnAnswer(question.sequence, said, "Wren"), *more)
    state, _ = run([replace(row, sequence=LATER + i, told=one) for i, one in enumerate(told)], state)
    return state


def test_a_whole_log_is_never_doubted(fired: Fire) -> None:
    whole = fired("none", 30)
    assert len(firing(whole.state).written) > 12
    assert "turn-doubted" not in [prompt.tag for prompt in whole.prompts]


def test_a_turn_that_nobody_wrote_is_believed_and_asked_about_once(asked: Any, turned_ms: int) -> None:
    state, _, said = asked(unwritten)
    assert firing(state).switches == HIGH, "the curve is believed meanwhile"
    assert not any(firing(state).sure)
    assert len(said) == 1
    words = sentence(said[0])
    assert words.startswith("The curve says that the bottom, middle and top rings went to high at about ")
    assert words.endswith("; nobody wrote it down. Was it so?")
    facts = dict(said[0].facts)
    assert isinstance(facts["at_utc_ms"], int)
    apart = state.line.utc_ms - state.line.now_ms
    assert abs(facts["at_utc_ms"] - apart - firing(state).turned_ms) < MINUTE
    assert abs(firing(state).turned_ms - state.line.now_ms + 40 * MINUTE) < 4 * MINUTE, "about when it was turned"


def test_nobody_is_asked_before_there_was_time_to_write_it_down(
    rows: tuple[Row, ...], turned_ms: int, before: State
) -> None:
    coming = until(rows, turned_ms + 18 * MINUTE, turned_ms - 75 * MINUTE)
    state, said = run((row for row in coming if unwritten(row)), before)
    assert said == []
    assert not any(firing(state).sure), "seen already, and not asked about"
    late, last = [row for row in rows if is_turn(row, "high")], coming[-1]
    state, said = run((replace(last, sequence=LATER + i, told=row.told) for i, row in enumerate(late)), state)
    state, said = run(until(rows, turned_ms + 60 * MINUTE, last.monotonic_ms), state)
    assert said == []
    assert all(firing(state).sure)


def test_yes_makes_it_sure(asked: Any) -> None:
    state, row, _ = asked(unwritten)
    at_ms = firing(state).stage_ms
    utc_ms = at_ms + state.line.utc_ms - state.line.now_ms
    turns = [Entry(EntryKind.SWITCH, ring, "high", "Wren", utc_ms) for ring in ("bottom", "middle", "top")]
    after = firing(answer(state, row, TurnSaid.YES, *turns))
    assert (after.switches, after.sure, after.turn_asked) == (HIGH, (True,) * 3, None)
    assert (after.now_stage.name, after.stage_ms) == ("high", at_ms)


def test_at_another_time_moves_the_turn(asked: Any) -> None:
    state, row, _ = asked(unwritten)
    at_ms = state.line.now_ms - 55 * MINUTE
    utc_ms = at_ms + state.line.utc_ms - state.line.now_ms
    turns = [Entry(EntryKind.SWITCH, ring, "high", "Wren", utc_ms) for ring in ("bottom", "middle", "top")]
    after = firing(answer(state, row, TurnSaid.THEN, *turns))
    assert (after.switches, after.sure, after.now_stage.name, after.stage_ms) == (HIGH, (True,) * 3, "high", at_ms)


def test_no_is_believed_over_the_curve_and_not_asked_again_at_once(asked: Any, rows: tuple[Row, ...]) -> None:
    state, row, _ = asked(unwritten)
    state = answer(state, row, TurnSaid.NO)
    assert firing(state).switches == MEDIUM
    assert firing(state).now_stage.name == "medium"
    state, said = run(until(rows, row.monotonic_ms + 45 * MINUTE, row.monotonic_ms), state)
    assert said == []
    assert firing(state).switches == MEDIUM


def test_a_wrong_setting_is_named_beside_what_the_curve_says(asked: Any) -> None:
    state, row, said = asked(one_ring_wrong)
    assert firing(state).switches == HIGH
    assert len(said) == 1
    assert "written down is middle medium. Was it so?" in sentence(said[0])
    question = firing(state).turn_asked
    assert question is not None
    wrong = [w for w in firing(state).written if w.sequence in question.entries]
    assert [(w.entry.subject, w.entry.value) for w in wrong] == [("middle", "medium")]
    utc_ms = question.turn.at_ms + state.line.utc_ms - state.line.now_ms
    right = Entry(EntryKind.SWITCH, "middle", "high", "Wren", utc_ms)
    after = firing(answer(state, row, TurnSaid.YES, Undo(wrong[0].sequence, "Wren"), right))
    assert (after.switches, after.sure, after.turn_asked) == (HIGH, (True,) * 3, None)


@pytest.fixture(scope="module")
def written_and_not_made(
    rows: tuple[Row, ...], turned_ms: int, before: State
) -> tuple[State, Row, list[PromptOutcome]]:
    """High is written down an hour before it is turned; the state a quarter of an hour later."""
    early_ms = turned_ms - 60 * MINUTE
    late = [row for row in rows if is_turn(row, "high")]
    told: list[Row] = []
    for row in until(rows, early_ms + 16 * MINUTE, turned_ms - 75 * MINUTE):
        if row.monotonic_ms >= early_ms and late:
            told += [replace(row, sequence=LATER + i, told=one.told) for i, one in enumerate(late)]
            late = []
        told.append(row)
    state, said = run(told, before)
    return state, told[-1], said


def test_a_turn_that_is_written_down_and_was_not_made_is_asked_about(written_and_not_made: Any) -> None:
    state, _, said = written_and_not_made
    assert firing(state).switches == HIGH, "elements that failed look the same: nothing is believed before an answer"
    assert len(said) == 1
    words = sentence(said[0])
    assert words.startswith("It is written down that the bottom, middle and top rings went to high at ")
    assert words.endswith("and the curve shows no such turn. Was it made then?")


def test_not_made_then_takes_the_entries_back(written_and_not_made: Any) -> None:
    state, row, _ = written_and_not_made
    question = firing(state).turn_asked
    assert question is not None
    assert len(question.entries) == 3
    after = firing(answer(state, row, TurnSaid.NO, *[Undo(sequence, "Wren") for sequence in question.entries]))
    assert (after.switches, after.now_stage.name, after.turn_asked) == (MEDIUM, "medium", None)


def test_made_as_written_leaves_the_log_alone(written_and_not_made: Any) -> None:
    state, row, _ = written_and_not_made
    after = firing(answer(state, row, TurnSaid.YES))
    assert (after.switches, after.turn_asked) == (HIGH, None)
    assert after.written == firing(state).written


def test_an_answer_to_another_question_changes_nothing(asked: Any) -> None:
    state, row, _ = asked(unwritten)
    after, _ = watch.step(state, replace(row, sequence=LATER, told=TurnAnswer(1, TurnSaid.NO, "Wren")))
    assert firing(after) == firing(state)


def test_an_undo_of_something_else_does_not_forget_what_the_curve_showed(asked: Any) -> None:
    state, row, _ = asked(unwritten)
    told = (Entry(EntryKind.TIMER, "", "240", "Wren"), Undo(LATER, "Wren"))
    state, _ = run([replace(row, sequence=LATER + i, told=one) for i, one in enumerate(told)], state)
    assert (firing(state).switches, firing(state).now_stage.name) == (HIGH, "high")
