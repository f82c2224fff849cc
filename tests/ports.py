"""A port for a server that a test starts, stops and starts again."""

import contextlib
import random
import socket


def free_port() -> int:
    """A free one below those that the kernel gives to whoever calls somebody: a server that was away finds it free."""
    while True:
        port = random.SystemRandom().randrange(20_000, 32_000)
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port
