"""The life of one alarm, after ISA-18.2 / IEC 62682 (states from memory; latching as in OPC UA Part 9).

state                    condition  acknowledged
normal                   off        yes
unacknowledged           on         no
acknowledged             on         yes
returned unacknowledged  off        no
latched                  off        either; only a reset ends it
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from spyhole.core.alarms.catalogue import Declaration
from spyhole.core.outcome import Facts, Priority


class Standing(StrEnum):
    """Where an alarm stands in its life."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned"
    LATCHED = "latched"


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm of one ring (None: the kiln). Times are axis milliseconds.

    since_ms: when the condition last changed to what it is; holds: what it is.
    raised_utc_ms, episode, facts: of the last raise. cleared_ms: when it last ended.
    """

    tag: str
    ring: str | None
    holds: bool = False
    since_ms: int = 0
    active: bool = False
    acknowledged: bool = True
    latched: bool = False
    episode: str = ""
    raised_utc_ms: int = 0
    cleared_ms: int = 0
    acknowledged_ms: int = 0
    acknowledged_by: str = ""
    priority: Priority = Priority.MEDIUM
    facts: Facts = ()

    @property
    def standing(self) -> Standing:
        """Its state, derived."""
        if self.active:
            return Standing.ACKNOWLEDGED if self.acknowledged else Standing.UNACKNOWLEDGED
        if self.latched:
            return Standing.LATCHED
        return Standing.NORMAL if self.acknowledged else Standing.RETURNED

    @property
    def quiet(self) -> bool:
        """Normal, with nothing pending: not worth keeping."""
        return self.standing is Standing.NORMAL and not self.holds


class Change(StrEnum):
    """What one step did."""

    RAISED = "raised"
    AGAIN = "again"
    CLEARED = "cleared"


def step(declared: Declaration, alarm: Alarm, holds: bool | None, now_ms: int) -> tuple[Alarm, Change | None]:
    """The alarm after judging its condition now. None: nothing could be judged, which is never 'all clear'."""
    if holds is None:
        return alarm, None
    if holds != alarm.holds:
        alarm = replace(alarm, holds=holds, since_ms=now_ms)
    held_ms = now_ms - alarm.since_ms
    if holds and not alarm.active and held_ms >= declared.on_delay_seconds * 1000:
        return replace(alarm, active=True, acknowledged=False, acknowledged_by=""), Change.RAISED
    if not holds and alarm.active and held_ms >= declared.off_delay_seconds * 1000:
        return replace(alarm, active=False, latched=declared.latched, cleared_ms=now_ms), Change.CLEARED
    if alarm.active and alarm.acknowledged and now_ms - alarm.acknowledged_ms >= declared.again_minutes * 60_000:
        return replace(alarm, acknowledged=False, acknowledged_by=""), Change.AGAIN
    return alarm, None


def acknowledge(alarm: Alarm, who: str, now_ms: int) -> Alarm:
    """Somebody has seen it."""
    if alarm.acknowledged:
        return alarm
    return replace(alarm, acknowledged=True, acknowledged_by=who, acknowledged_ms=now_ms)


def reset(alarm: Alarm) -> Alarm:
    """Back to normal, if it is latched, clear and acknowledged; else as it was."""
    return replace(alarm, latched=False) if alarm.latched and not alarm.active and alarm.acknowledged else alarm
