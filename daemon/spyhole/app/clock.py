"""The machine's own clock. The only place that asks the machine for the time."""

import ctypes
import threading
import time
import uuid
from pathlib import Path

from spyhole.core.moment import Moment

SYNCHRONISED_EVERY_SECONDS = 30.0
TIME_ERROR = 5
"""What adjtimex(2) returns while no time source has set the clock."""
TIMEX_BYTES = 512
"""More than any struct timex; all zero, modes too, is a question and no change."""
TIMESYNCD_MARK = Path("/run/systemd/timesync/synchronized")
"""systemd-timesyncd touches it each time it has set the clock: systemd-timesyncd.service(8)."""


class MachineClock:
    """Satisfies `core.ports.ClockPort`. `stop` ends every wait, now and later."""

    def __init__(self) -> None:
        self._boot = _boot_id()
        self._stopped = threading.Event()
        self._synchronised = _synchronised()
        self._asked_seconds = time.monotonic()

    def now(self) -> Moment:
        """This instant."""
        monotonic = time.monotonic()
        if monotonic - self._asked_seconds > SYNCHRONISED_EVERY_SECONDS:
            self._asked_seconds = monotonic
            self._synchronised = _synchronised()
        return Moment(self._boot, int(monotonic * 1000), time.time_ns() // 1_000_000, self._synchronised)

    def wait_until(self, monotonic_ms: int) -> None:
        """Return once the monotonic clock has reached this, or the clock is stopped."""
        while (left_ms := monotonic_ms - time.monotonic() * 1000) > 0:
            if self._stopped.wait(left_ms / 1000):
                return

    def stop(self) -> None:
        """End every wait."""
        self._stopped.set()


def _boot_id() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        # Hidden by a sandbox: each life of the process counts as a boot, which is always true enough.
        return str(uuid.uuid4())


def _synchronised() -> bool:
    """Whether a time source has set the wall clock: what the kernel says, else what systemd-timesyncd left behind.

    adjtimex(2) answers TIME_ERROR from the start of the kernel until chrony, ntpd or systemd-timesyncd has set the
    clock, and again when none has for hours. A sandbox may forbid the question (-1); then no mark means no.
    """
    try:
        adjtimex = ctypes.CDLL(None).adjtimex
        answer = int(adjtimex(ctypes.create_string_buffer(TIMEX_BYTES)))
    except (OSError, AttributeError):
        answer = -1
    return answer != TIME_ERROR if answer >= 0 else TIMESYNCD_MARK.exists()
