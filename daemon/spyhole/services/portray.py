"""The state of the watch as a person wants to see it: one frozen snapshot, drawn when somebody looks."""

from dataclasses import replace

from spyhole.core.alarms.life import Standing
from spyhole.core.cones.kinetics import FASTEST_CELSIUS_PER_HOUR, alpha_words, bend_degrees, end_point_celsius
from spyhole.core.entry import EntryKind
from spyhole.core.firing import Firing
from spyhole.core.moment import Moment
from spyhole.core.outcome import EstimateOutcome, Priority
from spyhole.core.reading import Fault
from spyhole.core.state import State
from spyhole.core.words import Manner, entry
from spyhole.services.sayings import next_view, sentence, start_view, timer_view
from spyhole.services.snapshot import (
    AlarmView,
    ConditionView,
    ConeView,
    EntryView,
    FiringView,
    NextView,
    PanelView,
    RingView,
    ShelvedView,
    Snapshot,
)
from spyhole.services.standing import alarm_views, duty_view, not_alarms_yet, out_views, shelved_views
from spyhole.services.turn_answers import turn_asked_view

RECENT_ENTRIES = 12
SLOWEST_CLIMB = 15.0
"""Degrees an hour below which no cone is spoken of by its temperature: the charts begin there."""
NO_NUMBER = {
    Fault.OPEN: "no circuit: broken or loose",
    Fault.SHORT: "shorted",
    Fault.RANGE: "outside what this probe can give",
    Fault.BUS: "the amplifier does not answer",
    Fault.CONFIG: "the amplifier had restarted",
    Fault.UNSURE: "not sure of its number",
}
DOUBTED = {
    "out": "reads the room",
    "shorted": "reads the amplifier",
    "stuck": "does not move",
    "reversed": "falls while the kiln climbs",
    "doubtful": "in doubt",
    "noisy": "unsteady",
}


def portray(
    state: State,
    now: Moment,
    *,
    speed: float,
    tick_seconds: float,
    emulated: bool,
    manner: Manner,
    conditions: tuple[ConditionView, ...] = (),
    panel: PanelView | None = None,
) -> Snapshot:
    """Everything the page shows of this kiln at this moment."""
    kiln, firing = state.kiln, state.firing
    manner = replace(manner, typeset=True)
    if firing is not None and firing.ended:
        firing = None
    latest = state.latest if firing is not None else None
    alarms = alarm_views(state, manner, conditions)
    shelved = shelved_views(state, manner)
    reference = "" if kiln is None else kiln.rings[_reference_ring(state)].name
    return Snapshot(
        kiln="" if kiln is None else kiln.name,
        sequence=state.sequence,
        # By the watch's own offset, as all ages are: between a step of the wall clock and its row nothing looks old.
        now_utc_ms=now.monotonic_ms + state.line.utc_offset_ms if now.boot == state.line.boot else now.utc_ms,
        speed=speed,
        tick_seconds=tick_seconds,
        emulated=emulated,
        zone=str(manner.zone),
        unit=manner.unit,
        mood=_mood(alarms, shelved, firing),
        sentence=sentence(state, firing, latest, alarms, shelved, manner),
        firing=None if firing is None else _firing(state, firing),
        rings=_rings(state, firing),
        reference_ring=reference,
        cones=_cones(latest),
        ceiling_celsius=None if latest is None else latest.ceiling_celsius,
        alarms=alarms,
        shelved=shelved,
        out_of_service=out_views(state),
        duty=duty_view(state),
        next=None if _pressing(state) else _next(state, firing, latest, manner),
        cone_down=None if latest is None else latest.cone_down,
        shut_off=None if latest is None else latest.shut_off,
        timer=None if firing is None or latest is None else timer_view(latest, manner),
        cool=() if latest is None or firing is None or not firing.off else latest.cool,
        entries=() if state.firing is None else _entries(state.firing),
        conditions=not_alarms_yet(conditions, state),
        panel=panel,
        turn_asked=turn_asked_view(state, manner),
    )


def _pressing(state: State) -> bool:
    """Whether a high alarm holds: then its first action is what to do next, and nothing else is."""
    alarms = state.alarms.alarms
    return any(a.active and a.overlay is None and a.priority is Priority.HIGH for a in alarms)


def _next(state: State, firing: Firing | None, latest: EstimateOutcome | None, manner: Manner) -> NextView | None:
    return start_view(state) if firing is None else next_view(state, firing, latest, manner)


def _reference_ring(state: State) -> int:
    plan = state.firing.plan if state.firing is not None else state.plan
    return 0 if plan is None else plan.reference_ring


def _mood(alarms: tuple[AlarmView, ...], shelved: tuple[ShelvedView, ...], firing: Firing | None) -> str:
    if any(a.state in (Standing.UNACKNOWLEDGED, Standing.RETURNED) for a in alarms):
        return "look"
    if alarms or any(one.holds for one in shelved):
        return "minded"
    return "idle" if firing is None else "well"


def _firing(state: State, firing: Firing) -> FiringView:
    return FiringView(
        id=firing.id,
        plan=firing.plan.name,
        cone=firing.plan.cone,
        stage="cooling" if firing.off else firing.now_stage.name,
        heating=firing.heating and not firing.off,
        started_utc_ms=firing.started_utc_ms,
        stages=tuple(s.name for s in firing.plan.stages),
        stage_number=firing.stage + 1,
        peak_celsius=max(firing.peaks, default=None),
        cone_celsius=_cone_celsius(state, firing),
    )


def _cone_celsius(state: State, firing: Firing) -> float | None:
    climbs = [
        track.climb for track, fit in zip(state.tracks, state.fit, strict=True) if fit and track.climb is not None
    ]
    climb = max(climbs, default=0.0)
    if climb < SLOWEST_CLIMB or firing.off:
        return None
    return round(end_point_celsius(firing.pack.firing, min(climb, FASTEST_CELSIUS_PER_HOUR)), 1)


def _rings(state: State, firing: Firing | None) -> tuple[RingView, ...]:
    kiln = state.kiln
    if kiln is None:
        return ()
    probe_of = {ring: probe for probe, ring in enumerate(kiln.probe_rings)}
    rings = []
    for index, ring in enumerate(kiln.rings):
        lit = firing is not None and not firing.off
        switch = firing.switches[index].value if firing is not None and lit else "off"
        sure = firing.sure[index] if firing is not None and lit else False
        probe = probe_of.get(index)
        if probe is None:
            rings.append(RingView(ring.name, False, None, None, None, switch, sure, None))
            continue
        out = ring.name in state.out
        track, doubt, fit = state.tracks[probe], state.doubts[probe], state.fit[probe] and not out
        fault = None
        if out:
            fault = "out of service"
        elif track.fault is not None:
            fault = NO_NUMBER[track.fault]
        elif doubt is not None:
            fault = DOUBTED[doubt.reason.value]
        elif not fit:
            fault = "not read yet"
        seen_ms = None if track.at_ms is None else state.line.utc_ms - (state.line.now_ms - track.at_ms)
        rings.append(
            RingView(
                ring.name,
                True,
                track.celsius if fit else None,
                seen_ms,
                track.climb if fit else None,
                switch,
                sure,
                None if fit else fault,
            )
        )
    return tuple(rings)


def _cones(latest: EstimateOutcome | None) -> tuple[ConeView, ...]:
    if latest is None:
        return ()
    return tuple(
        ConeView(c.role, c.cone, bend_degrees(c.alpha), alpha_words(c.alpha))
        for c in latest.cones
        if c.role != "shutoff"
    )


def _entries(firing: Firing) -> tuple[EntryView, ...]:
    newest = sorted(firing.written, key=lambda w: w.sequence, reverse=True)[:RECENT_ENTRIES]
    return tuple(
        EntryView(
            None if w.sequence == firing.id else w.sequence,
            w.utc_ms,
            entry(w.entry),
            w.entry.who,
            w.undone,
            w.entry.value if w.entry.kind is EntryKind.PHOTO else None,
        )
        for w in newest
    )
