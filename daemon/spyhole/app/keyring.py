"""Keys in a file of their own in the data folder: whoever may come in may, also when the record is damaged or away.

It holds digests only, is readable by the daemon's user alone, and is in no backup: after a restore people come in anew.
"""

import json
import logging
import os
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from spyhole.core.access import Key, Keys, Kind, Role
from spyhole.core.refusal import Refusal

if TYPE_CHECKING:
    from pwdlib import PasswordHash

log = logging.getLogger(__name__)

FILE = "keys.json"


class KeyFile:
    """folder: the data folder."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / FILE

    def load(self) -> Keys:
        """What the file holds; nothing, and a line in the log, where it cannot be read."""
        try:
            rows = json.loads(self._path.read_text(encoding="utf-8"))
            return Keys(tuple(Key(**{**row, "kind": Kind(row["kind"]), "role": Role(row["role"])}) for row in rows))
        except FileNotFoundError:
            return Keys()
        except (OSError, ValueError, TypeError, KeyError) as error:
            log.warning("%s cannot be read (%s): everybody has to come in anew", self._path, type(error).__name__)
            return Keys()

    def save(self, keys: Keys) -> None:
        """Old or new, never between."""
        beside = self._path.with_suffix(".new")
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
                json.dump([asdict(key) for key in keys.everything], out)
                out.flush()
                os.fsync(out.fileno())
            beside.replace(self._path)
        except OSError as error:
            why = error.strerror or error
            raise Refusal(
                "keys", f"who may come in cannot be kept ({why})", "look at the disk; the watch goes on"
            ) from None


class Argon:
    """Passwords by argon2id, with the least memory that OWASP's cheat sheet allows, 19 MiB and two passes."""

    def hash(self, password: str) -> str:
        """What is kept of it."""
        return _hasher().hash(password)

    def verify(self, password: str, kept: str) -> bool:
        """Whether it is the one."""
        return _hasher().verify(password, kept)


def _hasher() -> "PasswordHash":
    from pwdlib import PasswordHash  # when somebody first needs it
    from pwdlib.hashers.argon2 import Argon2Hasher

    return PasswordHash((Argon2Hasher(time_cost=2, memory_cost=19 * 1024, parallelism=1),))
