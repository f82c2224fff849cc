"""What has been put and is not on the disk yet."""

from collections import Counter
from dataclasses import dataclass, field

from spyhole.core.journal import Row
from spyhole.core.outcome import EstimateOutcome
from spyhole.core.reading import Reading
from spyhole.services.archive import Batch, Checkpoint, Firing, Message, Minute, Photo
from spyhole.services.people import People
from spyhole.store.encoding import check_reading, check_rings
from spyhole.store.payload import journal_payload, outcome_payload


@dataclass(frozen=True, slots=True)
class Line:
    """A journal row, or an outcome with its tag and its ordinal among those of its row; already JSON."""

    row: Row
    ordinal: int
    kind: str
    tag: str
    payload: str


@dataclass(frozen=True, slots=True)
class Delivery:
    """How telling went: state is sent, pending (a try failed) or given-up. utc_ms: when it was accepted, else 0."""

    key: str
    state: str
    error: str
    utc_ms: int = 0


@dataclass(slots=True)
class Held:
    """One transaction to be. Of firings, checkpoints and people only the newest is held: it replaces the one before."""

    readings: list[Row] = field(default_factory=list)
    journal: list[Line] = field(default_factory=list)
    outcomes: list[Line] = field(default_factory=list)
    minutes: list[Minute] = field(default_factory=list)
    firings: dict[tuple[str, int], Firing] = field(default_factory=dict)
    checkpoints: dict[str, Checkpoint] = field(default_factory=dict)
    messages: list[Message] = field(default_factory=list)
    deliveries: list[Delivery] = field(default_factory=list)
    photos: list[Photo] = field(default_factory=list)
    people: People | None = None

    def extend(self, later: "Held") -> None:
        """Add what was put later."""
        self.readings += later.readings
        self.journal += later.journal
        self.outcomes += later.outcomes
        self.minutes += later.minutes
        self.firings |= later.firings
        self.checkpoints |= later.checkpoints
        self.messages += later.messages
        self.deliveries += later.deliveries
        self.photos += later.photos
        self.people = self.people if later.people is None else later.people

    def thin(self) -> bool:
        """Let every second reading of the older half go, but none that caused an outcome; False when none may go.

        Done again and again it leaves the newest readings whole and older ones ever wider apart.
        """
        causes = {(line.row.kiln, line.row.sequence) for line in self.outcomes}
        met: Counter[str] = Counter()
        half = len(self.readings) // 2
        kept = []
        for row in self.readings[:half]:
            met[row.kiln] += 1
            if met[row.kiln] % 2 or (row.kiln, row.sequence) in causes:
                kept.append(row)
        self.readings[:half] = kept
        return len(kept) < half


def held_of(batch: Batch) -> Held:
    """A batch, checked and made ready; ValueError for what the record could not give back exactly."""
    held = Held(minutes=list(batch.minutes), messages=list(batch.messages), people=batch.people)
    for step in batch.steps:
        row = step.row
        if isinstance(row.told, Reading):
            check_reading(row.told)
            held.readings.append(row)
        else:
            kind, payload = journal_payload(row.told)
            held.journal.append(Line(row, 0, kind, "", payload))
        for ordinal, outcome in enumerate(step.outcomes):
            if not isinstance(outcome, EstimateOutcome):
                kind, payload = outcome_payload(outcome)
                held.outcomes.append(Line(row, ordinal, kind, outcome.tag, payload))
    for minute in batch.minutes:
        check_rings(minute.rings)
    held.photos = list(batch.photos)
    held.firings = {(firing.kiln, firing.summary.id): firing for firing in batch.firings}
    if batch.checkpoint is not None:
        held.checkpoints[batch.checkpoint.kiln] = batch.checkpoint
    return held
