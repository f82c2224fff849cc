"""What a reading does: it joins its bin, and when that closes all that the watch believes is judged anew.

A reading goes: bins (ten seconds) -> tracks (spikes kept out) -> trust (is the probe wrong, or the kiln) -> heat
work -> stage and heating -> rules -> the life of each alarm -> estimate (each minute).
"""

from spyhole.core.alarms.book import Judgement
from spyhole.core.alarms.book import judge as judge_alarms
from spyhole.core.alarms.rules import fast, slow
from spyhole.core.alarms.rules.house import heats, house, unplanned
from spyhole.core.cones.kinetics import bend_degrees
from spyhole.core.curve.bins import Bin, add
from spyhole.core.curve.heat import borrowed, gain, usual
from spyhole.core.curve.track import take
from spyhole.core.curve.trust import judge, trusted
from spyhole.core.departing import departing
from spyhole.core.doubting import follow as doubt_turns
from spyhole.core.doubting import strays
from spyhole.core.drifting import drifting
from spyhole.core.element_share import EACH_MINUTES, gained
from spyhole.core.estimate import estimate
from spyhole.core.falling import falling
from spyhole.core.feeding import fed
from spyhole.core.firing import UNKNOWN_APART, Firing, advance, logs_switches
from spyhole.core.heating import follow as follow_heating
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.lacking import lacked
from spyhole.core.last_minutes import what_is_left
from spyhole.core.leaning import saying_so
from spyhole.core.learning import foretelling, parted
from spyhole.core.modelling import elements_of
from spyhole.core.modelling import follow as follow_model
from spyhole.core.outcome import Outcome, PromptOutcome
from spyhole.core.quick import changed
from spyhole.core.reading import Reading
from spyhole.core.saying import say
from spyhole.core.slipping import slipping
from spyhole.core.state import ROOM_CELSIUS, State, room_of, view_with
from spyhole.core.steam import dried_ms
from spyhole.core.thermal.line import SETTLE_MS
from spyhole.core.timeline import Timeline
from spyhole.core.turns import stays_cold
from spyhole.core.view import View, warmer_than_last
from spyhole.core.weakening import weakened

ROOM_LEARNED_MS = 5 * 60_000
TURNING_MS = 10 * 60_000
"""What a person takes to turn and log three switches: until then they only look unlike."""
WARMS_MS = 15 * 60_000
"""What a ring needs to show that it was switched on: until then a cold probe of it proves nothing (chosen)."""
GAP_MS = 180_000
"""Readings missing for longer are a gap."""
NOT_UNPLANNED = Judgement("unplanned-heat", None, False)


def read(state: State, line: Timeline, sequence: int, reading: Reading) -> tuple[State, tuple[Outcome, ...]]:
    """A reading, placed in time. One with more or fewer probes than the kiln has is passed over."""
    settings = state.settings
    if settings is None or len(reading.probes) != len(state.tracks):
        return changed(state, line=line, sequence=sequence), ()
    now_ms, before_ms = line.now_ms, state.house.read_ms
    filling, closed = add(state.filling, now_ms, reading)
    house = state.house
    if before_ms is None or now_ms - before_ms >= GAP_MS or closed is not None:
        lit = state.firing is not None and not state.firing.ended
        missing = lit and before_ms is not None and now_ms - before_ms >= GAP_MS
        gap = (now_ms, now_ms - before_ms) if missing and before_ms is not None else house.gap
        house = changed(house, read_ms=now_ms, gap=gap)
    state = changed(state, line=line, sequence=sequence, filling=filling, house=house)
    return (state, ()) if closed is None else _close_bin(state, settings.kiln, closed)


def _close_bin(state: State, kiln: Kiln, closed: Bin) -> tuple[State, tuple[Outcome, ...]]:
    now_ms = state.line.now_ms
    seen = kiln.probe_rings
    offsets = [kiln.rings[ring].probe for ring in seen]
    tracks = tuple(
        take(track, closed.at_ms, celsius if celsius is None or p is None else celsius + p.offset_celsius, fault, cold)
        for track, celsius, fault, cold, p in zip(
            state.tracks, closed.celsius, closed.faults, closed.cold, offsets, strict=True
        )
    )
    firing = state.firing
    room = firing.room_celsius if firing is not None else ROOM_CELSIUS
    switches = firing.switches if firing is not None and not firing.off else (Switch.OFF,) * len(kiln.rings)
    warm = firing is not None and now_ms - firing.turned_ms >= WARMS_MS
    on = tuple(warm and switches[ring] is not Switch.OFF for ring in seen)
    out = tuple(kiln.rings[ring].name in state.out for ring in seen)
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
        firing = changed(firing, room_celsius=room_of(state))
    return firing


def _watch_firing(state: State, firing: Firing) -> tuple[State, tuple[Outcome, ...]]:
    """A lit firing, after a bin: what must be known at once. Each minute the rest too, and what it may come to."""
    line = state.line
    minute = line.now_ms // 60_000
    view = view_with(state, firing)
    if firing.cone_down_ms is None and view.work.firing >= 1.0:
        firing = changed(firing, cone_down_ms=line.now_ms, guard_bend_at_down=bend_degrees(view.work.guard))
        view = changed(view, firing=firing)
    if minute == state.minute:
        return _judge(state, firing, fast(view))
    view, questions = _look_closely(view, minute, state.sequence)
    state = changed(state, firing=view.firing, doubts=view.doubts, minute=minute)
    found = (*fast(view), *slow(view), *_house(state, firing.kiln), NOT_UNPLANNED)
    state, outcomes = _judge(state, view.firing, found)
    if not view.firing.astray and strays(state.alarms, line.now_ms):
        state = changed(state, firing=changed(view.firing, astray=True))
    state, prompts = say(state)
    latest = estimate(view, state.latest)
    foretold = state.firing
    if foretold is not None:
        foretold = foretelling(foretold, latest.cone_down, line.now_ms, line.utc_ms)
        foretold = changed(
            foretold,
            down_said=saying_so(foretold.down_said, latest.cone_down, line.now_ms, line.utc_ms),
            off_said=saying_so(foretold.off_said, latest.shut_off, line.now_ms, line.utc_ms),
        )
    return changed(state, firing=foretold, latest=latest), (*outcomes, *questions, *prompts, latest)


def _judge(state: State, firing: Firing, found: tuple[Judgement, ...]) -> tuple[State, tuple[Outcome, ...]]:
    """The state with this firing, and what the rules found of it put to the alarms."""
    candling = firing.candling and not firing.off
    alarms, outcomes = judge_alarms(state.alarms, found, candling, state.line.now_ms, state.line.utc_ms)
    return changed(state, firing=firing, alarms=alarms), outcomes


def _look_closely(view: View, minute: int, sequence: int) -> tuple[View, tuple[PromptOutcome, ...]]:
    """Does it heat, which stage is it, what does the model leave unexplained, does a probe depart, is the log right?"""
    firing = follow_heating(changed(view, firing=_apart(view)))
    firing = advance(firing, view.now_ms, view.celsius[view.reference], _stepped_up(view), stays_cold=stays_cold(view))
    firing = changed(firing, warmer=warmer_than_last(changed(view, firing=firing)))
    firing = parted(follow_model(changed(view, firing=firing)))
    if firing.off and firing.alpha_at_end is None:
        firing = changed(firing, alpha_at_end=view.work.shutoff, elements=elements_of(firing))
    view = changed(view, firing=firing)
    view = changed(view, left=what_is_left(view))
    lacking, feeding = lacked(view), fed(view)
    if lacking != firing.lacked or feeding != firing.fed:
        view = changed(view, firing=changed(firing, lacked=lacking, fed=feeding))
    view = changed(view, firing=weakened(view))
    view = changed(view, firing=changed(view.firing, fall=falling(view)))
    if minute % EACH_MINUTES == 0:
        view = changed(view, firing=changed(view.firing, got=gained(view, view.left)))
    for find in (departing, drifting, slipping):
        firing, doubts = find(view)
        view = changed(view, firing=firing, doubts=doubts)
    firing, questions = doubt_turns(view, sequence)
    return changed(view, firing=firing), questions


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
    return changed(firing, apart=apart, best_apart=best)


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


def _watch_house(state: State, kiln: Kiln) -> tuple[State, tuple[Outcome, ...]]:
    """No firing: the house is looked after, heat that nobody claims is noticed, and what else still stood is over."""
    line = state.line
    minute = line.now_ms // 60_000
    if minute == state.minute:
        return state, ()
    names = tuple(kiln.rings[ring].name for ring in kiln.probe_rings)
    heating = heats(state.tracks, state.fit) is not None
    heats_ms = (state.house.heats_ms or line.now_ms) if heating else None
    state = changed(state, house=changed(state.house, heats_ms=heats_ms))
    found = (*_house(state, kiln), unplanned(names, state.tracks, state.fit, state.duty, heats_ms))
    spoken = {(one.tag, one.ring) for one in found}
    over = tuple(Judgement(a.tag, a.ring, False) for a in state.alarms.alarms if (a.tag, a.ring) not in spoken)
    alarms, outcomes = judge_alarms(state.alarms, (*found, *over), False, line.now_ms, line.utc_ms)
    return changed(state, alarms=alarms, minute=minute), outcomes


def _house(state: State, kiln: Kiln) -> tuple[Judgement, ...]:
    line = state.line
    names = tuple(kiln.rings[ring].name for ring in kiln.probe_rings)
    unset_ms = line.since_ms if line.unset else None
    return house(names, state.tracks, state.house, line.now_ms, unset_ms)
