"""What a person writes down about the kiln: a firing begins by it, ends by it, or knows more."""

from dataclasses import replace

from spyhole.core.curve.trust import as_lit
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Stopped, Written, open_firing, write
from spyhole.core.heating import verdict
from spyhole.core.learned import Learned
from spyhole.core.learning import after_care, after_cones, after_firing, witnessed
from spyhole.core.modelling import elements_of
from spyhole.core.outcome import Outcome
from spyhole.core.saying import say
from spyhole.core.sighting import saw
from spyhole.core.state import State, room_of, view_with
from spyhole.core.trips import a_firing_older, expecting

AFTERWARDS = (EntryKind.CONE, EntryKind.NOTE, EntryKind.PHOTO, EntryKind.MAINTENANCE, EntryKind.LESSON)
"""What is written down of a firing once its ware is on the table."""


def enter(state: State, entry: Entry) -> tuple[State, tuple[Outcome, ...]]:
    """An entry of the row now told. Before any settings, or of a firing long over, it changes nothing."""
    settings, line = state.settings, state.line
    if settings is None:
        return state, ()
    ago_ms = 0 if entry.happened_utc_ms is None else max(0, line.utc_ms - entry.happened_utc_ms)
    written = Written(state.sequence, line.now_ms - ago_ms, line.utc_ms - ago_ms, entry)
    if entry.kind is EntryKind.START:
        before, learned = state.firing, lessons(state)
        if before is not None:
            state = replace(state, witnessed=witnessed(view_with(state, before)))
        made = state.prepared
        known = learned if made is None else expecting(learned, settings.kiln, settings.plan, made.gap_millimetres)
        firing = open_firing(written, settings.kiln, settings.plan, room_of(state), known)
        firing = replace(firing, prepared=made)
        doubts = as_lit(state.doubts)
        return replace(state, firing=firing, doubts=doubts, latest=None, prepared=None, learned=learned), ()
    if state.firing is None or (state.firing.ended and entry.kind not in AFTERWARDS):
        return state, ()
    was_off = state.firing.off
    firing = write(state.firing, written)
    if entry.kind is EntryKind.CONE:
        firing = saw(view_with(state, firing), written)
        return say(replace(state, firing=firing))
    if firing.off and not was_off:
        work = view_with(state, firing).work
        firing = replace(_ended_by_hand(state, firing), alpha_at_end=work.shutoff, elements=elements_of(firing))
        return say(replace(state, firing=firing))
    return replace(state, firing=firing), ()


def lessons(state: State) -> Learned:
    """What a firing that is lit now would know of the kiln."""
    before, settings = state.firing, state.settings
    if before is None or settings is None:
        return state.learned
    view = view_with(state, before)
    learned = after_firing(view, after_cones(view, state.learned))
    learned = after_care(before, a_firing_older(before, learned))
    return expecting(learned, settings.kiln, settings.plan)


def _ended_by_hand(state: State, firing: Firing) -> Firing:
    """Somebody says it is over. A trip short of the cone is news; switches turned off are that person's own."""
    view = view_with(state, firing)
    stopped = verdict(view)
    if firing.tripped and stopped is Stopped.LOST:
        stopped = Stopped.SHORT
    if not firing.tripped and stopped not in (Stopped.DONE, Stopped.UNSEEN):
        stopped = Stopped.BY_HAND
    return replace(firing, stopped=stopped)
