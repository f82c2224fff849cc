"""What the page shows, made afresh each tick: one frozen object, small, already in the studio's words.

Temperatures are degC and instants utc_ms: the page shows them in its reader's unit and zone.
Sentences are made in the studio's own unit and zone (`core.words`).
"""

from dataclasses import dataclass

from spyhole.core.outcome import Forecast


@dataclass(frozen=True, slots=True)
class RingView:
    """One ring. celsius None goes with a fault sentence; seen_utc_ms is the age of the last believed number."""

    name: str
    has_probe: bool
    celsius: float | None
    seen_utc_ms: int | None
    climb: float | None
    switch: str
    switch_sure: bool
    fault: str | None


@dataclass(frozen=True, slots=True)
class ConeView:
    """One cone of the pack: role guide, firing or guard.

    words: upright, leaning, half over, tip nearly level, down, flat.
    """

    role: str
    cone: str
    bend_degrees: float
    words: str


@dataclass(frozen=True, slots=True)
class DeedView:
    """What happened to an alarm, or was done to it, in words. who: "" where nobody did it."""

    utc_ms: int
    words: str
    who: str


@dataclass(frozen=True, slots=True)
class AlarmView:
    """One episode with its worst tag on top. state: unacknowledged, acknowledged, returned, latched.

    acknowledged: somebody has seen all of it; a latched one may then be reset. acknowledged_by: None where unknown.
    shelf_minutes: for how long the top one may be put aside at most. history: of the top one, newest first.
    """

    episode: str
    tag: str
    ring: str | None
    priority: str
    state: str
    since_utc_ms: int
    seen: str
    first_action: str
    joined: tuple[str, ...]
    acknowledged: bool
    acknowledged_by: str | None
    shelf_minutes: float
    history: tuple[DeedView, ...]


@dataclass(frozen=True, slots=True)
class ShelvedView:
    """An alarm that is put aside. holds: its condition is on all the same. seen: what it would say."""

    tag: str
    ring: str | None
    priority: str
    seen: str
    holds: bool
    since_utc_ms: int
    until_utc_ms: int
    reason: str
    who: str


@dataclass(frozen=True, slots=True)
class OutOfServiceView:
    """A probe that raises nothing and decides nothing until it is put back."""

    ring: str
    since_utc_ms: int
    reason: str
    who: str


@dataclass(frozen=True, slots=True)
class AskedView:
    """'Are you in reach?', asked and not answered yet. words: the question, with what is coming."""

    words: str
    since_utc_ms: int


@dataclass(frozen=True, slots=True)
class TurnAskedView:
    """Whether a turn was made that curve and log tell differently. question: what an answer names; at_utc_ms: when."""

    question: int
    words: str
    since_utc_ms: int
    at_utc_ms: int


@dataclass(frozen=True, slots=True)
class DutyView:
    """Who holds the watch ("": nobody), since when, and what was said at the hand-over; who was last in reach, when."""

    holder: str
    note: str
    taken_utc_ms: int | None
    reached_by: str
    reached_utc_ms: int | None
    asked: AskedView | None


@dataclass(frozen=True, slots=True)
class NextView:
    """What to do next. at: when, None means now or cannot be told. turn: (ring, setting) pairs that Done will log.

    start: the cone of a firing that Done begins, None for anything else.
    """

    words: str
    why: str
    at: Forecast | None
    turn: tuple[tuple[str, str], ...]
    start: str | None = None


@dataclass(frozen=True, slots=True)
class TimerView:
    """The backup timer against the cone. gap: the sentence about it."""

    ends_utc_ms: int | None
    advised_minutes: int | None
    gap: str


@dataclass(frozen=True, slots=True)
class EntryView:
    """One entry or prompt of the recent past. sequence: what an undo names, None for what cannot be undone.

    photo: name of the photograph it shows, None for none.
    """

    sequence: int | None
    utc_ms: int
    words: str
    who: str
    undone: bool
    photo: str | None = None


@dataclass(frozen=True, slots=True)
class FiringView:
    """The firing under way, or the last one while it cools.

    id: the sequence of its start entry. stage_number: counted from one. cone_celsius: about where the firing cone
    goes down at the reference ring's climb, None while that does not climb.
    """

    id: int
    plan: str
    cone: str
    stage: str
    heating: bool
    started_utc_ms: int
    stages: tuple[str, ...]
    stage_number: int
    peak_celsius: float | None
    cone_celsius: float | None = None


@dataclass(frozen=True, slots=True)
class PanelView:
    """The emulated kiln as its panel shows it. Only in a rehearsal. button: one at the kiln can be pressed."""

    speed: float
    switches: tuple[tuple[str, str], ...]
    troubles: tuple[str, ...]
    trouble: str
    keeper: bool
    shutoff_tripped: bool
    power: bool
    lid: str
    timer_minutes_left: float
    plugs: str = "in"
    button: bool = False


@dataclass(frozen=True, slots=True)
class ConditionView:
    """A fault of the watch itself (disk, store, channel), in a sentence."""

    code: str
    since_utc_ms: int
    words: str


@dataclass(frozen=True, slots=True)
class CutOutView:
    """The cut-out heartbeat. since_utc_ms: of its running or standing still. tag: of the alarm that stopped it, or "".

    may_arm: whether it can be armed now.
    """

    running: bool
    since_utc_ms: int
    tag: str
    words: str
    may_arm: bool


@dataclass(frozen=True, slots=True)
class RoomView:
    """What is wired in the room; "" or None for what is not. sounder: silent, sounding, testing.

    lamp: dark, awake, lit, slow, fast.
    """

    sounder: str
    lamp: str
    button: bool
    cut_out: CutOutView | None


@dataclass(frozen=True, slots=True)
class Snapshot:
    """All of Now. sequence grows with every journal row; speed is kiln seconds a second (1 but in a rehearsal).

    conditions: without those that are among the alarms by now.
    mood: "well", "look" (an unacknowledged alarm), "minded" (alarms, all seen or put aside), "idle" (no firing).
    tick_seconds: how often a reading is due, so that the page can tell when it has gone stale.
    cool: degC (200, 100, 50) and its forecast. room: None where nothing is wired there.
    """

    kiln: str
    sequence: int
    now_utc_ms: int
    speed: float
    tick_seconds: float
    emulated: bool
    zone: str
    unit: str
    mood: str
    sentence: str
    firing: FiringView | None
    rings: tuple[RingView, ...]
    reference_ring: str
    cones: tuple[ConeView, ...]
    ceiling_celsius: float | None
    alarms: tuple[AlarmView, ...]
    shelved: tuple[ShelvedView, ...]
    out_of_service: tuple[OutOfServiceView, ...]
    duty: DutyView
    next: NextView | None
    cone_down: Forecast | None
    shut_off: Forecast | None
    timer: TimerView | None
    cool: tuple[tuple[int, Forecast | None], ...]
    entries: tuple[EntryView, ...]
    conditions: tuple[ConditionView, ...]
    panel: PanelView | None
    room: RoomView | None = None
    turn_asked: TurnAskedView | None = None
