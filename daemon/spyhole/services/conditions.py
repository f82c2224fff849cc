"""Faults of the watch itself: declared here once, set and cleared by the part that knows, shown like an alarm."""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass

from spyhole.services.snapshot import ConditionView

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Condition:
    """A fault spyhole knows of itself. words: what happened, what it means for the kiln, what to do."""

    code: str
    words: str


LATE = Condition(
    "watch-late",
    "Readings come late, so a change in the kiln is seen late too. Look what else this machine is busy with.",
)
SILENT = Condition(
    "watch-silent",
    "The amplifiers have stopped answering, so nobody is watching the probes. Go by cones and clock, "
    "and check the wiring of the amplifier box.",
)
BUS_HELD = Condition(
    "watch-bus",
    "Another program holds the bus of the amplifiers, so no probe can be read. Go by cones and clock, and look for "
    "another kiln's watch that hangs, or a check that still runs, and end it.",
)
STUMBLED = Condition(
    "watch-engine",
    "The watch could not take in a reading because of a fault in the program. Go by cones and clock, "
    "and keep the log of this machine for whoever mends it.",
)
PAGE = Condition(
    "watch-page",
    "This page has stopped and is being started again. Readings and alarms go on without it.",
)
TELLING = Condition(
    "watch-alerts",
    "A message could not be delivered, so nobody away from the kiln may know of an alarm. "
    "Stay with the kiln, and check the network and the address in the settings.",
)
HOUSEKEEPING = Condition(
    "watch-housekeeping",
    "Some housekeeping failed: tidying or copying the record, or a regular message. The watch goes on; the log of this "
    "machine says what and why.",
)
CURRENT = Condition(
    "watch-current",
    "What a ring draws cannot be measured, so kWh are reckoned from the switches; alarms do without it. With the kiln "
    "off, look at the clamp's low-voltage plug; the clamp is the electrician's.",
)
BACKUP = Condition(
    "watch-backup",
    "The record could not be copied into a backup. The watch goes on, and earlier backups are there; the log of this "
    "machine says why. Most often there is no room on the card.",
)
OUTSIDE = Condition(
    "watch-outside",
    "The heartbeat that somebody outside listens for was not taken, so spyhole may be thought gone. The watch goes on; "
    "look at the network, and at the address in the settings.",
)

SELFTEST = Condition(
    "watch-selftest",
    "The self-test of this machine found something that would fail when it is needed. The watch goes on; mend it "
    "between two firings.",
)

ROOM = Condition(
    "watch-room",
    "A wire to the sounder, the lamp, the button or the cut-out cannot be had, so nothing may be heard beside the "
    "kiln. Alarms go out as ever; look at the settings, and at what else uses these pins.",
)
BUTTON = Condition(
    "watch-button",
    "The button at the kiln seems to be held down, or its wires touch, so a press there does nothing. Acknowledge on "
    "the page, and look at the button.",
)

CLOCK = Condition(
    "watch-clock",
    "The clock of this machine is not set by a time source, or it jumped. Alarms and forecasts count on another clock "
    "and go on; look at the network, and take times of day here with care.",
)
BOX_HOT = Condition(
    "box-hot",
    "The amplifier box is too hot, so its numbers may mislead. Move it away from the kiln, with the kiln isolated "
    "before anybody touches its wires.",
)

READING_AGAIN = Condition(
    "watch-start",
    "spyhole has just started and is still reading its record. Readings are kept meanwhile; what is shown, alarms and "
    "entries follow in some seconds.",
)
UNREAD = Condition(
    "watch-store",
    "The record could not be read at the start, so what was known of this firing is gone from the watch. Readings and "
    "alarms go on; look at the card, then start spyhole again.",
)

DISK = Condition(
    "watch-disk",
    "The disk has little room left: some two days of firing. Readings and alarms go on. Make room before the next "
    "firing: take old backups to another place, or use a larger card.",
)

JOURNALED = frozenset({DISK.code, "watch-store", LATE.code, TELLING.code, CLOCK.code, BOX_HOT.code})
"""Those that are written down when they begin and end, so that they become alarms somebody has to see."""

ALL = (
    CLOCK,
    BOX_HOT,
    LATE,
    SILENT,
    BUS_HELD,
    STUMBLED,
    PAGE,
    TELLING,
    HOUSEKEEPING,
    BACKUP,
    CURRENT,
    OUTSIDE,
    SELFTEST,
    ROOM,
    BUTTON,
    READING_AGAIN,
    UNREAD,
    DISK,
)


class Conditions:
    """Those that hold now. Thread-safe; `changed` is called, without a lock held, at each change."""

    def __init__(self, utc_ms: Callable[[], int]) -> None:
        self._utc_ms = utc_ms
        self._lock = threading.Lock()
        self._standing: dict[str, ConditionView] = {}
        self.changed: Callable[[], None] = lambda: None

    def set(self, condition: Condition, detail: str = "") -> None:
        """It holds from now on; the first setting is logged and dated, later ones change nothing."""
        with self._lock:
            if condition.code in self._standing:
                return
            self._standing[condition.code] = ConditionView(condition.code, self._utc_ms(), condition.words)
        log.warning("%s: %s%s", condition.code, condition.words, f" ({detail})" if detail else "")
        self.changed()

    def clear(self, condition: Condition) -> None:
        """It holds no longer."""
        with self._lock:
            if self._standing.pop(condition.code, None) is None:
                return
        log.info("%s: over", condition.code)
        self.changed()

    def told(self, code: str, words: str | None) -> None:
        """From a part that declares its own conditions (`services.archive.ConditionTold`): begins, changes, ends."""
        if words is None:
            self.clear(Condition(code, ""))
            return
        with self._lock:
            standing = self._standing.get(code)
            if standing is not None and standing.words == words:
                return
            since = self._utc_ms() if standing is None else standing.since_utc_ms
            self._standing[code] = ConditionView(code, since, words)
        log.warning("%s: %s", code, words)
        self.changed()

    def holds(self, condition: Condition) -> bool:
        """Whether it holds now."""
        return condition.code in self._standing

    def views(self) -> tuple[ConditionView, ...]:
        """Those that hold, oldest first."""
        with self._lock:
            return tuple(self._standing.values())
