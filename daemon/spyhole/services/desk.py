"""What a page, a button or a command may ask of the daemon. The web room knows only this."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from spyhole.core.concluded import TurnSaid
from spyhole.services.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class CurveMark:
    """An entry or an alarm on the time axis. kind: entry, alarm, prompt."""

    utc_ms: int
    kind: str
    words: str


@dataclass(frozen=True, slots=True)
class Band:
    """Between which temperatures the plan wants every ring [degC]. All lists are as long as utc_ms."""

    utc_ms: list[int]
    low: list[float]
    high: list[float]


@dataclass(frozen=True, slots=True)
class Curve:
    """A firing's curve, thinned with min and max kept. All lists are as long as utc_ms; None where nothing is known.

    expected: what its plan wants, None where that cannot be told.
    cristobalite: whether the plan cools slower where it turns, as for a body that has it.
    """

    firing: int
    utc_ms: list[int]
    rings: dict[str, list[float | None]]
    ceiling: list[float | None]
    marks: list[CurveMark]
    expected: Band | None = None
    cristobalite: bool = False


@dataclass(frozen=True, slots=True)
class FiringSummary:
    """One line of the kiln book. ended_utc_ms None: under way."""

    id: int
    plan: str
    cone: str
    started_utc_ms: int
    ended_utc_ms: int | None
    tripped_utc_ms: int | None
    peak_celsius: float | None
    cone_progress: float | None
    alarms: int


@dataclass(frozen=True, slots=True)
class Done:
    """An act was taken into the journal. stored: on disk already (else in memory, and the store says why)."""

    sequence: int
    stored: bool


class Desk(Protocol):
    """Thread-safe. Every act raises `core.refusal.Refusal` for what cannot be taken."""

    def now(self) -> Snapshot:
        """The latest snapshot."""
        ...

    def follow(self, wake: Callable[[], None]) -> Callable[[], None]:
        """Have `wake` called (from any thread, must not block) at each new snapshot; returns the way to stop."""
        ...

    def curve(self, firing: int | None, points: int) -> Curve | None:
        """The curve of a firing (None: the one under way or the last), at most about `points` instants."""
        ...

    def firings(self, newest: int | None = None, before: int | None = None) -> list[FiringSummary]:
        """The kiln book, newest first: so many (None: all) of those begun before the firing of this id (None: any)."""
        ...

    def firing_count(self) -> int:
        """How many firings are in the kiln book."""
        ...

    def acknowledge(self, episode: str, who: str) -> Done:
        """Somebody has seen this episode."""
        ...

    def reset(self, episode: str, who: str) -> Done:
        """Put a latched episode back to normal: only once it is over and acknowledged."""
        ...

    def enter(self, kind: str, subject: str, value: str, who: str, minutes_ago: float = 0.0) -> Done:
        """Write an entry, about now or so many minutes back."""
        ...

    def photograph(self, jpeg: bytes, who: str) -> Done:
        """Keep a photograph of the cones, with an entry that shows it."""
        ...

    def photo(self, name: str) -> bytes | None:
        """The JPEG of this name, None when there is none."""
        ...

    def undo(self, sequence: int, who: str) -> Done:
        """Take an entry back; both stay in the record."""
        ...

    def shelve(self, tag: str, ring: str | None, minutes: float, reason: str, who: str) -> Done:
        """Put an alarm aside for so many minutes: at most 60, a high one 15."""
        ...

    def unshelve(self, tag: str, ring: str | None, who: str) -> Done:
        """Take it back before its time: it is judged at once."""
        ...

    def take_out_of_service(self, ring: str, reason: str, who: str) -> Done:
        """The probe of a ring raises nothing and decides nothing until it is put back."""
        ...

    def put_back(self, ring: str, who: str) -> Done:
        """A probe is in service again: what it says is judged at once."""
        ...

    def take_watch(self, who: str, note: str) -> Done:
        """Somebody holds the watch from now on, with what was said at the hand-over; "" for nobody."""
        ...

    def in_reach(self, who: str) -> Done:
        """Somebody has answered 'are you in reach?'; "" is whoever holds the watch."""
        ...

    def answer_turn(self, question: int, said: TurnSaid, minutes_ago: float, who: str) -> Done:
        """Somebody says whether the turn was made that is asked about; minutes_ago: when, at another time."""
        ...

    def rearm(self, who: str) -> Done:
        """Somebody lets the cut-out heartbeat run again; refused while what stopped it still holds."""
        ...
