"""What the interface takes and gives besides the daemon's own frozen shapes."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from spyhole.core.concluded import TurnSaid
from spyhole.core.entry import EntryKind
from spyhole.core.kiln import Switch
from spyhole.services.desk import FiringSummary
from spyhole_web.visitor import own_name

LARGEST = 2**53 - 1  # what a browser's number holds exactly

LONGEST_AGO_MINUTES = 180.0
MinutesAgo = Annotated[float, Field(strict=True, ge=0, le=LONGEST_AGO_MINUTES, allow_inf_nan=False)]
"""An entry may be written down so much later: the watch judges by what it knew meanwhile."""

ONE_LINE = r"^[^\x00-\x1f\x7f]*$"
Line = Annotated[str, StringConstraints(max_length=80, pattern=ONE_LINE), AfterValidator(str.strip)]
"""Judged as it was sent, so that the description says what is taken; then blanks at its ends are taken off."""
Who = Annotated[
    Line,
    AfterValidator(own_name),
    Field(validate_default=True, description="the person, empty where unknown", examples=["Mina"]),
]
Name = Annotated[str, StringConstraints(min_length=1, max_length=80, pattern=ONE_LINE), AfterValidator(str.strip)]
Free = Annotated[str, StringConstraints(max_length=500, pattern=r"^[^\x00]*$"), AfterValidator(str.strip)]
Reason = Annotated[str, StringConstraints(min_length=3, max_length=200, pattern=ONE_LINE), AfterValidator(str.strip)]
"""What is left of it once blanks are off is judged again by whoever keeps it."""


class Asked(BaseModel):
    """What is sent here: a field nobody knows is refused by name."""

    model_config = ConfigDict(extra="forbid")


class AcknowledgementAsked(Asked):
    """Somebody has seen an alarm."""

    who: Who = ""


class EntryAsked(Asked):
    """Something a person did or saw. subject and value as in an entries file."""

    kind: EntryKind = Field(examples=["switch"])
    subject: Line = Field(default="", description="the ring, or empty", examples=["top"])
    value: Free = Field(default="", examples=["high"])
    who: Who = ""
    minutes_ago: MinutesAgo = Field(default=0.0, description="when it was done", examples=[5])


class ShelvingAsked(Asked):
    """An alarm to put aside."""

    tag: Annotated[str, Field(max_length=40, pattern=r"^[a-z-]+$", examples=["uneven"])]
    ring: Line | None = Field(default=None, description="null: the kiln", examples=["top"])
    minutes: float = Field(strict=True, gt=0, allow_inf_nan=False, examples=[30])
    reason: Reason = Field(examples=["Looked: the top shelf is empty"])
    who: Who = ""


class OutOfServiceAsked(Asked):
    """A probe to put out of service."""

    ring: Name = Field(examples=["top"])
    reason: Reason = Field(examples=["Its lead is worn through"])
    who: Who = ""


class WatchAsked(Asked):
    """Who holds the watch from now on; empty for nobody. Not in the asker's own name: it is given to somebody."""

    who: Line = Field(default="", description="whoever holds it, empty for nobody", examples=["Mina"])
    note: Free = Field(default="", examples=["Medium since six. Top plug is in."])


class InReachAsked(Asked):
    """An answer to 'are you in reach?'."""

    who: Who = ""


class TurnAnswerAsked(Asked):
    """Whether a turn was made: yes, no, or then, at another time."""

    said: TurnSaid = Field(examples=["then"])
    who: Who = ""
    minutes_ago: MinutesAgo = Field(default=0.0, description="when it was made, with then", examples=[40])


class TroubleAsked(Asked):
    """A trouble to throw into the rehearsal."""

    name: Name = Field(examples=["shutoff-jams"])


class PanelSwitchAsked(Asked):
    """A switch of the emulated kiln."""

    ring: Name = Field(examples=["top"])
    setting: Switch = Field(examples=["high"])


class SpeedAsked(Asked):
    """Kiln seconds a second, at most."""

    speed: float = Field(strict=True, gt=0, le=100_000, allow_inf_nan=False, examples=[60])


class KilnBook(BaseModel):
    """A page of firings, newest first. total: how many there are in all."""

    firings: list[FiringSummary]
    total: int


class Taken(BaseModel):
    """The emulated kiln has been told."""

    taken: bool = True


class Health(BaseModel):
    """The watch has ticked lately."""

    kiln: str
    silent_seconds: float = Field(description="since the last snapshot, on the clock of the machine")
