"""Emulated GPIO lines: what gpiod.LineRequest does with levels and edges, and who can see and press from outside."""

import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gpiod import EdgeEvent
    from gpiod.line import Value

KEPT = 10_000


@dataclass(frozen=True, slots=True)
class Level:
    """A line was put to this level at this instant [s]."""

    seconds: float
    line: int
    on: bool


class EmulatedLines:
    """In the place of a gpiod.LineRequest. Levels are those the settings call active.

    seconds: a monotonic clock. seen: called with each level as it is set, before the call returns.
    """

    def __init__(self, seconds: Callable[[], float], seen: Callable[[Level], None] = lambda level: None) -> None:
        self._seconds = seconds
        self._seen = seen
        self._some = threading.Condition()
        self._events = 0
        self._inputs: dict[int, bool] = {}
        self.levels: deque[Level] = deque(maxlen=KEPT)
        self.broken: OSError | None = None
        self.released = False

    def of(self, line: int) -> list[Level]:
        """What this line was put to, in order."""
        return [level for level in tuple(self.levels) if level.line == line]

    # what gpiod has

    def set_value(self, line: int, value: "Value") -> None:
        """Put a line to a level; OSError while it is broken."""
        from gpiod.line import Value

        self._sound()
        level = Level(self._seconds(), line, value is Value.ACTIVE)
        self.levels.append(level)
        self._seen(level)

    def get_value(self, line: int) -> "Value":
        """The level of an input."""
        from gpiod.line import Value

        self._sound()
        return Value.ACTIVE if self._inputs.get(line, False) else Value.INACTIVE

    def wait_edge_events(self, timeout: timedelta | float | None = None) -> bool:
        """Whether an edge came, at the latest after so long."""
        self._sound()
        seconds = timeout.total_seconds() if isinstance(timeout, timedelta) else timeout
        with self._some:
            return self._some.wait_for(lambda: self._events > 0, seconds)

    def read_edge_events(self) -> "Sequence[EdgeEvent]":
        """Takes the edges away; nobody asks what they were."""
        with self._some:
            self._events = 0
        return ()

    def release(self) -> None:
        """Let go. The levels stay as they are, as on a Pi."""
        self.released = True

    # what a hand does

    def move(self, line: int, down: bool) -> None:
        """The contact at this line closes or opens."""
        with self._some:
            self._inputs[line] = down
            self._events += 1
            self._some.notify_all()

    def _sound(self) -> None:
        if self.broken is not None:
            raise self.broken
