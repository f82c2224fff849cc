"""Reads every probe at its deadline and hands the reading on. One thread, which owns the bus.

Deadlines are counted from the first tick on the clock's monotonic time, so that lateness does not add up.
A tick that was missed is skipped and shows as lateness; it is never made up by two readings at once.
"""

import logging
import threading
from collections.abc import Callable

from spyhole.core.ports import ClockPort, ProbesPort
from spyhole.core.reading import Fault, ProbeReading, Reading
from spyhole.services.beat import Beat
from spyhole.services.conditions import LATE, SILENT, STUMBLED, Conditions

log = logging.getLogger(__name__)

LATE_TICKS = 3
"""So many late ticks on end before it is said, so many in time before it is over."""

READ_DEADLINE_SECONDS = 5.0
"""A read still under way after this is a fault of the bus (the driver's own deadlines are far shorter)."""

RESTART_SECONDS = 20.0
"""A read still under way after this cannot be helped from inside: the process has to start afresh."""


class Sampler:
    """take: the watchkeeper's; it is told every reading, the faulted ones too.

    beside: called after each reading by the thread that owns the bus, for what else is on it.
    """

    def __init__(
        self,
        probes: ProbesPort,
        clock: ClockPort,
        take: Callable[[Reading], None],
        *,
        every_ms: int,
        probe_count: int,
        beat: Beat,
        conditions: Conditions,
        beside: Callable[[], None] = lambda: None,
    ) -> None:
        self._probes = probes
        self._clock = clock
        self._take = take
        self._beside = beside
        self._every_ms = every_ms
        self._silence = Reading((ProbeReading(None, Fault.BUS),) * probe_count)
        self._beat = beat
        self._conditions = conditions
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="sampler", daemon=True)
        self._late_ticks = 0
        self._said_silent = False
        self.worst_lateness_ms = 0

    def start(self) -> None:
        """Begin; the first reading is taken at once. May be called again."""
        if self._thread.ident is None:
            self._thread.start()

    def stop(self, seconds: float = 5.0) -> bool:
        """Ask it to stop and wait so long; False when the thread is still in a read. May be called again.

        A real or rehearsal clock must be stopped as well, or the thread first waits for its next deadline.
        """
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(seconds)
        return not self._thread.is_alive()

    @property
    def alive(self) -> bool:
        """Whether the thread runs."""
        return self._thread.is_alive()

    def look_after(self) -> bool:
        """Called about once a second from outside: a read that outlives its deadline is a fault once.

        Returns False when it has gone on for so long that only a restart helps.
        """
        stuck = self._beat.stuck_seconds()
        if stuck < READ_DEADLINE_SECONDS:
            self._said_silent = False
            return True
        if not self._said_silent:
            self._said_silent = True
            self._conditions.set(SILENT, f"a read has lasted {stuck:.0f} s")
            self._take(self._silence)
        return stuck < RESTART_SECONDS

    def _run(self) -> None:
        due_ms = self._clock.now().monotonic_ms
        while not self._stopping.is_set():
            self._clock.wait_until(due_ms)
            if self._stopping.is_set():
                return
            self._measure_lateness(self._clock.now().monotonic_ms - due_ms)
            self.tick()
            behind_ms = self._clock.now().monotonic_ms - due_ms
            due_ms += self._every_ms * max(1, behind_ms // self._every_ms + (behind_ms % self._every_ms > 0))

    def tick(self) -> None:
        """One reading, taken and told."""
        self._beat.begin()
        try:
            self._take(self._probes.read())
            self._beside()
        except Exception:
            # A reading lost to a fault of ours must not end the watch; the watchdog goes hungry meanwhile.
            log.exception("a reading was lost")
            self._conditions.set(STUMBLED)
            self._beat.abandoned()
            return
        self._beat.done()
        self._conditions.clear(STUMBLED)
        self._conditions.clear(SILENT)

    def _measure_lateness(self, late_ms: int) -> None:
        self.worst_lateness_ms = max(self.worst_lateness_ms, late_ms)
        late = late_ms > max(500, self._every_ms // 2)
        if late == self._conditions.holds(LATE):
            self._late_ticks = 0
            return
        self._late_ticks += 1
        if self._late_ticks >= LATE_TICKS:
            self._late_ticks = 0
            if late:
                self._conditions.set(LATE, f"{late_ms} ms late")
            else:
                self._conditions.clear(LATE)
