"""Asks once a minute what each ring draws, between two readings, and has it written down where it is news.

Nothing of the watch waits for it or rests on it: what goes wrong here is a condition and no alarm.
"""

import logging
from collections.abc import Callable

from spyhole.core.drawn import Drawn, worth_a_row
from spyhole.core.ports import ClockPort, CurrentPort
from spyhole.services.conditions import CURRENT, Conditions

log = logging.getLogger(__name__)

EVERY_MS = 60_000
"""A measurement takes a fifth of a second of the thread that owns the bus; what it costs a Pi nobody has measured."""

BLIND_LOOKS = 3
"""So many measurements on end without a number are said."""


class Ammeter:
    """take: the watchkeeper's. One thread calls `look`."""

    def __init__(
        self,
        currents: CurrentPort,
        clock: ClockPort,
        take: Callable[[Drawn], None],
        conditions: Conditions,
    ) -> None:
        self._currents = currents
        self._clock = clock
        self._take = take
        self._conditions = conditions
        self._due_ms: int | None = None
        self._written: Drawn | None = None
        self._written_ms = 0
        self._blind = 0

    def look(self) -> None:
        """After a reading. Measures when a minute has passed; never raises."""
        now_ms = self._clock.now().monotonic_ms
        if self._due_ms is not None and now_ms < self._due_ms:
            return
        self._due_ms = now_ms + EVERY_MS
        try:
            drawn = self._currents.read()
            if worth_a_row(self._written, self._written_ms, drawn, now_ms):
                self._take(drawn)
                self._written, self._written_ms = drawn, now_ms
        except Exception:
            log.exception("what the rings draw was lost")
            self._blind = BLIND_LOOKS
            self._conditions.set(CURRENT)
            return
        self._say(drawn)

    def _say(self, drawn: Drawn) -> None:
        blind = any(drawn.amperes[ring] is None for ring in self._currents.fitted)
        self._blind = self._blind + 1 if blind else 0
        if self._blind >= BLIND_LOOKS:
            self._conditions.set(CURRENT)
        elif self._conditions.holds(CURRENT) and not blind:
            self._conditions.clear(CURRENT)
