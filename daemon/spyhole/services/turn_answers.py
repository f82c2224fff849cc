"""The question whether a turn was made: how it is put, and what an answer writes down and takes back."""

from spyhole.core.concluded import TurnAnswer, TurnAsked, TurnSaid
from spyhole.core.doubting import facts
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing
from spyhole.core.journal import Told, Undo
from spyhole.core.outcome import PromptOutcome
from spyhole.core.refusal import Refusal
from spyhole.core.state import State
from spyhole.core.words import Manner, sentence
from spyhole.services.snapshot import TurnAskedView


def turn_asked_view(state: State, manner: Manner) -> TurnAskedView | None:
    """The question that is open; None where there is none."""
    found = _open(state)
    if found is None:
        return None
    firing, asked = found
    apart_ms = state.line.utc_ms - state.line.now_ms
    question = PromptOutcome(state.line.utc_ms, "turn-doubted", facts(firing, asked, apart_ms))
    at_utc_ms = asked.turn.at_ms + apart_ms
    return TurnAskedView(asked.sequence, sentence(question, manner), asked.since_ms + apart_ms, at_utc_ms)


def turn_answer(state: State, question: int, said: TurnSaid, minutes_ago: float, who: str) -> tuple[Told, ...]:
    """The rows of an answer: the answer itself, entries that it takes back, and the turn as it was made.

    minutes_ago: when it was made, with THEN.
    """
    found = _open(state)
    if found is None or found[1].sequence != question:
        there = "none is open now" if found is None else f"the open one is {found[1].sequence}"
        raise Refusal("question", f"no open question has the number {question}", there)
    firing, asked = found
    rows: list[Told] = [TurnAnswer(question, said, who)]
    if said is not (TurnSaid.YES if not asked.by_curve else TurnSaid.NO):
        rows += [Undo(sequence, who) for sequence in asked.entries]
    made = said is TurnSaid.THEN or (said is TurnSaid.YES and asked.by_curve)
    if not made:
        return tuple(rows)
    line = state.line
    utc_ms = asked.turn.at_ms + line.utc_ms - line.now_ms
    if said is TurnSaid.THEN:
        utc_ms = line.utc_ms - round(minutes_ago * 60_000)
        if utc_ms < firing.started_utc_ms:
            raise Refusal("minutes_ago", "the kiln was not lit yet then", "it is since this firing began")
    return (*rows, *_turns(firing, asked, utc_ms, who))


def _turns(firing: Firing, asked: TurnAsked, utc_ms: int, who: str) -> list[Entry]:
    rings, turn = firing.kiln.rings, asked.turn
    return [Entry(EntryKind.SWITCH, rings[i].name, turn.switches[i].value, who, utc_ms) for i in turn.rings]


def _open(state: State) -> tuple[Firing, TurnAsked] | None:
    firing = state.firing
    return None if firing is None or firing.turn_asked is None else (firing, firing.turn_asked)
