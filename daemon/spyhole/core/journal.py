"""The journal: everything the watch has been told, in order. Live, rehearsal, replay and recovery fold these."""

from dataclasses import dataclass

from spyhole.core.concluded import TurnAnswer
from spyhole.core.drawn import Drawn
from spyhole.core.entry import Entry
from spyhole.core.kiln import Kiln
from spyhole.core.learned import Learned
from spyhole.core.measured import Measured, Tripped, Witnessed
from spyhole.core.plan import Plan
from spyhole.core.plans import Shelf
from spyhole.core.preparation import Preparation
from spyhole.core.reading import Reading


@dataclass(frozen=True, slots=True)
class Clock:
    """What the wall clock says now: written at each start, each step, and every ten minutes."""

    utc_ms: int
    synchronised: bool


@dataclass(frozen=True, slots=True)
class Settings:
    """The kiln as described, and the plan the next firing follows. Written at start and at each change."""

    kiln: Kiln
    plan: Plan


@dataclass(frozen=True, slots=True)
class Acknowledgement:
    """Somebody has seen an alarm. episode: its id (`a7`)."""

    episode: str
    who: str


@dataclass(frozen=True, slots=True)
class Reset:
    """Somebody puts a latched alarm back to normal, once it is clear and acknowledged."""

    episode: str
    who: str


@dataclass(frozen=True, slots=True)
class Undo:
    """Takes an entry back by its sequence. Both stay in the journal."""

    sequence: int
    who: str


@dataclass(frozen=True, slots=True)
class Shelving:
    """An alarm is put aside for so many minutes, with a reason; 0 minutes brings it back. ring: None, the kiln."""

    tag: str
    ring: str | None
    minutes: float
    reason: str
    who: str


@dataclass(frozen=True, slots=True)
class OutOfService:
    """The probe of a ring is out of service, or back: while out, what it says raises nothing and decides nothing."""

    ring: str
    out: bool
    reason: str
    who: str


@dataclass(frozen=True, slots=True)
class WatchTaken:
    """Somebody holds the watch from now on, with what was said at the hand-over. who: "" for nobody."""

    who: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class InReach:
    """Somebody has answered 'are you in reach?'."""

    who: str


@dataclass(frozen=True, slots=True)
class Rearm:
    """Somebody lets the cut-out heartbeat run again."""

    who: str


@dataclass(frozen=True, slots=True)
class PlanEdit:
    """The plan is another from now on: of the firing under way, and of the next."""

    plan: Plan
    who: str


@dataclass(frozen=True, slots=True)
class PlanKept:
    """A plan is kept on the shelf under this key, or (None) taken down from it. No firing follows it by that."""

    key: str
    plan: Plan | None
    who: str = ""


@dataclass(frozen=True, slots=True)
class Model:
    """What earlier firings taught of this kiln, frozen before a start."""

    learned: Learned


@dataclass(frozen=True, slots=True)
class Carried:
    """What is known, at a start, of all that came before. A fold may begin with the clock row before it.

    settings: the kiln and the plan that is about to be lit. filed: the plan as its file gave it. out: the probes out
    of service. duty: who holds the watch. episodes: the number of the last one. prepared: how the kiln was made ready.
    """

    settings: Settings
    filed: Plan | None
    shelf: Shelf
    out: tuple[OutOfService, ...]
    duty: WatchTaken
    episodes: int
    prepared: Preparation | None
    learned: Learned


@dataclass(frozen=True, slots=True)
class WatchFault:
    """A fault of the watch itself begins (holds) or ends. tag: `watch-disk`, `watch-alerts` and the like."""

    tag: str
    holds: bool


Told = (
    Reading
    | Clock
    | Settings
    | Entry
    | Acknowledgement
    | Reset
    | Undo
    | Shelving
    | OutOfService
    | WatchTaken
    | InReach
    | TurnAnswer
    | Rearm
    | PlanEdit
    | PlanKept
    | Preparation
    | Model
    | Measured
    | Witnessed
    | Tripped
    | Carried
    | WatchFault
    | Drawn
)


@dataclass(frozen=True, slots=True)
class Row:
    """One row. Order is the sequence, from 1, without gaps within a kiln.

    boot and monotonic_ms say when, on a clock that never steps within a boot; UTC is derived
    from the Clock rows and never rewritten.
    """

    kiln: str
    sequence: int
    boot: str
    monotonic_ms: int
    told: Told
