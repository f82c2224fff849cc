"""What is worth saying to the keeper, each once, and the question whether they are in reach."""

from spyhole.core.duty import ask
from spyhole.core.outcome import Outcome
from spyhole.core.prompts import due, to_ask
from spyhole.core.quick import changed
from spyhole.core.state import State, view_with
from spyhole.core.trips import after_trip


def say(state: State) -> tuple[State, tuple[Outcome, ...]]:
    """Prompts that are due, each once; 'are you in reach?' leaves a question open."""
    if state.firing is None:
        return state, ()
    firing, prompts = due(view_with(state, state.firing))
    over = firing.ended and not state.firing.ended
    state = changed(state, firing=firing)
    if over:
        learned, trip = after_trip(view_with(state, firing), state.learned)
        state = changed(state, learned=learned, trip=trip)
    why = to_ask(view_with(state, firing), None if state.latest is None else state.latest.next_turn)
    if why is None:
        return state, prompts
    key, words, question = why
    firing = changed(firing, said=(*firing.said, key))
    duty = ask(state.duty, words, state.line.now_ms)
    return changed(state, firing=firing, duty=duty), (*prompts, question)
