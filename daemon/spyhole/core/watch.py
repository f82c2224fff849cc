"""The heart: a pure, deterministic fold over journal rows, one a kiln.

Live, rehearsal, replay and recovery are this same fold with another source and another clock. It reads no clock,
does no I/O and keeps nothing but its State, which is made of frozen values and can be written down and read back.
A reading goes: bins (ten seconds) -> tracks (spikes kept out) -> trust (is the probe wrong, or the kiln) -> heat
work -> stage and heating -> rules -> the life of each alarm -> estimate (each minute).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from spyhole.core.alarms.book import (
    AlarmBook,
    Judgement,
    OutOfUse,
    acknowledge_episode,
    reset_episode,
    serve,
    shelve,
)
from spyhole.core.alarms.book import judge as judge_alarms
from spyhole.core.alarms.rules import fast, slow
from spyhole.core.alarms.rules.house import House, heats, house, unplanned
from spyhole.core.concluded import TurnAnswer
from spyhole.core.cones.kinetics import bend_degrees
from spyhole.core.curve.bins import Bin, Filling, add, closes
from spyhole.core.curve.heat import borrowed, gain, usual
from spyhole.core.curve.track import Track, take
from spyhole.core.curve.trust import Doubts, judge, trusted
from spyhole.core.cutout import CutOut, rearm
from spyhole.core.cutout import follow as follow_cutout
from spyhole.core.departing import departing
from spyhole.core.doubting import answered as turn_answered
from spyhole.core.doubting import follow as doubt_turns
from spyhole.core.doubting import strays
from spyhole.core.drawn import Drawn
from spyhole.core.duty import Duty, acted, answered, ask, hand_over
from spyhole.core.element_share import EACH_MINUTES, gained
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.estimate import estimate
from spyhole.core.firing import (
    UNKNOWN_APART,
    Firing,
    Stopped,
    Written,
    advance,
    logs_switches,
    open_firing,
    strike,
    write,
)
from spyhole.core.heating import follow as follow_heating
from spyhole.core.heating import verdict
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
    Undo,
    WatchFault,
    WatchTaken,
)
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.learned import Learned
from spyhole.core.learning import (
    after_care,
    after_cones,
    after_firing,
    foretelling,
    parted,
    with_probes_of,
    witnessed,
)
from spyhole.core.measured import Measured, Tripped, Witnessed
from spyhole.core.mend import mend_alarms, mend_estimate, mend_firing
from spyhole.core.modelling import elements_of, what_is_left
from spyhole.core.modelling import follow as follow_model
from spyhole.core.outcome import EstimateOutcome, Outcome, PromptOutcome
from spyhole.core.plan import Plan
from spyhole.core.plans import Shelf, key_of
from spyhole.core.plans import shelve as keep_plan
from spyhole.core.preparation import Preparation
from spyhole.core.prompts import due, to_ask
from spyhole.core.quick import changed
from spyhole.core.reading import Reading
from spyhole.core.sighting import saw
from spyhole.core.steam import dried_ms
from spyhole.core.thermal.line import SETTLE_MS
from spyhole.core.timeline import Correction, Timeline, correction, follow
from spyhole.core.trips import a_firing_older, after_trip, by_other_probe, expecting
from spyhole.core.view import View

ROOM_CELSIUS = 20.0
ROOM_LEARNED_MS = 5 * 60_000
TURNING_MS = 10 * 60_000
"""What a person takes to turn and log three switches: until then they only look unlike."""
GAP_MS = 180_000
"""Readings missing for longer are a gap."""
STEP_MS = 5_000
"""A clock that had been set and moves by more than this has stepped."""
AFTERWARDS = (EntryKind.CONE, EntryKind.NOTE, EntryKind.PHOTO, EntryKind.MAINTENANCE, EntryKind.LESSON)
"""What is written down of a firing once its ware is on the table."""
NOT_UNPLANNED = Judgement("unplanned-heat", None, False)


@dataclass(frozen=True, slots=True)
class State:
    """All that the watch knows.

    minute: the last one judged slowly. fit: which probes were trusted at the last bin. house: what is remembered
    beside any firing. learned: of this kiln, from earlier firings. filed: the plan as the settings last gave it; shelf:
    all that are kept. prepared: how the kiln was made ready, for the firing that begins next.
    witnessed: what the cones of the firing before said, until it is a row of the journal; trip: likewise, of the last.
    """

    line: Timeline = field(default_factory=Timeline)
    settings: Settings | None = None
    filling: Filling = field(default_factory=Filling)
    tracks: tuple[Track, ...] = ()
    doubts: Doubts = ()
    fit: tuple[bool, ...] = ()
    firing: Firing | None = None
    alarms: AlarmBook = field(default_factory=AlarmBook)
    latest: EstimateOutcome | None = None
    duty: Duty = field(default_factory=Duty)
    cutout: CutOut = field(default_factory=CutOut)
    house: House = field(default_factory=House)
    learned: Learned = field(default_factory=Learned)
    filed: Plan | None = None
    shelf: Shelf = ()
    prepared: Preparation | None = None
    witnessed: Witnessed | None = None
    trip: Tripped | None = None
    minute: int = 0
    sequence: int = 0

    @property
    def kiln(self) -> Kiln | None:
        """The kiln as last described."""
        return None if self.settings is None else self.settings.kiln

    @property
    def faults(self) -> frozenset[str]:
        """Tags of what ails the watch itself."""
        return self.house.faults

    @property
    def out(self) -> frozenset[str]:
        """Rings whose probe is out of service."""
        return self.alarms.out_rings

    @property
    def plan(self) -> Plan | None:
        """The plan that the next firing follows."""
        return None if self.settings is None else self.settings.plan


def begin() -> State:
    """Before the first row."""
    return State()


def _begin_at(state: State, told: Carried) -> State:
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
        return _read(state, line, row.sequence, told)
    state = replace(state, line=line, sequence=row.sequence)
    if isinstance(told, Clock):
        same = before.boot == line.boot and not before.unset
        if same and abs(line.utc_offset_ms - before.utc_offset_ms) > STEP_MS:
            state = replace(state, house=replace(state.house, stepped_ms=line.now_ms))
        return _mend(state, correction(before, line)), ()
    if isinstance(told, Settings):
        return _settle(state, told), ()
    if isinstance(told, Acknowledgement | Reset | Shelving | OutOfService | TurnAnswer | Entry):
        state = replace(state, duty=acted(state.duty, told.who, line.now_ms))
    if isinstance(told, Entry):
        return _enter(state, told)
    if isinstance(told, Acknowledgement):
        return replace(state, alarms=acknowledge_episode(state.alarms, told.episode, told.who, line.now_ms)), ()
    if isinstance(told, Reset):
        return replace(state, alarms=reset_episode(state.alarms, told.episode, told.who, line.now_ms)), ()
    if isinstance(told, TurnAnswer):
        firing = turn_answered(state.firing, told, line.now_ms) if state.firing is not None else None
        return replace(state, firing=firing), ()
    if isinstance(told, Undo):
        firing = strike(state.firing, told.sequence) if state.firing is not None else None
        return replace(state, firing=firing), ()
    if isinstance(told, Shelving):
        alarms, outcomes = shelve(state.alarms, told, line.now_ms, line.utc_ms)
        return replace(state, alarms=alarms), outcomes
    if isinstance(told, OutOfService):
        alarms, outcomes = serve(state.alarms, told, line.now_ms, line.utc_ms)
        return replace(state, alarms=alarms), outcomes
    if isinstance(told, PlanEdit):
        return _edit_plan(state, told.plan), ()
    if isinstance(told, PlanKept):
        return replace(state, shelf=keep_plan(state.shelf, told.key, told.plan, row.sequence)), ()
    if isinstance(told, Preparation):
        return replace(state, prepared=told), ()
    if isinstance(told, Carried):
        return _begin_at(state, told), ()
    if isinstance(told, Drawn):
        return state, ()  # for the report; nothing is judged by it
    return _note(state, told, line.now_ms), ()


def _mend(state: State, found: Correction | None) -> State:
    """The clock says what UTC was all along."""
    if found is None:
        return state
    return replace(
        state,
        firing=state.firing and mend_firing(state.firing, found),
        alarms=mend_alarms(state.alarms, found),
        latest=state.latest and mend_estimate(state.latest, found),
    )


def _note(
    state: State,
    told: WatchTaken | InReach | Rearm | Model | Measured | Witnessed | Tripped | WatchFault,
    now_ms: int,
) -> State:
    """Rows that change what is known and conclude nothing by themselves."""
    if isinstance(told, WatchFault):
        faults = state.house.faults | {told.tag} if told.holds else state.house.faults - {told.tag}
        return replace(state, house=replace(state.house, faults=faults))
    if isinstance(told, WatchTaken):
        return replace(state, duty=hand_over(state.duty, told, now_ms))
    if isinstance(told, InReach):
        return replace(state, duty=answered(state.duty, told, now_ms))
    if isinstance(told, Model):
        return replace(state, learned=told.learned)
    if isinstance(told, Measured):
        return replace(state, firing=state.firing and replace(state.firing, elements=None))
    if isinstance(told, Witnessed):
        return replace(state, witnessed=None)
    if isinstance(told, Tripped):
        return replace(state, trip=None)
    holding = frozenset((alarm.tag, alarm.ring) for alarm in state.alarms.alarms if alarm.active)
    return replace(state, cutout=rearm(state.cutout, told, holding, state.sequence, now_ms))


def _edit_plan(state: State, plan: Plan) -> State:
    """The plan of the next firing, and of the one that still heats as long as its stages are as many."""
    if state.settings is None:
        return state
    firing = state.firing
    if firing is not None and firing.under_way and len(plan.stages) == len(firing.plan.stages):
        firing = replace(firing, plan=plan)
    return replace(state, settings=replace(state.settings, plan=plan), firing=firing)


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


def _enter(state: State, entry: Entry) -> tuple[State, tuple[Outcome, ...]]:
    settings, line = state.settings, state.line
    if settings is None:
        return state, ()
    ago_ms = 0 if entry.happened_utc_ms is None else max(0, line.utc_ms - entry.happened_utc_ms)
    written = Written(state.sequence, line.now_ms - ago_ms, line.utc_ms - ago_ms, entry)
    if entry.kind is EntryKind.START:
        before, learned = state.firing, lessons(state)
        if before is not None:
            state = replace(state, witnessed=witnessed(_view(state, before)))
        made = state.prepared
        known = learned if made is None else expecting(learned, settings.kiln, settings.plan, made.gap_millimetres)
        firing = open_firing(written, settings.kiln, settings.plan, _room(state), known)
        firing = replace(firing, prepared=made)
        return replace(state, firing=firing, latest=None, prepared=None, learned=learned), ()
    if state.firing is None or (state.firing.ended and entry.kind not in AFTERWARDS):
        return state, ()
    was_off = state.firing.off
    firing = write(state.firing, written)
    if entry.kind is EntryKind.CONE:
        firing = saw(_view(state, firing), written)
        return _say(replace(state, firing=firing))
    if firing.off and not was_off:
        firing = replace(
            _ended_by_hand(state, firing), alpha_at_end=_view(state, firing).work.shutoff, elements=elements_of(firing)
        )
        return _say(replace(state, firing=firing))
    return replace(state, firing=firing), ()


def lessons(state: State) -> Learned:
    """What a firing that is lit now would know of the kiln."""
    before, settings = state.firing, state.settings
    if before is None or settings is None:
        return state.learned
    view = _view(state, before)
    learned = after_firing(view, after_cones(view, state.learned))
    learned = after_care(before, a_firing_older(before, learned))
    return expecting(learned, settings.kiln, settings.plan)


def _ended_by_hand(state: State, firing: Firing) -> Firing:
    """Somebody says it is over. A trip short of the cone is news; switches turned off are that person's own."""
    view = _view(state, firing)
    stopped = verdict(view)
    if firing.tripped and stopped is Stopped.LOST:
        stopped = Stopped.SHORT
    if not firing.tripped and stopped not in (Stopped.DONE, Stopped.UNSEEN):
        stopped = Stopped.BY_HAND
    return replace(firing, stopped=stopped)


def _read(state: State, line: Timeline, sequence: int, reading: Reading) -> tuple[State, tuple[Outcome, ...]]:
    settings = state.settings
    if settings is None or len(reading.probes) != len(state.tracks):
        return replace(state, line=line, sequence=sequence), ()
    now_ms, before_ms = line.now_ms, state.house.read_ms
    filling, closed = add(state.filling, now_ms, reading)
    state = changed(state, line=line, sequence=sequence, filling=filling)
    if before_ms is None or now_ms - before_ms >= GAP_MS or closed is not None:
        lit = state.firing is not None and not state.firing.ended
        missing = lit and before_ms is not None and now_ms - before_ms >= GAP_MS
        gap = (now_ms, now_ms - before_ms) if missing and before_ms is not None else state.house.gap
        state = changed(state, house=changed(state.house, read_ms=now_ms, gap=gap))
    return (state, ()) if closed is None else _close_bin(state, settings.kiln, closed)


def _close_bin(state: State, kiln: Kiln, closed: Bin) -> tuple[State, tuple[Outcome, ...]]:
    now_ms = state.line.now_ms
    offsets = [kiln.rings[ring].probe for ring in kiln.probe_rings]
    tracks = tuple(
        take(track, closed.at_ms, celsius if celsius is None or p is None else celsius + p.offset_celsius, fault, cold)
        for track, celsius, fault, cold, p in zip(
            state.tracks, closed.celsius, closed.faults, closed.cold, offsets, strict=True
        )
    )
    firing = state.firing
    room = firing.room_celsius if firing is not None else ROOM_CELSIUS
    switches = firing.switches if firing is not None and not firing.off else (Switch.OFF,) * len(kiln.rings)
    on = tuple(switches[ring] is not Switch.OFF for ring in kiln.probe_rings)
    out = tuple(kiln.rings[ring].name in state.out for ring in kiln.probe_rings)
    doubts = judge(tracks, state.doubts, now_ms, room, on, out)
    fit = tuple(good and not gone for good, gone in zip(trusted(tracks, doubts, now_ms), out, strict=True))
    state = changed(state, tracks=tracks, doubts=doubts, fit=fit)
    if firing is None or firing.ended or len(firing.work) != len(tracks):
        return _watch_house(state, kiln)
    return _watch_firing(state, _heat(state, firing, closed.at_ms))


def _heat(state: State, firing: Firing, at_ms: int) -> Firing:
    """Heat work, peaks and the room, after a bin."""
    celsius = borrowed(state.tracks, state.fit, firing.apart)
    pack = firing.pack
    work = tuple(w if c is None else gain(w, pack, at_ms, c) for w, c in zip(firing.work, celsius, strict=True))
    peaks = tuple(
        max(peak, t.celsius or peak) if fit else peak
        for peak, t, fit in zip(firing.peaks, state.tracks, state.fit, strict=True)
    )
    passed_ms = max(0, min(at_ms - firing.dried_at_ms, GAP_MS)) if firing.dried_at_ms else 0
    before = firing.dried_ms or (0.0,) * len(celsius)
    dried = tuple(old + dried_ms(c, passed_ms) for old, c in zip(before, celsius, strict=True))
    firing = changed(firing, work=work, peaks=peaks, dried_ms=dried, dried_at_ms=at_ms)
    if state.line.now_ms - firing.started_ms < ROOM_LEARNED_MS:
        firing = changed(firing, room_celsius=_room(state))
    return firing


def _watch_firing(state: State, firing: Firing) -> tuple[State, tuple[Outcome, ...]]:
    line = state.line
    minute = line.now_ms // 60_000
    each_minute = minute != state.minute
    questions: tuple[PromptOutcome, ...] = ()
    view = _view(state, firing)
    if firing.cone_down_ms is None and view.work.firing >= 1.0:
        firing = replace(firing, cone_down_ms=line.now_ms, guard_bend_at_down=bend_degrees(view.work.guard))
        view = replace(view, firing=firing)
    if each_minute:
        firing = follow_heating(replace(view, firing=_apart(view)))
        reference = view.celsius[view.reference]
        firing = advance(firing, line.now_ms, reference, _stepped_up(view))
        firing = parted(follow_model(replace(view, firing=firing)))
        if firing.off and firing.alpha_at_end is None:
            firing = replace(firing, alpha_at_end=view.work.shutoff, elements=elements_of(firing))
        view = replace(view, firing=firing)
        view = replace(view, left=what_is_left(view))
        if minute % EACH_MINUTES == 0:
            firing = replace(firing, got=gained(view, view.left))
            view = replace(view, firing=firing)
        firing, doubts = departing(view)
        state = replace(state, doubts=doubts)
        firing, questions = doubt_turns(replace(view, firing=firing, doubts=doubts), state.sequence)
        view = replace(view, firing=firing, doubts=doubts)
    judgements = fast(view) + ((*slow(view), *_house(state, firing.kiln), NOT_UNPLANNED) if each_minute else ())
    candling = firing.candling and not firing.off
    alarms, outcomes = judge_alarms(state.alarms, judgements, candling, line.now_ms, line.utc_ms)
    if each_minute and not firing.astray and strays(alarms, line.now_ms):
        firing = replace(firing, astray=True)
    state = changed(state, firing=firing, alarms=alarms, minute=minute)
    if not each_minute:
        return state, outcomes
    state, prompts = _say(state)
    latest = estimate(view, state.latest)
    if state.firing is not None:
        down = latest.cone_down
        state = replace(state, firing=foretelling(state.firing, down, line.now_ms, line.utc_ms))
    return replace(state, latest=latest), (*outcomes, *questions, *prompts, latest)


def _apart(view: View) -> Firing:
    """How far the rings stand apart, and the best each has stood since all switches stand alike."""
    firing = view.firing
    apart = usual(view.tracks, view.fit, firing.apart)
    turned_ago_ms = view.now_ms - firing.changed_ms
    best = firing.best_apart
    if len(set(firing.switches)) == 1 and turned_ago_ms > SETTLE_MS:
        best = tuple(map(max, best, apart))
    elif len(set(firing.switches)) > 1 and turned_ago_ms > TURNING_MS:
        best = (UNKNOWN_APART,) * len(apart)
    return replace(firing, apart=apart, best_apart=best)


def _watch_house(state: State, kiln: Kiln) -> tuple[State, tuple[Outcome, ...]]:
    """No firing: the house is looked after, heat that nobody claims is noticed, and what else still stood is over."""
    line = state.line
    minute = line.now_ms // 60_000
    if minute == state.minute:
        return state, ()
    names = tuple(kiln.rings[ring].name for ring in kiln.probe_rings)
    heating = heats(state.tracks, state.fit) is not None
    heats_ms = (state.house.heats_ms or line.now_ms) if heating else None
    state = replace(state, house=replace(state.house, heats_ms=heats_ms))
    found = (*_house(state, kiln), unplanned(names, state.tracks, state.fit, state.duty, heats_ms))
    spoken = {(one.tag, one.ring) for one in found}
    over = tuple(Judgement(a.tag, a.ring, False) for a in state.alarms.alarms if (a.tag, a.ring) not in spoken)
    alarms, outcomes = judge_alarms(state.alarms, (*found, *over), False, line.now_ms, line.utc_ms)
    return replace(state, alarms=alarms, minute=minute), outcomes


def _house(state: State, kiln: Kiln) -> tuple[Judgement, ...]:
    line = state.line
    names = tuple(kiln.rings[ring].name for ring in kiln.probe_rings)
    unset_ms = line.since_ms if line.unset else None
    return house(names, state.tracks, state.house, line.now_ms, unset_ms)


def _say(state: State) -> tuple[State, tuple[Outcome, ...]]:
    """Prompts that are due, each once; 'are you in reach?' leaves a question open."""
    if state.firing is None:
        return state, ()
    firing, prompts = due(_view(state, state.firing))
    over = firing.ended and not state.firing.ended
    state = replace(state, firing=firing)
    if over:
        learned, trip = after_trip(_view(state, firing), state.learned)
        state = replace(state, learned=learned, trip=trip)
    why = to_ask(_view(state, firing), None if state.latest is None else state.latest.next_turn)
    if why is None:
        return state, prompts
    key, words, question = why
    firing = replace(firing, said=(*firing.said, key))
    duty = ask(state.duty, words, state.line.now_ms)
    return replace(state, firing=firing, duty=duty), (*prompts, question)


def view_of(state: State) -> View | None:
    """The firing that was lit last, as it stands; None before any."""
    return None if state.firing is None else _view(state, state.firing)


def _view(state: State, firing: Firing) -> View:
    return View(
        state.line.now_ms,
        state.line.utc_ms,
        firing,
        state.tracks,
        state.doubts,
        state.fit,
        borrowed(state.tracks, state.fit, firing.apart) if len(firing.apart) == len(state.tracks) else (),
        state.duty,
        None if state.latest is None else state.latest.cone_down,
    )


def _stepped_up(view: View) -> bool:
    """Whether some ring climbs as after a turn: well faster than twenty-five minutes ago."""
    if view.now_ms - view.firing.turned_ms < 30 * 60_000 and logs_switches(view.firing):
        return False
    for i, fit in enumerate(view.fit):
        earlier = [p for p in view.last(i, 35) if p[0] < view.now_ms - 20 * 60_000]
        now = view.recent_climb(i, 8)
        if not fit or now is None or len(earlier) < 8:
            continue
        before = (earlier[-1][1] - earlier[0][1]) / (earlier[-1][0] - earlier[0][0]) * 3_600_000
        if now > 1.6 * max(before, 0.0) + 30.0:
            return True
    return False


def _room(state: State) -> float:
    """The room [degC]: the coolest believed ring at the start, unless the kiln was lit warm."""
    seen = [t.celsius for t, fit in zip(state.tracks, state.fit, strict=True) if fit and t.celsius is not None]
    return max(-10.0, min(seen)) if seen and min(seen) < 40.0 else ROOM_CELSIUS
