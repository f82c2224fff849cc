"""Turns that curve and log tell differently: taken from the curve or the plan's clock, asked about, and answered."""

from dataclasses import dataclass
from enum import StrEnum

from spyhole.core.kiln import Switch

BESIDE_MS = 30 * 60_000
"""An entry so near to a turn in time is of that turn; one that comes later is of another (chosen)."""


@dataclass(frozen=True, slots=True)
class Concluded:
    """A turn to these switches at at_ms [axis], which makes it this stage.

    before: the switches as they were believed until then. after: how many entries had been written by then, so that
    all can be believed afresh in the order in which it came to be known. seen: the curve shows it; else it is the
    plan's clock alone. began_ms: when the stage began that it ends [axis]; early_ms: how long before the plan's time.
    """

    switches: tuple[Switch, ...]
    before: tuple[Switch, ...]
    at_ms: int
    stage: int
    after: int
    seen: bool = True
    began_ms: int = 0
    early_ms: int = 0

    @property
    def rings(self) -> tuple[int, ...]:
        """The rings that it turns, from the bottom up."""
        return tuple(i for i, (a, b) in enumerate(zip(self.before, self.switches, strict=True)) if a is not b)


@dataclass(frozen=True, slots=True)
class TurnAsked:
    """A turn about which somebody is asked whether it was made.

    sequence: of the row at which it was asked, by which an answer names it. since_ms: axis. by_curve: the curve shows
    it, and the log has nothing or something else; else it is written down, and the curve shows that it was not made.
    entries: sequences of the entries that the curve denies.
    """

    sequence: int
    since_ms: int
    turn: Concluded
    by_curve: bool
    entries: tuple[int, ...] = ()


class TurnSaid(StrEnum):
    """Was it made? THEN: yes, but at another time."""

    YES = "yes"
    NO = "no"
    THEN = "then"


@dataclass(frozen=True, slots=True)
class TurnAnswer:
    """Somebody answers the question of that sequence. What has to be written down or taken back comes in rows after."""

    question: int
    said: TurnSaid
    who: str = ""
