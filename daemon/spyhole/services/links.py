"""What a link in a message may do: one thing, for one person, for a while. The channels room signs it."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

VALID_MS = 12 * 3600_000
"""A night. After that the page is where to look."""


class Purpose(StrEnum):
    """acknowledge: an episode. in_reach: answers 'are you in reach?'."""

    ACKNOWLEDGE = "acknowledge"
    IN_REACH = "in-reach"


@dataclass(frozen=True, slots=True)
class Claim:
    """What a link says. subject: the episode, or the notice's id. until_utc_ms: it is no good after that."""

    purpose: Purpose
    subject: str
    person: str
    until_utc_ms: int


class LinksPort(Protocol):
    """Signs claims, and tells ours from others'."""

    def sign(self, claim: Claim) -> str:
        """A token for a web address."""
        ...

    def read(self, token: str) -> Claim | None:
        """The claim; None for what we did not sign. Whether it is still good is for the caller."""
        ...
