"""Rows that change what is known and conclude nothing: settings, plans, who watches, what was measured."""

from dataclasses import replace

from spyhole.core.alarms.book import AlarmBook, OutOfUse
from spyhole.core.concluded import TurnAnswer
from spyhole.core.curve.bins import Filling
from spyhole.core.curve.track import Track
from spyhole.core.cutout import rearm
from spyhole.core.doubting import answered as turn_answered
from spyhole.core.drawn import Drawn
from spyhole.core.duty import Duty, answered, hand_over
from spyhole.core.firing import strike
from spyhole.core.journal import (
    Carried,
    InReach,
    Model,
    PlanEdit,
    PlanKept,
    Rearm,
    Settings,
    Undo,
    WatchFault,
    WatchTaken,
)
from spyhole.core.learning import with_probes_of
from spyhole.core.measured import Measured, Tripped, Witnessed
from spyhole.core.mend import mend_alarms, mend_estimate, mend_firing
from spyhole.core.plan import Plan
from spyhole.core.plans import key_of
from spyhole.core.plans import shelve as keep_plan
from spyhole.core.preparation import Preparation
from spyhole.core.state import State
from spyhole.core.timeline import Correction
from spyhole.core.trips import by_other_probe


def note(
    state: State,
    told: Settings | PlanEdit | PlanKept | Preparation | Carried | TurnAnswer | Undo | Drawn | WatchTaken | InReach
    | Rearm | Model | Measured | Witnessed | Tripped | WatchFault,
) -> State:  # fmt: skip
    """The state once this is known; the sequence in it is that of the row."""
    now_ms, firing = state.line.now_ms, state.firing
    match told:
        case Settings():
            return _settle(state, told)
        case PlanEdit():
            return _edit_plan(state, told.plan)
        case PlanKept():
            return replace(state, shelf=keep_plan(state.shelf, told.key, told.plan, state.sequence))
        case Preparation():
            return replace(state, prepared=told)
        case Carried():
            return _carry_on(state, told)
        case TurnAnswer():
            return replace(state, firing=firing and turn_answered(firing, told, now_ms))
        case Undo():
            return replace(state, firing=firing and strike(firing, told.sequence))
        case Drawn():
            return state  # for the report; nothing is judged by it
        case WatchTaken():
            return replace(state, duty=hand_over(state.duty, told, now_ms))
        case InReach():
            return replace(state, duty=answered(state.duty, told, now_ms))
        case Rearm():
            holding = frozenset((alarm.tag, alarm.ring) for alarm in state.alarms.alarms if alarm.active)
            return replace(state, cutout=rearm(state.cutout, told, holding, state.sequence, now_ms))
        case Model():
            return replace(state, learned=told.learned)
        case Measured():
            return replace(state, firing=firing and replace(firing, elements=None))
        case Witnessed():
            return replace(state, witnessed=None)
        case Tripped():
            return replace(state, trip=None)
        case WatchFault():
            faults = state.house.faults | {told.tag} if told.holds else state.house.faults - {told.tag}
            return replace(state, house=replace(state.house, faults=faults))


def _settle(state: State, settings: Settings) -> State:
    """The kiln and the plan of the settings. That plan comes onto the shelf too, in place of the one it was there."""
    if settings.plan != state.filed:
        key = key_of(settings.plan.name)
        shelf = keep_plan(state.shelf, key, settings.plan, state.sequence)
        state = replace(state, filed=settings.plan, shelf=shelf)
    if state.settings is not None:
        before = state.settings.kiln
        learned = by_other_probe(state.learned, before, settings.kiln, settings.plan)
        state = replace(state, learned=with_probes_of(before, settings.kiln, learned))
    probes = len(settings.kiln.probe_rings)
    if probes == len(state.tracks):
        return replace(state, settings=settings)
    return replace(
        state, settings=settings, filling=Filling(state.filling.closed_ms),
        tracks=(Track(),) * probes, doubts=(None,) * probes, fit=(False,) * probes,
    )  # fmt: skip


def _edit_plan(state: State, plan: Plan) -> State:
    """The plan of the next firing, and of the one that still heats as long as its stages are as many."""
    if state.settings is None:
        return state
    firing = state.firing
    if firing is not None and firing.under_way and len(plan.stages) == len(firing.plan.stages):
        # Another plan is another end: what was said of the old one holds nothing back.
        firing = replace(firing, plan=plan, down_said=None, off_said=None)
    return replace(state, settings=replace(state.settings, plan=plan), firing=firing)


def _carry_on(state: State, told: Carried) -> State:
    """The same state, but where the fold has only just begun: there, what came before it."""
    if state.settings is not None:
        return state
    now_ms = state.line.now_ms
    probes = len(told.settings.kiln.probe_rings)
    return replace(
        state,
        settings=told.settings,
        tracks=(Track(),) * probes,
        doubts=(None,) * probes,
        fit=(False,) * probes,
        alarms=AlarmBook(
            episodes=told.episodes, out=tuple(OutOfUse(one.ring, now_ms, one.reason, one.who) for one in told.out)
        ),
        duty=hand_over(Duty(), told.duty, now_ms) if told.duty.who else Duty(),
        learned=told.learned,
        filed=told.filed,
        shelf=told.shelf,
        prepared=told.prepared,
    )


def mended(state: State, found: Correction | None) -> State:
    """The clock says what UTC was all along."""
    if found is None:
        return state
    return replace(
        state,
        firing=state.firing and mend_firing(state.firing, found),
        alarms=mend_alarms(state.alarms, found),
        latest=state.latest and mend_estimate(state.latest, found),
    )
