"""Says outside that the watch goes on, as long as it does: whoever listens there notices when it stops.

Fed by completed sampling ticks and by nothing else: a page that answers, or a thread that lives, is no watch. Absence
is the news; so nothing here tells of trouble, and a beat that cannot be delivered is only a condition.
"""

import logging
import threading
from collections.abc import Callable, Mapping

from spyhole.services.conditions import OUTSIDE, Conditions

log = logging.getLogger(__name__)

BEAT_SECONDS = 60.0
"""Between two beats. Whoever listens should call it an absence after three of them."""

Send = Callable[[], bool]
"""One beat by one way, bounded in time; True when it was accepted."""


class Heartbeat:
    """ticks: completed so far. ways: by a name without secrets.

    pause: waits so many seconds of the real world, True when it was cut short by a stop.
    """

    def __init__(
        self,
        ticks: Callable[[], int],
        ways: Mapping[str, Send],
        conditions: Conditions,
        pause: Callable[[float], bool] | None = None,
    ) -> None:
        self._ticks = ticks
        self._ways = dict(ways)
        self._conditions = conditions
        self._stopping = threading.Event()
        self._pause = pause or self._stopping.wait
        self._before = 0
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)

    def start(self) -> None:
        """Begin, where there is a way."""
        if self._ways:
            self._thread.start()

    def stop(self, seconds: float = 2.0) -> None:
        """No more beats."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(seconds)

    def beat(self) -> None:
        """One beat by every way, if readings were taken since the last."""
        ticks = self._ticks()
        if ticks == self._before:
            log.warning("no reading since the last beat: none is sent")
            return
        self._before = ticks
        failed = [name for name, send in self._ways.items() if not _safely(name, send)]
        if failed:
            self._conditions.set(OUTSIDE, ", ".join(failed))
        else:
            self._conditions.clear(OUTSIDE)

    def _run(self) -> None:
        while not self._pause(BEAT_SECONDS):
            self.beat()


def _safely(name: str, send: Send) -> bool:
    try:
        return send()
    except Exception as error:  # noqa: BLE001  (a way out is somebody else's; its words may hold the address)
        log.warning("the beat by %s failed (%s)", name, type(error).__name__)
        return False
