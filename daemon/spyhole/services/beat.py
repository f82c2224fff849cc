"""The heartbeat of sampling: what the watchdog lives on, and how anyone else sees that sampling stands still."""

import threading
from collections.abc import Callable


class Beat:
    """Counts completed ticks and knows since when one has been under way.

    seconds: a monotonic clock of the real world, also in a rehearsal: a stuck bus is stuck in real time.
    fed: each called after each completed tick, by the sampling thread, and by nothing else.
    """

    def __init__(self, seconds: Callable[[], float], *fed: Callable[[], None]) -> None:
        self._seconds = seconds
        self._fed = fed
        self._lock = threading.Lock()
        self._began: float | None = None
        self.ticks = 0

    def begin(self) -> None:
        """A tick is under way."""
        with self._lock:
            self._began = self._seconds()

    def done(self) -> None:
        """A tick was completed, whatever its probes said."""
        with self._lock:
            self._began = None
            self.ticks += 1
        for feed in self._fed:
            feed()

    def abandoned(self) -> None:
        """The tick ended without being completed: the watchdog gets nothing."""
        with self._lock:
            self._began = None

    def stuck_seconds(self) -> float:
        """How long the present tick has been under way; 0 between ticks."""
        with self._lock:
            return 0.0 if self._began is None else self._seconds() - self._began
