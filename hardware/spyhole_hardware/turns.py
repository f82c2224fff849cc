"""Whose turn it is on a bus that several daemons share: a lock of the kernel's on its device file, one transfer long.

flock(2) belongs to the open file: two daemons that opened the device each have their own, and the kernel gives a lock
back when its process dies, however it dies. A daemon that was stopped while it held one is another matter, so nobody
waits for longer than `LONGEST_SECONDS`, and whoever waited in vain waits a quarter of that from then on: eight probes
that each ask once then cost a reading a fifth of a second.
"""

import errno
import fcntl
import time
from collections.abc import Callable
from typing import Final

LONGEST_SECONDS: Final = 0.1
"""A transfer of another kiln takes under a millisecond at 500 kHz (arithmetic: 17 bytes), and each reading of a kiln
with eight probes some dozens of them: far less than this all together."""

LATER_SECONDS: Final = LONGEST_SECONDS / 4
_ASK_SECONDS: Final = 0.0001  # short, because who has the bus gives it back for a moment only between two transfers


class BusTurns:
    """Satisfies nothing but `PiBus`. One thread uses it. descriptor: of the open device file."""

    def __init__(
        self,
        descriptor: int,
        *,
        seconds: Callable[[], float] = time.monotonic,
        wait: Callable[[float], None] = time.sleep,
    ) -> None:
        self._descriptor = descriptor
        self._seconds = seconds
        self._wait = wait
        self._mine = False
        self.held = False
        """Whether another program had the bus, and for too long, when it was last asked for."""

    def take(self) -> bool:
        """Have the turn; True when it is a new one. TimeoutError when another program keeps it for too long."""
        if self._mine:
            return False
        deadline = self._seconds() + (LATER_SECONDS if self.held else LONGEST_SECONDS)
        while not self._asked():
            if self._seconds() >= deadline:
                self.held = True
                raise TimeoutError(errno.ETIMEDOUT, "another program holds the bus")
            self._wait(_ASK_SECONDS)
        self._mine, self.held = True, False
        return True

    def give(self) -> None:
        """Let the others; may be called by whoever has it not."""
        if self._mine:
            self._mine = False
            fcntl.flock(self._descriptor, fcntl.LOCK_UN)

    def _asked(self) -> bool:
        try:
            fcntl.flock(self._descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
