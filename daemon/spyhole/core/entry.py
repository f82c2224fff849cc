"""What people write down: a switch turned, a timer wound, a cone seen."""

from dataclasses import dataclass
from enum import StrEnum


class EntryKind(StrEnum):
    """The kinds of entry; the words are those of the entries file."""

    START = "start"  # value: cone
    SWITCH = "switch"  # subject: ring; value: off, low, medium, high
    PLUGS = "plugs"  # subject: ring or empty; value: in, half, out
    LID = "lid"  # value: closed, cracked, propped, open
    TIMER = "timer"  # value: minutes from now
    SHUTOFF = "shutoff"  # value: tripped, armed
    POWER = "power"  # value: lost, back
    CONE = "cone"  # subject: ring; value: CONE:BEND, BEND in degrees, `down` or `flat`
    NOTE = "note"  # value: words
    MAINTENANCE = "maintenance"  # subject: ring or empty; value: what was renewed, mended or found (`core.care`)
    LESSON = "lesson"  # value: keep, leave: whether the next firing learns from this one, whatever seemed odd
    PHOTO = "photo"  # value: the name of a photograph in the record (`core.forms.jpeg`)


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry, already checked against its kiln and plan (see `core.forms.entries_csv`).

    who: the person, "" where unknown. happened_utc_ms: when it happened, None means when it was recorded.
    """

    kind: EntryKind
    subject: str
    value: str
    who: str = ""
    happened_utc_ms: int | None = None
