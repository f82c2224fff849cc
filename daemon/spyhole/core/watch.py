"""The heart: a pure, deterministic fold over journal rows, one a kiln.

Live, rehearsal, replay and recovery are this same fold with another source and another clock. It reads no clock,
does no I/O and keeps nothing but its State, which is made of frozen values and can be written down and read back.
What a row does stands in a file for each sort of row: readings in `judging`, what a person writes down in `entering`,
what an alarm is told in its `book`, and the rest, which concludes nothing, in `noting`.
"""

from collections.abc import Sequence
from dataclasses import replace

from spyhole.core.alarms.book import AlarmBook, acknowledge_episode, reset_episode, serve, shelve
from spyhole.core.concluded import TurnAnswer
from spyhole.core.curve.bins import Filling, closes
from spyhole.core.cutout import follow as follow_cutout
from spyhole.core.duty import acted
from spyhole.core.entering import enter
from spyhole.core.entry import Entry
from spyhole.core.journal import Acknowledgement, Clock, OutOfService, Reset, Row, Shelving
from spyhole.core.judging import GAP_MS, read
from spyhole.core.noting import mended, note
from spyhole.core.outcome import Outcome
from spyhole.core.quick import changed
from spyhole.core.reading import Reading
from spyhole.core.state import State
from spyhole.core.timeline import correction, follow

STEP_MS = 5_000
"""A clock that had been set and moves by more than this has stepped."""


def begin() -> State:
    """Before the first row."""
    return State()


def step(state: State, row: Row) -> tuple[State, tuple[Outcome, ...]]:
    """The state after a row, and what is concluded from it."""
    state, outcomes = _take(state, row)
    if outcomes:
        cutout = follow_cutout(state.cutout, outcomes, state.line.now_ms)
        state = state if cutout is state.cutout else replace(state, cutout=cutout)
    return state, outcomes


def joins(state: State, row: Row) -> bool:
    """Whether all that this row does is to join the bin under way: then `join` may take it with its neighbours."""
    line, told, read_ms = state.line, row.told, state.house.read_ms
    if not isinstance(told, Reading) or row.boot != line.boot or state.sequence == 0 or state.settings is None:
        return False
    if read_ms is None or len(told.probes) != len(state.tracks):
        return False
    now_ms = row.monotonic_ms + line.axis_offset_ms
    return now_ms - read_ms < GAP_MS and not closes(state.filling, now_ms)


def join(state: State, rows: Sequence[Row]) -> State:
    """The same state as by `step` row by row, for rows of which each `joins` this one."""
    axis_ms, before = state.line.axis_offset_ms, state.filling
    times = [row.monotonic_ms + axis_ms for row in rows]
    readings = [row.told for row in rows if isinstance(row.told, Reading)]
    filling = Filling(before.closed_ms, (*before.times, *times), (*before.readings, *readings))
    return changed(state, line=follow(state.line, rows[-1]), sequence=rows[-1].sequence, filling=filling)


def _take(state: State, row: Row) -> tuple[State, tuple[Outcome, ...]]:
    before, line = state.line, follow(state.line, row)
    if state.sequence == 0 and row.sequence > 1:
        # What came before is unknown here: its episodes had other numbers, and fewer than there were rows.
        state = replace(state, alarms=AlarmBook(episodes=row.sequence - 1))
    told = row.told
    if isinstance(told, Reading):
        return read(state, line, row.sequence, told)
    state = replace(state, line=line, sequence=row.sequence)
    if isinstance(told, Acknowledgement | Reset | Shelving | OutOfService | TurnAnswer | Entry):
        state = replace(state, duty=acted(state.duty, told.who, line.now_ms))
    match told:
        case Clock():
            same = before.boot == line.boot and not before.unset
            if same and abs(line.utc_offset_ms - before.utc_offset_ms) > STEP_MS:
                state = replace(state, house=replace(state.house, stepped_ms=line.now_ms))
            return mended(state, correction(before, line)), ()
        case Entry():
            return enter(state, told)
        case Acknowledgement():
            return replace(state, alarms=acknowledge_episode(state.alarms, told.episode, told.who, line.now_ms)), ()
        case Reset():
            return replace(state, alarms=reset_episode(state.alarms, told.episode, told.who, line.now_ms)), ()
        case Shelving():
            alarms, outcomes = shelve(state.alarms, told, line.now_ms, line.utc_ms)
            return replace(state, alarms=alarms), outcomes
        case OutOfService():
            alarms, outcomes = serve(state.alarms, told, line.now_ms, line.utc_ms)
            return replace(state, alarms=alarms), outcomes
        case _:
            return note(state, told), ()
