"""The journal: everything the watch has been told, in order. Live, rehearsal, replay and recovery fold these."""

from dataclasses import dataclass

from spyhole.core.entry import Entry
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
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


Told = Reading | Clock | Settings | Entry | Acknowledgement | Reset | Undo


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
