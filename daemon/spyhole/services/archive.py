"""The record as the services know it: what they hand over, what they get back. The store satisfies `Archive`.

Strategy: `put` never waits for a disk. What one step of the watch concluded stands in the same `Step` as the row
that caused it, and everything put is committed whole and in order, so a recovery never tells twice: an outcome is
in the record exactly when its row is. `flush` is how to learn that something is on the disk.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from spyhole.core.drawn import Drawn
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Row
from spyhole.core.measured import Fitted, Measured, Tripped, Witnessed
from spyhole.core.outcome import AlarmOutcome, Outcome, PromptOutcome
from spyhole.services.desk import FiringSummary
from spyhole.services.people import People


class ArchiveTrouble(Exception):
    """The record could not be read or written; str() is one sentence for a person. Nothing committed is lost."""


class ArchiveDamaged(ArchiveTrouble):
    """What was found in the record cannot be: only a new one helps (`Archive.begin_anew`)."""


@dataclass(frozen=True, slots=True)
class Step:
    """One row and what the watch concluded from it, in order. Estimates are not kept: replay makes them again."""

    row: Row
    outcomes: tuple[Outcome, ...] = ()


class RingMinute(NamedTuple):
    """One ring's believed readings in one minute [degC], kept to 1/128 degC. A tuple: a page waits for thousands."""

    lowest_celsius: float
    mean_celsius: float
    highest_celsius: float


@dataclass(frozen=True, slots=True)
class Minute:
    """One minute of a firing or of a warm kiln, rolled up. sequence, boot, monotonic_ms: of the row that closed it.

    firing: id of the one under way or the last, 0 before any.
    rings: one a ring of the kiln from the bottom up, None where nothing was believed.
    """

    kiln: str
    firing: int
    sequence: int
    boot: str
    monotonic_ms: int
    stage: str
    ceiling_celsius: float | None
    rings: tuple[RingMinute | None, ...]


class CurvePoint(NamedTuple):
    """One minute. utc_ms: by the best clock known of its boot."""

    utc_ms: int
    stage: str
    ceiling_celsius: float | None
    rings: tuple[RingMinute | None, ...]


class RingCourse(NamedTuple):
    """One ring's `RingMinute`s as columns [degC]; None in all three where nothing of it was believed."""

    lowest_celsius: list[float | None]
    mean_celsius: list[float | None]
    highest_celsius: list[float | None]


class Course(NamedTuple):
    """A firing's `CurvePoint`s as columns, all of one length, rings from the bottom up: a page waits for this."""

    utc_ms: list[int]
    ceiling_celsius: list[float | None]
    rings: tuple[RingCourse, ...]


@dataclass(frozen=True, slots=True)
class Firing:
    """A firing in the kiln book, with the texts it followed. Put again whenever something of it changes."""

    kiln: str
    summary: FiringSummary
    plan_toml: str
    kiln_toml: str


@dataclass(frozen=True, slots=True)
class Message:
    """Something to tell somebody, stored before it is sent.

    key: episode, recipient and step of escalation, unique for the life of the record: a message
    with a key already there is the same message and is not stored again.
    """

    key: str
    recipient: str
    title: str
    text: str
    urgent: bool
    created_utc_ms: int


@dataclass(frozen=True, slots=True)
class PendingMessage:
    """A stored message that nobody has been told yet. attempts: tries that failed; last_error: "" before the first."""

    message: Message
    attempts: int
    last_error: str


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The state of a watch after the row of this sequence. blob is the services' own; version is of its form."""

    kiln: str
    sequence: int
    version: int
    blob: bytes


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph, by the name of its content (`core.forms.jpeg.photo_name`). Its entry is a row of the journal."""

    name: str
    jpeg: bytes


@dataclass(frozen=True, slots=True)
class Batch:
    """What is committed together or not at all.

    urgent: commit at once (an alarm, an entry, an acknowledgement, a start, an end, anything a person did).
    firing: a firing is under way, so the ordinary commit is sooner (10 s, else 60 s).
    people: all of them, where they have changed.
    """

    steps: tuple[Step, ...] = ()
    minutes: tuple[Minute, ...] = ()
    firings: tuple[Firing, ...] = ()
    messages: tuple[Message, ...] = ()
    checkpoint: Checkpoint | None = None
    people: People | None = None
    photos: tuple[Photo, ...] = ()
    urgent: bool = False
    firing: bool = True


@dataclass(frozen=True, slots=True)
class Mark:
    """An entry, alarm or prompt on the time axis of a firing. undone: an entry taken back later."""

    utc_ms: int
    sequence: int
    what: Entry | AlarmOutcome | PromptOutcome
    undone: bool = False


class ConditionTold(Protocol):
    """Called, from the writer's thread, when a condition of the record begins or changes, and with None when it ends.

    code: `watch-disk` (no room, read-only, disk errors) or `watch-store` (anything else). words: for a person.
    """

    def __call__(self, code: str, words: str | None) -> None: ...


class Records(Protocol):
    """Reading the record: any thread, at any time; sees what is committed. Every call may raise `ArchiveTrouble`."""

    def kilns(self) -> list[str]:
        """Names of the kilns in the record."""
        ...

    def last_sequence(self, kiln: str) -> int:
        """Sequence of the last committed row, 0 when there is none: a new row takes the next."""
        ...

    def checkpoints(self, kiln: str) -> list[Checkpoint]:
        """The last few checkpoints, newest first: take the first whose version fits."""
        ...

    def rows_after(self, kiln: str, sequence: int) -> Iterator[Row]:
        """Rows after this sequence, in order, read a piece at a time; rows committed meanwhile come too."""
        ...

    def rows_between(self, kiln: str, first: int, last: int) -> Iterator[Row]:
        """Rows from first to last, both included, in order."""
        ...

    def told_between(self, kiln: str, first: int, last: int) -> Iterator[Row]:
        """Rows from first to last, both included, in order, without the readings."""
        ...

    def carried(self, kiln: str) -> int:
        """Sequence of the newest `Carried` row, 0 for none. A fold may begin at the clock row before it."""
        ...

    def outcomes_between(self, kiln: str, first: int, last: int) -> Iterator[tuple[int, AlarmOutcome | PromptOutcome]]:
        """(sequence of the row that caused it, outcome) of the rows from first to last, in order."""
        ...

    def firings(self, kiln: str, newest: int | None = None, before: int | None = None) -> list[FiringSummary]:
        """The kiln book, newest first: so many (None: all) of those begun before the firing of this id (None: any)."""
        ...

    def firing_count(self, kiln: str) -> int:
        """How many firings are in the kiln book."""
        ...

    def firing(self, kiln: str, firing: int) -> Firing | None:
        """One firing with its texts, by the sequence of its start entry."""
        ...

    def minutes(self, kiln: str, firing: int) -> list[CurvePoint]:
        """The curve of a firing in the order it was made."""
        ...

    def course(self, kiln: str, firing: int, points: int) -> Course:
        """The same as columns, neighbours joined until there are at most so many points."""
        ...

    def marks(self, kiln: str, firing: int) -> list[Mark]:
        """Entries, alarms raised and cleared, and prompts, from the start of this firing to that of the next."""
        ...

    def sketches(self, kiln: str, firings: Sequence[int], points: int) -> dict[int, list[tuple[int, float]]]:
        """(utc_ms, degC of the hottest ring) at about so many moments of each, evenly through its rows. Quick."""
        ...

    def noted(self, kiln: str, words: str) -> list[int]:
        """Sequences of the entries that say this, in capitals or not."""
        ...

    def entries_of(self, kiln: str, kind: EntryKind) -> list[Mark]:
        """Every entry of this kind that was not taken back, in order."""
        ...

    def fitted(
        self, kiln: str, kinds: tuple[type[Fitted], ...] = (Measured, Witnessed, Tripped)
    ) -> list[tuple[int, Fitted]]:
        """(utc_ms, what a firing said of its elements, its probes or its shut-off), in order."""
        ...

    def drawn(self, kiln: str, firing: int) -> list[tuple[int, Drawn]]:
        """(utc_ms, what each ring drew from then on) of a firing, in order; none without current transformers."""
        ...

    def photo(self, name: str) -> bytes | None:
        """The JPEG of this name."""
        ...

    def pending_messages(self) -> list[PendingMessage]:
        """Messages stored and neither sent nor given up, oldest first."""
        ...

    def told_keys(self, newest: int) -> list[str]:
        """Keys of so many of the newest messages, sent or not, oldest first."""
        ...

    def last_told(self) -> dict[str, int]:
        """utc_ms of the last message that was accepted, by recipient."""
        ...

    def people(self) -> People:
        """Who can be told, with their channels."""
        ...

    def integrity_check(self) -> list[str]:
        """What the database finds wrong with itself; empty when it is sound. Slow: minutes on a long record."""
        ...


class Archive(Records, Protocol):
    """The record, open for writing: one a data folder. Thread-safe."""

    def put(self, batch: Batch) -> None:
        """Take a batch in and return at once; it is committed within the pace, at once when urgent.

        The rows of one kiln come in order of sequence, each one more than the last. ValueError, and nothing taken,
        for a row out of order or a value the record could not give back exactly (a temperature that is not
        a multiple of 1/128 degC, a cold junction not of 1/64, a number beside a fault, more than eight probes).
        While the disk fails everything is held in memory; beyond a bound readings alone are thinned, older ones more,
        and the condition says so. Whoever writes faster than live (an import) calls `flush` now and then.
        """
        ...

    def flush(self, timeout_seconds: float) -> bool:
        """Commit now. True only when everything put before is on the disk; False when it is not yet, and is held."""
        ...

    def last_put(self, kiln: str) -> int:
        """Sequence of the last row taken in, also before this start; the next has to be one more. 0: there was none."""
        ...

    def begin_anew(self) -> None:
        """The record is damaged: move it aside, and go on in a new one, with all that is not committed yet.

        The rows keep their sequence. `watch-store` is told of until the next start.
        """
        ...

    def message_sent(self, key: str, utc_ms: int = 0) -> None:
        """Somebody accepted this message, then. Returns at once."""
        ...

    def message_failed(self, key: str, error: str, *, give_up: bool = False) -> None:
        """A try failed, and with give_up none will follow. Returns at once."""
        ...

    def close(self, timeout_seconds: float) -> bool:
        """Commit what is held, stop, let go of the data folder. True when nothing was left unwritten."""
        ...
