"""The cut-out heartbeat: a square wave that completed readings pay for, and that only a person lets begin.

It ends at a chosen alarm, when readings stop being completed, when its wire does not take a level, and with the
process. Whatever ended it, and after every start, it stands still until somebody re-arms it: the relay outside has
opened meanwhile and waits for a person too. What level it stands at says nothing.
"""

import threading
from dataclasses import dataclass

from spyhole.core.cutout import USUAL
from spyhole.core.state import State
from spyhole.core.words import alarm_title
from spyhole.services.snapshot import CutOutView

GRACE_SECONDS = 3.0
"""So long after a reading was due the heartbeat still goes on: what a slow conversion or a busy machine takes."""

STARTED = "spyhole was started, and nobody has armed the cut-out since"
STALLED = "readings stopped being completed"
UNWIRED = "its wire did not take a level"
THEN = "Once the kiln is as it should be, arm it here, and then reset the relay by hand."


@dataclass(frozen=True, slots=True)
class CutOutSettings:
    """hertz: of the square wave. stops_on: tags of the alarms that stop it."""

    hertz: float = 1.0
    stops_on: frozenset[str] = USUAL


class CutOut:
    """Thread-safe. tick_seconds: of real time between readings that are in time."""

    def __init__(self, settings: CutOutSettings, tick_seconds: float, now: float, utc_ms: int) -> None:
        self._stops_on = settings.stops_on
        self._half = 0.5 / settings.hertz
        self.longest_seconds = tick_seconds + GRACE_SECONDS
        """After the last completed reading the heartbeat goes on no longer than this."""
        self._lock = threading.Lock()
        self._paid_until = now
        self._armed = False
        self._stopped_utc_ms = utc_ms
        self._why = STARTED
        self._next = now
        self._level = False
        self.running = False

    def fed(self, now: float) -> None:
        """A reading was completed [s]: the only thing that pays for beats to come."""
        self._paid_until = now + self.longest_seconds

    def refuses(self, state: State, now: float) -> str:
        """Why it cannot be armed now; "" when it can."""
        for alarm in state.alarms.alarms:
            if alarm.active and alarm.tag in self._stops_on:
                return f"{alarm_title(alarm.tag, alarm.ring)} still holds"
        return "no reading is being completed" if now >= self._paid_until else ""

    def arm(self) -> None:
        """Somebody has armed it, and the watch knows."""
        with self._lock:
            self._armed = True

    def look(self, state: State, now: float, utc_ms: int) -> bool:
        """Whether it may beat now; what ends it here keeps it ended."""
        cause = state.cutout.stopped_by(self._stops_on)
        with self._lock:
            if self._armed and cause is not None:
                self._end("", utc_ms)
            elif self._armed and now >= self._paid_until:
                self._end(STALLED, utc_ms)
            begins = self._armed and not self.running
            self.running = self._armed
            if begins:
                self._next = now
            return self.running

    def unwired(self, utc_ms: int) -> None:
        """Its wire did not take a level."""
        with self._lock:
            if self._armed:
                self._end(UNWIRED, utc_ms)
            self.running = False

    def beat(self, now: float) -> bool | None:
        """The level to put the line to now; None when it is not yet time. Only while it may beat."""
        if now < self._next:
            return None
        late = now - self._next
        # A late beat is not made up for: two at once are no beat to whatever listens.
        self._next = self._next + self._half if late < self._half / 2 else now + self._half
        self._level = not self._level
        return self._level

    def due(self) -> float:
        """When the next beat is due, or the end of what is paid for."""
        return min(self._next, self._paid_until)

    def view(self, state: State, now: float) -> CutOutView:
        """How it stands, for a page."""
        if self.running:
            armed_ms, by = state.cutout.rearmed_ms or state.line.now_ms, state.cutout.rearmed_by or "somebody"
            words = f"The cut-out heartbeat runs; armed by {by}."
            return CutOutView(True, _utc_ms(state, armed_ms), "", words, may_arm=False)
        cause = state.cutout.stopped_by(self._stops_on)
        why = self._why if cause is None else f"an alarm stopped it: {alarm_title(cause.tag, cause.ring)}"
        return CutOutView(
            running=False,
            since_utc_ms=self._stopped_utc_ms if cause is None else _utc_ms(state, cause.at_ms),
            tag="" if cause is None else cause.tag,
            words=f"The cut-out heartbeat stands still: {why}. {THEN}",
            may_arm=not self.refuses(state, now),
        )

    def _end(self, why: str, utc_ms: int) -> None:
        self._armed = False
        self._why = why or STARTED
        self._stopped_utc_ms = utc_ms


def _utc_ms(state: State, at_ms: int) -> int:
    return state.line.utc_ms - (state.line.now_ms - at_ms)
