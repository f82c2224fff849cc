"""What the state itself has to tell the journal: worked out once, taken down as a row, and never worked out again."""

from spyhole.core.heating import MISTAKEN_MS
from spyhole.core.measured import Fitted
from spyhole.core.state import State


def due(state: State) -> tuple[Fitted, ...]:
    """The rows that follow from this state, to be told at once. An end of heating may be taken back for a while."""
    said: tuple[Fitted, ...] = tuple(one for one in (state.witnessed, state.trip) if one is not None)
    firing = state.firing
    if firing is None or firing.elements is None or not firing.off or firing.off_ms is None:
        return said
    over = firing.ended or state.line.now_ms - firing.off_ms >= MISTAKEN_MS
    return (*said, firing.elements) if over else said
