"""Signs the links in messages, by itsdangerous, with a key that never leaves this machine's data folder."""

import hashlib
import os
import secrets
from pathlib import Path

from itsdangerous import BadData, URLSafeSerializer

from spyhole.core.refusal import Refusal
from spyhole.services.links import Claim, Purpose

KEY = "links.key"
KEY_BYTES = 32
SALT = "spyhole link in a message"


class SignedLinks:
    """Satisfies `services.links.LinksPort`. Expiry is in the claim, in the watch's own time: a Pi may wake in 1970."""

    def __init__(self, key: bytes) -> None:
        self._serializer = URLSafeSerializer(key, salt=SALT, signer_kwargs={"digest_method": hashlib.sha256})

    def sign(self, claim: Claim) -> str:
        signed = self._serializer.dumps([claim.purpose.value, claim.subject, claim.person, claim.until_utc_ms])
        return str(signed)

    def read(self, token: str) -> Claim | None:
        try:
            purpose, subject, person, until_utc_ms = self._serializer.loads(token)
            return Claim(Purpose(purpose), str(subject), str(person), int(until_utc_ms))
        except (BadData, ValueError, TypeError):
            return None


def key_in(folder: Path) -> bytes:
    """The key kept in this folder, made at the first call. Refusal where it cannot be kept."""
    path = folder / KEY
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if path.exists() and len(key := path.read_bytes()) == KEY_BYTES:
            return key
        key = secrets.token_bytes(KEY_BYTES)
        half = path.with_suffix(".new")
        half.unlink(missing_ok=True)
        with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(key)
            file.flush()
            os.fsync(file.fileno())
        half.replace(path)
    except OSError as error:
        raise Refusal(str(path), f"the key for links cannot be kept ({error.strerror})", "look at the folder") from None
    return key
