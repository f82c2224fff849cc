"""How a command reaches the daemon that has the record open: a socket in the data folder, for its owner alone.

One request a connection: a line of JSON each way. Whoever may read the folder's files may ask; nobody else.
"""

import json
import logging
import os
import socket
import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path

from spyhole.core.refusal import Refusal

log = logging.getLogger(__name__)

SOCKET = "hatch"
LARGEST_BYTES = 16 * 1024
SECONDS = 30.0
STANDING = "standing"
"""The act by which a daemon says whether a firing is on: `firing` or `idle`."""

Given = Mapping[str, str]
Act = Callable[[Given], str]
"""Does one thing and says so; Refusal."""


class Hatch:
    """acts: by name."""

    def __init__(self, folder: Path, acts: Mapping[str, Act]) -> None:
        self._path = folder / SOCKET
        self._acts = dict(acts)
        self._socket: socket.socket | None = None
        self._thread = threading.Thread(target=self._run, name="hatch", daemon=True)

    def start(self) -> None:
        """Open it; without it the daemon goes on, and commands say that they cannot reach it."""
        opened = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM | socket.SOCK_CLOEXEC)
        try:
            self._path.unlink(missing_ok=True)
            opened.bind(str(self._path))
            os.chmod(self._path, 0o600)
            opened.listen(4)
        except OSError as error:
            log.warning("no command can reach this daemon (%s)", error.strerror or error)
            opened.close()
            return
        self._socket = opened
        self._thread.start()

    def stop(self) -> None:
        """Close it."""
        opened, self._socket = self._socket, None
        if opened is None:
            return
        with suppress(OSError):
            opened.shutdown(socket.SHUT_RDWR)
        opened.close()
        self._thread.join(2.0)
        self._path.unlink(missing_ok=True)

    def _run(self) -> None:
        opened = self._socket
        while opened is not None and self._socket is not None:
            try:
                caller, _ = opened.accept()
            except OSError:
                return
            with caller:
                caller.settimeout(SECONDS)
                try:
                    caller.sendall(json.dumps(self._answer(_line(caller))).encode() + b"\n")
                except (OSError, ValueError) as error:
                    log.warning("a command was not answered (%s)", type(error).__name__)

    def _answer(self, line: bytes) -> dict[str, object]:
        try:
            asked = json.loads(line)
            act, given = self._acts[asked["act"]], {str(k): str(v) for k, v in asked["given"].items()}
        except (ValueError, KeyError, TypeError, AttributeError):
            return {"refused": ["command", "the daemon does not know this command", "use the version that runs"]}
        try:
            return {"said": act(given)}
        except Refusal as refusal:
            return {"refused": [refusal.where, refusal.problem, refusal.allowed]}
        except Exception:
            log.exception("the command %s failed", asked["act"])
            return {"refused": ["command", "the daemon could not do this", "its log says why"]}


def ask(folder: Path, act: str, given: Given) -> str | None:
    """What the daemon on this folder says; None when none runs there. Refusal, as it was refused there."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as caller:
        caller.settimeout(SECONDS)
        try:
            caller.connect(str(folder / SOCKET))
        except (FileNotFoundError, ConnectionRefusedError):
            return None
        except OSError as error:
            raise Refusal(
                str(folder / SOCKET), f"the daemon cannot be asked ({error.strerror or error})", "ask as its own user"
            ) from None
        caller.sendall(json.dumps({"act": act, "given": dict(given)}).encode() + b"\n")
        answer = json.loads(_line(caller))
    if "refused" in answer:
        raise Refusal(*answer["refused"])
    return str(answer["said"])


def _line(caller: socket.socket) -> bytes:
    got = b""
    while not got.endswith(b"\n"):
        piece = caller.recv(4096)
        got += piece
        if not piece or len(got) > LARGEST_BYTES:
            raise ValueError("no whole line")
    return got
