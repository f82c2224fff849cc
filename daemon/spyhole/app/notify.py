"""Tells systemd how the daemon is (sd_notify(3)): one datagram a message, nothing when systemd is not listening."""

import os
import socket
from contextlib import suppress


class Notifier:
    """Thread-safe, and never in anybody's way: a datagram that cannot be sent is dropped."""

    def __init__(self, address: str | None = None) -> None:
        address = os.environ.get("NOTIFY_SOCKET", "") if address is None else address
        self._socket: socket.socket | None = None
        if address:
            self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC)
            self._socket.setblocking(False)
            try:
                self._socket.connect("\0" + address[1:] if address.startswith("@") else address)
            except OSError:
                self.close()

    def ready(self, status: str) -> None:
        """Sampling runs."""
        self._send(f"READY=1\nSTATUS={status}")

    def alive(self) -> None:
        """A sampling tick was completed; the watchdog starts counting afresh."""
        self._send("WATCHDOG=1")

    def stopping(self) -> None:
        """On the way out."""
        self._send("STOPPING=1")

    def close(self) -> None:
        """Let go of the socket."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _send(self, words: str) -> None:
        if self._socket is not None:
            with suppress(OSError):
                self._socket.send(words.encode())
