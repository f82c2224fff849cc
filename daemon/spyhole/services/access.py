"""Lets people and programs in. Secrets are shown once, when they are made; what is kept are digests."""

import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from spyhole.core.access import (
    CODE_LETTERS,
    DAY_MS,
    LETTERS,
    MINUTE_MS,
    Key,
    Keys,
    Kind,
    Role,
    Tries,
    Visitor,
    digest_of,
    plain_code,
)
from spyhole.core.refusal import Refusal

CODE_MINUTES = 30
FIRST_CODE_HOURS = 24
CLASS_DAYS_AT_MOST = 92
PASSWORD_LETTERS = (12, 128)
"""At least and at most; length, no other rule (OWASP ASVS 5, V6.2)."""
ONLY_WAY_IN = "this is the only way in that a keeper has"
ANOTHER_FIRST = "first let another device in, or keep a password"


class Keyring(Protocol):
    """Where keys are kept, for whoever runs the daemon alone."""

    def load(self) -> Keys:
        """All of them; none where nothing was kept."""
        ...

    def save(self, keys: Keys) -> None:
        """Keep these; Refusal where it cannot be."""
        ...


class Passwords(Protocol):
    """Makes what is kept of a password, slowly, and compares."""

    def hash(self, password: str) -> str: ...

    def verify(self, password: str, kept: str) -> bool: ...


class TooManyTries(Exception):
    """Codes or passwords are tried faster than anybody types."""


@dataclass(frozen=True, slots=True)
class KeyView:
    """A key, for showing."""

    id: str
    kind: Kind
    role: Role
    person: str
    label: str
    made_utc_ms: int
    seen_utc_ms: int | None
    ends_utc_ms: int | None


@dataclass(frozen=True, slots=True)
class Secret:
    """Shown once. words: the code, or the token. view: what is kept of it."""

    words: str
    view: KeyView


class Access:
    """Thread-safe. welcome: makes somebody known who came in by name.

    open_house: nobody need be let in as long as nobody has been: a rehearsal on its own machine.
    """

    def __init__(
        self,
        keyring: Keyring,
        passwords: Passwords,
        utc_ms: Callable[[], int],
        monotonic_ms: Callable[[], int],
        *,
        welcome: Callable[[str], object] = lambda name: None,
        open_house: bool = False,
    ) -> None:
        self._keyring = keyring
        self._passwords = passwords
        self._utc_ms = utc_ms
        self._monotonic_ms = monotonic_ms
        self._welcome = welcome
        self._open_house = open_house
        self._keys = keyring.load()
        self._tries = {Kind.CODE: Tries(), Kind.PASSWORD: Tries()}  # who guesses passwords keeps no code out
        self._lock = threading.Lock()
        self._slowly = threading.Lock()
        self._nobodys = ""

    # Who is there

    def visitor(self, device: str | None, token: str | None) -> Visitor | None:
        """Who this is, by the secret of a device or a token; None for somebody who must come in first."""
        now = self._utc_ms()
        if token is not None:
            key = self._keys.found(token, (Kind.TOKEN,), now)
        else:
            key = None if device is None else self._keys.found(device, (Kind.DEVICE,), now)
        if key is None:
            return Visitor("", Role.KEEPER) if self.is_open else None
        with self._lock:
            noted = self._keys.seen(key.id, now)
            if noted is not self._keys:
                self._keys = noted
                self._save_quietly()
        return Visitor(key.person, key.role, key.id)

    def still(self, visitor: Visitor) -> bool:
        """Whether they would be let in again."""
        if visitor.key == "":
            return self.is_open
        return any(key.id == visitor.key and key.good(self._utc_ms()) for key in self._keys.everything)

    @property
    def is_open(self) -> bool:
        """Whether everybody on this machine is let in, because it is a rehearsal and nobody has been yet."""
        return self._open_house and not self._keys.has_keeper

    @property
    def is_set_up(self) -> bool:
        """Whether there is a keeper."""
        return self._keys.has_keeper

    # Coming in

    def enter(self, typed: str, name: str, label: str, address: str) -> tuple[str, Visitor]:
        """A device comes in by a code; returns its secret. Refusal for a code that lets nobody in, or lacks a name.

        name: who it is, needed for a keeper where the code does not say. label: what device. TooManyTries.
        """
        self._count(Kind.CODE, address)
        code = plain_code(typed)
        with self._lock:
            now = self._utc_ms()
            key = self._keys.found(code, (Kind.CODE, Kind.CLASS), now) if len(code) == CODE_LETTERS else None
            if key is None:
                raise Refusal("code", "this code lets nobody in", "codes work once and for a while; ask for another")
            person = key.person or (name.strip() if key.role is Role.KEEPER else "")
            if key.role is Role.KEEPER:
                if person == "":
                    raise Refusal("name", "a keeper has a name", "it stands beside what you do")
                self._welcome(person)
            keys = self._keys
            if key.kind is Kind.CODE:
                keys = keys.without(key.id)
                self._tries[Kind.CODE] = self._tries[Kind.CODE].one_less(address)
            ends, by = (key.ends_utc_ms, key.id) if key.kind is Kind.CLASS else (None, "")
            return self._admit(keys, person, key.role, label, ends, by)

    def sign_in(self, name: str, password: str, label: str, address: str) -> tuple[str, Visitor]:
        """A device comes in by name and password. Refusal, the same whichever is wrong; TooManyTries."""
        self._count(Kind.PASSWORD, address)
        key = self._keys.password_of(name.strip())
        # One at a time, for the memory it takes; and a name nobody has costs as much time as a wrong password.
        with self._slowly:
            if self._nobodys == "":
                self._nobodys = self._passwords.hash(secrets.token_hex(16))
            right = self._passwords.verify(password, self._nobodys if key is None else key.digest)
        if key is None or not right:
            raise Refusal("password", "name and password do not go together", "or come in by a code")
        with self._lock:
            return self._admit(self._keys, key.person, key.role, label, None)

    def sign_out(self, visitor: Visitor) -> None:
        """This device must come in again. Refusal where no keeper could come in any more."""
        with self._lock:
            left = self._keys.without(visitor.key)
            self._keep_a_way_in(left, "device", ONLY_WAY_IN, ANOTHER_FIRST)
            self._change(left)

    # Making and taking back

    def first_code(self) -> str | None:
        """A code for whoever sets up: a new one each time, until there is a keeper; then None."""
        if self._keys.has_keeper:
            return None
        with self._lock:
            for key in self._keys.everything:
                if key.kind is Kind.CODE and key.label == "first":
                    self._keys = self._keys.without(key.id)
        return self.code(Role.KEEPER, "", "first", FIRST_CODE_HOURS * 60).words

    def code(self, role: Role, person: str, label: str, minutes: int = CODE_MINUTES) -> Secret:
        """For one device, once. person: whose it will be; "" and they say so themselves."""
        return self._make(Kind.CODE, _code(), role, person, label, minutes * MINUTE_MS)

    def class_code(self, label: str, days: int) -> Secret:
        """For guests, as often as they like, for so many days."""
        if not 1 <= days <= CLASS_DAYS_AT_MOST:
            raise Refusal("days", f"{days} is no such time", f"1 to {CLASS_DAYS_AT_MOST} days")
        return self._make(Kind.CLASS, _code(), Role.GUEST, "", label, days * DAY_MS)

    def token(self, label: str, role: Role) -> Secret:
        """For a program."""
        return self._make(Kind.TOKEN, secrets.token_urlsafe(32), role, "", label, None)

    def set_password(self, visitor: Visitor, password: str) -> None:
        """For log-in by name, of somebody who is in and has a name. Refusal."""
        shortest, longest = PASSWORD_LETTERS
        if not shortest <= len(password) <= longest:
            raise Refusal("password", "it is too short or too long", f"{shortest} to {longest} characters, any at all")
        if visitor.name == "":
            raise Refusal("password", "only somebody with a name has one", "come in as a keeper")
        with self._slowly:
            kept = self._passwords.hash(password)
        with self._lock:
            old = self._keys.password_of(visitor.name)
            keys = self._keys if old is None else self._keys.without(old.id)
            now = self._utc_ms()
            made = Key(secrets.token_hex(4), Kind.PASSWORD, kept, visitor.role, visitor.name, "", now)
            self._change(keys.with_key(made, now))

    def revoke(self, key_id: str) -> None:
        """What it let in is out from now on, a whole class too.

        Refusal for one that is not there, and where no keeper could come in any more.
        """
        with self._lock:
            left = self._keys.without(key_id)
            if left == self._keys:
                raise Refusal("key", "there is none like this", "the list says which there are")
            self._keep_a_way_in(left, "key", ONLY_WAY_IN, ANOTHER_FIRST)
            self._change(left)

    def may_part_with(self, person: str) -> None:
        """Refusal where nobody could come in as a keeper any more once this person is gone."""
        left = Keys(tuple(key for key in self._keys.everything if key.person != person))
        only = f"{person} is the only keeper who can come in"
        self._keep_a_way_in(left, "person", only, "let another keeper in first")

    def part_with(self, person: str) -> None:
        """What is theirs lets nobody in any more: devices, password, a code nobody has used yet. Refusal."""
        with self._lock:
            self._change(Keys(tuple(key for key in self._keys.everything if key.person != person)))

    def view(self) -> tuple[KeyView, ...]:
        """All that let anybody in now, the oldest first."""
        now = self._utc_ms()
        return tuple(_view(key) for key in self._keys.everything if key.good(now))

    # Inside

    def _admit(
        self, keys: Keys, person: str, role: Role, label: str, ends: int | None, by: str = ""
    ) -> tuple[str, Visitor]:
        secret, now = secrets.token_urlsafe(32), self._utc_ms()
        made = Key(secrets.token_hex(4), Kind.DEVICE, digest_of(secret), role, person, label, now, now, ends, by)
        self._change(keys.with_key(made, now))
        return secret, Visitor(person, role, made.id)

    def _keep_a_way_in(self, left: Keys, where: str, problem: str, first: str) -> None:
        if self._keys.shut_out_by(left, self._utc_ms()):
            raise Refusal(where, problem, first)

    def _make(self, kind: Kind, secret: str, role: Role, person: str, label: str, lasts_ms: int | None) -> Secret:
        with self._lock:
            now = self._utc_ms()
            ends = None if lasts_ms is None else now + lasts_ms
            made = Key(secrets.token_hex(4), kind, digest_of(secret), role, person, label, now, None, ends)
            self._change(self._keys.with_key(made, now))
        return Secret(secret, _view(made))

    def _count(self, kind: Kind, address: str) -> None:
        with self._lock:
            tries = self._tries[kind].one_more(address, self._monotonic_ms())
            if tries is None:
                raise TooManyTries
            self._tries[kind] = tries

    def _change(self, keys: Keys) -> None:
        self._keyring.save(keys)
        self._keys = keys

    def _save_quietly(self) -> None:
        try:
            self._keyring.save(self._keys)
        except Refusal:
            return  # that it was seen matters less than that it is let in


def _code() -> str:
    return "".join(secrets.choice(LETTERS) for _ in range(CODE_LETTERS))


def _view(key: Key) -> KeyView:
    return KeyView(key.id, key.kind, key.role, key.person, key.label, key.made_utc_ms, key.seen_utc_ms, key.ends_utc_ms)
