"""The question about a turn as it is put to a person, and the rows that an answer becomes."""

from dataclasses import replace

import pytest

from spyhole.core import watch
from spyhole.core.concluded import Concluded, TurnAnswer, TurnAsked, TurnSaid
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import conclude
from spyhole.core.journal import Clock, Row, Settings, Told, Undo
from spyhole.core.kiln import Switch
from spyhole.core.refusal import Refusal
from spyhole.core.state import State
from spyhole.core.words import Manner
from spyhole.services.turn_answers import turn_answer, turn_asked_view
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

UTC_MS = 1_951_155_600_000
MINUTE = 60_000
LOW = (Switch.LOW,) * 3
ASKED = 77


def fold(*told: Told, state: State | None = None, minute: int = 0) -> State:
    state = state or watch.begin()
    for one in told:
        state, _ = watch.step(state, Row("Puffin", state.sequence + 1, "b", minute * MINUTE, one))
    return state


@pytest.fixture
def by_curve() -> State:
    """Lit at noon; the curve showed all on low at minute 500, and top was written down as medium. It is minute 530."""
    state = fold(Clock(UTC_MS, True), Settings(KILN, TONIGHT.plan), Entry(EntryKind.START, "", "05", "Wren"))
    state = fold(Entry(EntryKind.SWITCH, "top", "medium", "Wren"), state=state, minute=505)
    wrong = state.sequence
    state = fold(Clock(UTC_MS + 530 * MINUTE, True), state=state, minute=530)
    assert state.firing is not None
    firing = conclude(state.firing, LOW, state.line.now_ms - 30 * MINUTE, 1, seen=True)
    asked = TurnAsked(ASKED, state.line.now_ms - 2 * MINUTE, firing.concluded[-1], True, (wrong,))
    return replace(state, firing=replace(firing, turn_asked=asked))


@pytest.fixture
def by_log(by_curve: State) -> State:
    """Middle and top were written down as low, and the curve shows that neither was turned."""
    state = fold(Clock(UTC_MS, True), Settings(KILN, TONIGHT.plan), Entry(EntryKind.START, "", "05", "Wren"))
    turns = [Entry(EntryKind.SWITCH, ring, "low", "Wren") for ring in ("middle", "top")]
    state = fold(*turns, state=state, minute=520)
    firing = state.firing
    assert firing is not None
    turn = Concluded(LOW, TONIGHT.plan.stages[0].switches, state.line.now_ms, 1, len(firing.written))
    entries = tuple(w.sequence for w in firing.written[1:])
    state = fold(Clock(UTC_MS + 535 * MINUTE, True), state=state, minute=535)
    return replace(state, firing=replace(firing, turn_asked=TurnAsked(ASKED, state.line.now_ms, turn, False, entries)))


def answered(state: State, said: TurnSaid, minutes_ago: float = 0.0) -> tuple[Told, ...]:
    return turn_answer(state, ASKED, said, minutes_ago, "Mina")


def turns(rows: tuple[Told, ...]) -> list[tuple[str, str, int | None]]:
    return [(row.subject, row.value, row.happened_utc_ms) for row in rows if isinstance(row, Entry)]


def undone(rows: tuple[Told, ...]) -> list[int]:
    return [row.sequence for row in rows if isinstance(row, Undo)]


def test_it_is_put_in_one_sentence_with_its_time(by_curve: State) -> None:
    view = turn_asked_view(by_curve, Manner())
    assert view is not None
    assert view.question == ASKED
    assert view.words == (
        "The curve says that the middle and top rings went to low at about 04:00; written down is top medium. "
        "Was it so?"
    )
    assert view.at_utc_ms == UTC_MS + 500 * MINUTE
    assert view.since_utc_ms == UTC_MS + 528 * MINUTE


def test_yes_writes_the_turn_down_as_the_curve_had_it_and_takes_the_wrong_entry_back(by_curve: State) -> None:
    rows = answered(by_curve, TurnSaid.YES)
    assert rows[0] == TurnAnswer(ASKED, TurnSaid.YES, "Mina")
    assert undone(rows) == list(by_curve.firing.turn_asked.entries)  # type: ignore[union-attr]
    at = UTC_MS + 500 * MINUTE
    assert turns(rows) == [("middle", "low", at), ("top", "low", at)]
    after = fold(*rows, state=by_curve, minute=531).firing
    assert after is not None
    assert (after.switches, after.stage, after.turn_asked) == (LOW, 1, None)
    assert (after.sure, after.stage_ms) == ((False, True, True), by_curve.line.now_ms - 30 * MINUTE)


def test_at_another_time_writes_it_down_as_of_then(by_curve: State) -> None:
    rows = answered(by_curve, TurnSaid.THEN, 45.0)
    at = UTC_MS + 485 * MINUTE
    assert turns(rows) == [("middle", "low", at), ("top", "low", at)]
    after = fold(*rows, state=by_curve, minute=530).firing
    assert after is not None
    assert (after.stage, after.stage_ms) == (1, by_curve.line.now_ms - 45 * MINUTE)


def test_no_leaves_the_log_as_it_is(by_curve: State) -> None:
    rows = answered(by_curve, TurnSaid.NO)
    assert rows == (TurnAnswer(ASKED, TurnSaid.NO, "Mina"),)
    after = fold(*rows, state=by_curve, minute=531).firing
    assert after is not None
    assert after.switches == (Switch.LOW, Switch.OFF, Switch.MEDIUM), "as it is written down"
    assert after.stage == 0


def test_a_turn_that_was_not_made_is_taken_back_by_no_and_stands_by_yes(by_log: State) -> None:
    view = turn_asked_view(by_log, Manner())
    assert view is not None
    assert "and the curve shows no such turn. Was it made then?" in view.words
    entries = list(by_log.firing.turn_asked.entries)  # type: ignore[union-attr]
    assert undone(answered(by_log, TurnSaid.NO)) == entries
    assert turns(answered(by_log, TurnSaid.NO)) == []
    assert answered(by_log, TurnSaid.YES) == (TurnAnswer(ASKED, TurnSaid.YES, "Mina"),)
    after = fold(*answered(by_log, TurnSaid.NO), state=by_log, minute=536).firing
    assert after is not None
    assert (after.switches, after.stage) == (TONIGHT.plan.stages[0].switches, 0)


def test_written_then_and_made_later(by_log: State) -> None:
    rows = answered(by_log, TurnSaid.THEN, 5.0)
    assert undone(rows) == list(by_log.firing.turn_asked.entries)  # type: ignore[union-attr]
    at = UTC_MS + 530 * MINUTE
    assert turns(rows) == [("middle", "low", at), ("top", "low", at)]


def test_what_cannot_be_answered_is_refused_with_what_can(by_curve: State) -> None:
    with pytest.raises(Refusal, match="78"):
        turn_answer(by_curve, 78, TurnSaid.YES, 0.0, "Mina")
    with pytest.raises(Refusal, match="not lit yet"):
        answered(by_curve, TurnSaid.THEN, 600.0)
    assert by_curve.firing is not None
    quiet = replace(by_curve, firing=replace(by_curve.firing, turn_asked=None))
    assert turn_asked_view(quiet, Manner()) is None
    with pytest.raises(Refusal, match="none is open"):
        answered(quiet, TurnSaid.YES)
