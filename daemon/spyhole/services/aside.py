"""What may be put aside, and by whom the watch may be taken: acts checked against what stands, before they are rows.

The limits are those of `core.alarms.life`; a shelf is for what somebody has looked at and cannot mend just now.
"""

import math
from collections.abc import Callable

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.alarms.life import Alarm, Standing, shelf_minutes_at_most
from spyhole.core.journal import InReach, OutOfService, Shelving, WatchTaken
from spyhole.core.refusal import Refusal
from spyhole.core.state import State

REASON_AT_MOST = 200
NOTE_AT_MOST = 500
NAME_AT_MOST = 60


def shelving(state: State, tag: str, ring: str | None, minutes: float, reason: str, who: str) -> Shelving:
    """An alarm that stands, put aside for a while; again for one put aside already."""
    alarm = _alarm(state, tag, ring, lambda a: a.standing is not Standing.NORMAL, "stands")
    at_most = shelf_minutes_at_most(CATALOGUE[alarm.tag].priority)
    if not (math.isfinite(minutes) and 1 <= minutes <= at_most):
        raise Refusal("minutes", "this alarm cannot be put aside for so long", f"it is 1 to {at_most:g} minutes")
    return Shelving(tag, ring, minutes, _reason(reason), _name(who))


def unshelving(state: State, tag: str, ring: str | None, who: str) -> Shelving:
    """One that is put aside, taken back before its time."""
    _alarm(state, tag, ring, lambda a: a.shelf is not None, "is put aside")
    return Shelving(tag, ring, 0.0, "", _name(who))


def out_of_service(state: State, ring: str, reason: str, who: str) -> OutOfService:
    """The probe of a ring, until somebody puts it back."""
    _probe(state, ring)
    if ring in state.out:
        raise Refusal("ring", "this probe is out of service already", "put it back first to say something else of it")
    return OutOfService(ring, True, _reason(reason), _name(who))


def put_back(state: State, ring: str, who: str) -> OutOfService:
    """A probe that is out of service."""
    _probe(state, ring)
    if ring not in state.out:
        there = ", ".join(sorted(state.out))
        raise Refusal("ring", "this probe is in service", f"out of service: {there}" if there else "none is out")
    return OutOfService(ring, False, "", _name(who))


def watch_taken(state: State, who: str, note: str) -> WatchTaken:
    """Somebody takes the watch, or ("") nobody holds it from now on."""
    note = " ".join(note.split())
    if len(note) > NOTE_AT_MOST or not note.isprintable():
        raise Refusal("note", "this note cannot be kept", f"it is at most {NOTE_AT_MOST} characters")
    who = _name(who)
    if not who and not state.duty.holder:
        raise Refusal("who", "nobody holds the watch", "it is the name of whoever takes it")
    return WatchTaken(who, note)


def in_reach(state: State, who: str) -> InReach:
    """An answer to 'are you in reach?', asked or not: whoever is near may say so. No name: whoever holds the watch."""
    return InReach(_name(who) or state.duty.holder)


def _alarm(state: State, tag: str, ring: str | None, fits: Callable[[Alarm], bool], what: str) -> Alarm:
    there = [alarm for alarm in state.alarms.alarms if fits(alarm)]
    for alarm in there:
        if (alarm.tag, alarm.ring) == (tag, ring):
            return alarm
    named = ", ".join(f"{a.tag} ({a.ring})" if a.ring else a.tag for a in there)
    raise Refusal("tag", f"no such alarm {what}", f"there are {named}" if named else "there is none now")


def _probe(state: State, ring: str) -> None:
    rings = [] if state.kiln is None else [state.kiln.rings[index].name for index in state.kiln.probe_rings]
    if ring not in rings:
        raise Refusal("ring", "no ring with a probe is called so", f"it is one of {', '.join(rings)}")


def _reason(reason: str) -> str:
    reason = " ".join(reason.split())
    if not 3 <= len(reason) <= REASON_AT_MOST or not reason.isprintable():
        raise Refusal(
            "reason", "a reason is missing", f"it is 3 to {REASON_AT_MOST} characters, for whoever comes next"
        )
    return reason


def _name(who: str) -> str:
    if len(who) > NAME_AT_MOST or not who.isprintable():
        raise Refusal("who", "this is no name", f"it is at most {NAME_AT_MOST} characters on one line")
    return who.strip()
