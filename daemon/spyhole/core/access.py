"""Who may open the page, and what they may do there. Pure: what is secret comes in as a digest and stays one.

A *key* lets somebody in: a code lets one device in once, a class code lets guests in as long as it lasts, a device and
a token are recognised again and again, a password is known by heart.
"""

import hashlib
from dataclasses import dataclass, replace
from enum import StrEnum

MINUTE_MS = 60_000
DAY_MS = 86_400_000
DEVICE_DAYS = 180
"""A device that was not seen for so long is forgotten."""
CLOCK_SET_UTC_MS = 1_735_689_600_000
"""2025. What was noted before then was noted by a machine that did not know the time yet."""
KEYS_AT_MOST = 200
LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Of a code: none that is taken for another."""
CODE_LETTERS = 10

TRIES_A_MINUTE = 10
TRIES_A_MINUTE_FROM_ONE = 5
"""So that whoever tries from one place leaves room for the others."""


class Role(StrEnum):
    """keeper: does everything. guest: looks."""

    KEEPER = "keeper"
    GUEST = "guest"


class Kind(StrEnum):
    """What a key is."""

    CODE = "code"
    CLASS = "class"
    DEVICE = "device"
    TOKEN = "token"  # noqa: S105  # a word
    PASSWORD = "password"  # noqa: S105  # a word


@dataclass(frozen=True, slots=True)
class Key:
    """id: for showing and taking back. digest: of the secret. person: "" where it says nobody's name.

    label: what it is for. ends_utc_ms: None for no end. by: the id of the class code that let a guest in.
    """

    id: str
    kind: Kind
    digest: str
    role: Role
    person: str
    label: str
    made_utc_ms: int
    seen_utc_ms: int | None = None
    ends_utc_ms: int | None = None
    by: str = ""

    def good(self, utc_ms: int) -> bool:
        """Whether it still lets anybody in."""
        if self.ends_utc_ms is not None and utc_ms >= self.ends_utc_ms:
            return False
        last = max(self.seen_utc_ms or 0, self.made_utc_ms)
        if self.kind is not Kind.DEVICE or last < CLOCK_SET_UTC_MS:
            return True
        return utc_ms < last + DEVICE_DAYS * DAY_MS


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks. name: "" for a guest, or a program whose token names nobody. key: the id of what let them in."""

    name: str
    role: Role
    key: str = ""

    def may(self, *, change: bool) -> bool:
        """Whether they may look, or change something."""
        return self.role is Role.KEEPER or not change


@dataclass(frozen=True, slots=True)
class Keys:
    """All of them. Each change gives others."""

    everything: tuple[Key, ...] = ()

    @property
    def has_keeper(self) -> bool:
        """Whether somebody has been let in as a keeper, so that the first code is no more."""
        lasting = (Kind.DEVICE, Kind.PASSWORD)
        return any(key.role is Role.KEEPER and key.kind in lasting for key in self.everything)

    def with_key(self, key: Key, utc_ms: int) -> "Keys":
        """One more; what has ended goes, and where there are too many the oldest, a guest's before any keeper's."""
        kept = [each for each in self.everything if each.good(utc_ms)]
        while len(kept) >= KEYS_AT_MOST:
            kept.remove(next((each for each in kept if each.role is Role.GUEST), kept[0]))
        return Keys((*kept, key))

    def without(self, key_id: str) -> "Keys":
        """One less, with everybody it let in, where it was a class code."""
        return Keys(tuple(key for key in self.everything if key_id not in (key.id, key.by or key.id)))

    def shut_out_by(self, left: "Keys", utc_ms: int) -> bool:
        """Whether a keeper could come in by what is gone of these, and none can by what is left."""
        gone = Keys(tuple(key for key in self.everything if key not in left.everything))
        return gone.has_keeper and not Keys(tuple(key for key in left.everything if key.good(utc_ms))).has_keeper

    def found(self, secret: str, kinds: tuple[Kind, ...], utc_ms: int) -> Key | None:
        """The good key of one of these kinds that this secret opens."""
        digest = digest_of(secret)
        for key in self.everything:
            if key.kind in kinds and key.digest == digest and key.good(utc_ms):
                return key
        return None

    def password_of(self, person: str) -> Key | None:
        """Somebody's password."""
        for key in self.everything:
            if key.kind is Kind.PASSWORD and key.person == person:
                return key
        return None

    def seen(self, key_id: str, utc_ms: int) -> "Keys":
        """One was used now. The same object where it was noted within the last day: a card has only so many writes."""
        for key in self.everything:
            if key.id == key_id and (key.seen_utc_ms is None or utc_ms - key.seen_utc_ms >= DAY_MS):
                noted = replace(key, seen_utc_ms=utc_ms)
                return Keys(tuple(noted if each is key else each for each in self.everything))
        return self


@dataclass(frozen=True, slots=True)
class Tries:
    """Codes and passwords tried lately: when, and from which address."""

    lately: tuple[tuple[int, str], ...] = ()

    def one_more(self, address: str, monotonic_ms: int) -> "Tries | None":
        """With a try from there; None where it must not even be looked at."""
        lately = tuple(each for each in self.lately if monotonic_ms - each[0] < MINUTE_MS)
        theirs = sum(1 for _, place in lately if place == address)
        if len(lately) >= TRIES_A_MINUTE or theirs >= TRIES_A_MINUTE_FROM_ONE:
            return None
        return Tries((*lately, (monotonic_ms, address)))

    def one_less(self, address: str) -> "Tries":
        """Without the last try from there: what let somebody in once was no guess."""
        last = max((at for at, (_, place) in enumerate(self.lately) if place == address), default=None)
        return self if last is None else Tries(self.lately[:last] + self.lately[last + 1 :])


def digest_of(secret: str) -> str:
    """SHA-256 of a secret that is long and random. A password is neither, and gets argon2."""
    return hashlib.sha256(secret.encode()).hexdigest()


def plain_code(typed: str) -> str:
    """A code as it was made, however it was typed: spaces, hyphens and case do not matter."""
    return "".join(letter for letter in typed.upper() if letter in LETTERS)


def way_in(address: str, code: str) -> str:
    """Where a phone goes with a code. It stands behind the hash: browsers send that to nobody."""
    return f"{address}/door#code={code}"


def spoken_code(code: str) -> str:
    """A code in two halves, as people read it."""
    return f"{code[:5]}-{code[5:]}"
