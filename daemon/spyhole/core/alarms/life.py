"""The life of one alarm: condition x acknowledgement, under an overlay.

After ISA-18.2-2016 / IEC 62682:2014, shelving and latching as in OPC UA Part 9 (all from memory).

state                    condition  acknowledged
normal                   off        yes
unacknowledged           on         no
acknowledged             on         yes
returned unacknowledged  off        no
latched                  off        either; only a reset ends it

An overlay hides the state and stops nothing: the condition is judged and kept as ever. When the last overlay goes,
what is on is unacknowledged, whatever was known of it before; what is off is normal, or latched.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from spyhole.core.alarms.catalogue import Declaration
from spyhole.core.outcome import Facts, Priority

RANK = {Priority.LOW: 0, Priority.MEDIUM: 1, Priority.HIGH: 2}

HISTORY_AT_MOST = 16
SHELVED_MINUTES_AT_MOST = 60.0
HIGH_SHELVED_MINUTES_AT_MOST = 15.0


class Standing(StrEnum):
    """Where an alarm stands in its life. The last three are overlays."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned"
    LATCHED = "latched"
    SHELVED = "shelved"
    BY_DESIGN = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


class DeedKind(StrEnum):
    """What happened to an alarm, or was done to it."""

    RAISED = "raised"
    CLEARED = "cleared"
    AGAIN = "told again"
    WORSE = "worse"
    ACKNOWLEDGED = "acknowledged"
    RESET = "reset"
    SHELVED = "shelved"
    TAKEN_BACK = "taken back"
    SHELF_OVER = "shelving over"
    OUT = "out of service"
    BACK = "back in service"
    SUPPRESSED = "suppressed by design"
    APPLIES = "applies again"


@dataclass(frozen=True, slots=True)
class Deed:
    """at_ms: axis. who: "" where nobody did it. note: the reason given."""

    at_ms: int
    kind: DeedKind
    who: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Shelf:
    """Put aside until then [axis ms], by whom and why."""

    since_ms: int
    until_ms: int
    reason: str
    who: str


@dataclass(frozen=True, slots=True)
class Alarm:
    """One alarm of one ring (None: the kiln). Times are axis milliseconds.

    since_ms: when the condition last changed to what it is; holds: what it is.
    active: it holds by its delays. logged: its raising was an outcome and its clearing has to be one.
    raised_utc_ms, episode, facts: of the last raise. cleared_ms: when it last ended.
    shelf, out, by_design: the overlays on it. history: oldest first, the last few.
    """

    tag: str
    ring: str | None
    holds: bool = False
    since_ms: int = 0
    active: bool = False
    logged: bool = False
    acknowledged: bool = True
    latched: bool = False
    episode: str = ""
    raised_utc_ms: int = 0
    cleared_ms: int = 0
    acknowledged_ms: int = 0
    acknowledged_by: str = ""
    priority: Priority = Priority.MEDIUM
    facts: Facts = ()
    shelf: Shelf | None = None
    out: bool = False
    by_design: bool = False
    history: tuple[Deed, ...] = ()

    @property
    def overlay(self) -> Standing | None:
        """What lies over it: of several, the one that a person has to take off by hand first."""
        if self.out:
            return Standing.OUT_OF_SERVICE
        if self.shelf is not None:
            return Standing.SHELVED
        return Standing.BY_DESIGN if self.by_design else None

    @property
    def beneath(self) -> Standing:
        """Its state without overlays."""
        if self.active:
            return Standing.ACKNOWLEDGED if self.acknowledged else Standing.UNACKNOWLEDGED
        if self.latched:
            return Standing.LATCHED
        return Standing.NORMAL if self.acknowledged else Standing.RETURNED

    @property
    def standing(self) -> Standing:
        """Its state."""
        return self.overlay or self.beneath

    @property
    def calls(self) -> bool:
        """Whether somebody is still to be called: it holds or is latched, nobody has seen it, no overlay is on it."""
        return self.overlay is None and not self.acknowledged and (self.active or self.latched)

    @property
    def quiet(self) -> bool:
        """Normal, with nothing pending: not worth keeping. A shelf is, for its end."""
        return self.beneath is Standing.NORMAL and not self.holds and self.shelf is None


class Change(StrEnum):
    """What one step did."""

    RAISED = "raised"
    AGAIN = "again"
    WORSE = "worse"
    CLEARED = "cleared"


def step(
    declared: Declaration, alarm: Alarm, holds: bool | None, now_ms: int, priority: Priority | None = None
) -> tuple[Alarm, Change | None]:
    """The alarm after judging its condition now. None: nothing could be judged, which is never 'all clear'.

    priority: its level now (None: as it was raised). One that holds and gets worse is unacknowledged once more.
    """
    if holds is None:
        return alarm, None
    if holds != alarm.holds:
        alarm = replace(alarm, holds=holds, since_ms=now_ms)
    held_ms = now_ms - alarm.since_ms
    if holds and not alarm.active and held_ms >= declared.on_delay_seconds * 1000:
        alarm = replace(alarm, active=True, acknowledged=False, acknowledged_by="", priority=priority or alarm.priority)
        return note(alarm, now_ms, DeedKind.RAISED), Change.RAISED
    if not holds and alarm.active and held_ms >= declared.off_delay_seconds * 1000:
        alarm = replace(alarm, active=False, latched=declared.latched, cleared_ms=now_ms)
        return note(alarm, now_ms, DeedKind.CLEARED), Change.CLEARED
    if alarm.active and priority is not None and RANK[priority] > RANK[alarm.priority]:
        alarm = replace(alarm, priority=priority, acknowledged=False, acknowledged_by="")
        return note(alarm, now_ms, DeedKind.WORSE), Change.WORSE
    told_long_ago = now_ms - alarm.acknowledged_ms >= declared.again_minutes * 60_000
    if alarm.active and alarm.acknowledged and alarm.overlay is None and told_long_ago:
        alarm = replace(alarm, acknowledged=False, acknowledged_by="")
        return note(alarm, now_ms, DeedKind.AGAIN), Change.AGAIN
    return alarm, None


def acknowledge(alarm: Alarm, who: str, now_ms: int) -> Alarm:
    """Somebody has seen it. Under an overlay it counts too, until the overlay goes and it still holds."""
    if alarm.acknowledged:
        return alarm
    alarm = replace(alarm, acknowledged=True, acknowledged_by=who, acknowledged_ms=now_ms)
    return note(alarm, now_ms, DeedKind.ACKNOWLEDGED, who)


def reset(alarm: Alarm, who: str = "", now_ms: int = 0) -> Alarm:
    """Back to normal, if it is latched, clear and acknowledged; else as it was."""
    if not alarm.latched or alarm.active or not alarm.acknowledged:
        return alarm
    return note(replace(alarm, latched=False), now_ms, DeedKind.RESET, who)


def cover(
    alarm: Alarm, now_ms: int, *, shelf: Shelf | None, out: bool, by_design: bool, who: str = "", reason: str = ""
) -> tuple[Alarm, bool]:
    """The alarm under these overlays and no others, and whether the last of them has just gone: then it is judged.

    who, reason: of the act by which they change, where it was one.
    """
    if (shelf, out, by_design) == (alarm.shelf, alarm.out, alarm.by_design):
        return alarm, False
    before = alarm
    if shelf != alarm.shelf and shelf is not None:
        alarm = note(alarm, now_ms, DeedKind.SHELVED, shelf.who, shelf.reason)
    elif alarm.shelf is not None and shelf is None:
        over = now_ms >= alarm.shelf.until_ms
        alarm = (
            note(alarm, now_ms, DeedKind.SHELF_OVER) if over else note(alarm, now_ms, DeedKind.TAKEN_BACK, who, reason)
        )
    if out != alarm.out:
        alarm = note(alarm, now_ms, DeedKind.OUT if out else DeedKind.BACK, who, reason)
    if by_design != alarm.by_design:
        alarm = note(alarm, now_ms, DeedKind.SUPPRESSED if by_design else DeedKind.APPLIES)
    alarm = replace(alarm, shelf=shelf, out=out, by_design=by_design)
    if before.overlay is None or alarm.overlay is not None:
        return alarm, False
    if alarm.active:
        return replace(alarm, acknowledged=False, acknowledged_by=""), True
    # What came and went beneath the overlay is over; a latched one waits for a person all the same.
    return (alarm if alarm.latched else replace(alarm, acknowledged=True)), True


def shelf_minutes_at_most(priority: Priority) -> float:
    """How long an alarm that can be of this priority may be put aside."""
    return HIGH_SHELVED_MINUTES_AT_MOST if priority is Priority.HIGH else SHELVED_MINUTES_AT_MOST


def beyond(value: float, limit: float, deadband: float) -> bool | None:
    """Whether value is past an upper limit: None in the deadband beneath it, where an alarm stays what it was."""
    if value > limit:
        return True
    return None if value > limit - deadband else False


def note(alarm: Alarm, now_ms: int, kind: DeedKind, who: str = "", why: str = "") -> Alarm:
    """With one more line in its history."""
    return replace(alarm, history=(*alarm.history, Deed(now_ms, kind, who, why))[-HISTORY_AT_MOST:])
