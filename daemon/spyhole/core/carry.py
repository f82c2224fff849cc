"""What a start carries over from all that came before, taken down as a row: where a fold may begin afresh.

A new version of spyhole does not know the states that an old one kept. It folds from the last start on, instead of from
the first day of the record, whose single readings were let go long since.
"""

from spyhole.core.entering import lessons
from spyhole.core.journal import Carried, OutOfService, WatchTaken
from spyhole.core.state import State

LITTLE_ROWS = 10_000
"""So few rows before the first firing of a record are folded with it."""


def carried(state: State) -> Carried | None:
    """The row that belongs before a start in this state; None where there is little before it."""
    if state.settings is None or (state.firing is None and state.sequence < LITTLE_ROWS):
        return None
    return Carried(
        settings=state.settings,
        filed=state.filed,
        shelf=state.shelf,
        out=tuple(OutOfService(one.ring, True, one.reason, one.who) for one in state.alarms.out),
        duty=WatchTaken(state.duty.holder, state.duty.note),
        episodes=state.alarms.episodes,
        prepared=state.prepared,
        learned=lessons(state),
    )
