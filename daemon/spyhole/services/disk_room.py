"""Little room on the disk, told before there is none: the same condition as the record's own troubles with the disk.

What the record says of its disk comes first; that there is little room stands where it says nothing.
"""

from collections.abc import Callable

from spyhole.services.conditions import DISK, Conditions

LITTLE_BYTES = 256 << 20
ENOUGH_BYTES = 320 << 20
"""Two days of firing (`make bench`: at most 120 MiB a day), and what a backup leaves to the record. It is enough again
only well above that. Our own proposal."""


class DiskRoom:
    """free: bytes that are left; OSError where nobody can say, which the record says better. Thread-safe as it is used:
    the record tells from its one thread, and whoever looks does so from another; what both say is put together last.
    """

    def __init__(self, free: Callable[[], int], conditions: Conditions) -> None:
        self._free = free
        self._conditions = conditions
        self._trouble: str | None = None
        self._little = False

    def told(self, code: str, words: str | None) -> None:
        """From the record (`services.archive.ConditionTold`)."""
        if code != DISK.code:
            self._conditions.told(code, words)
            return
        self._trouble = words
        self._say()

    def look(self) -> None:
        """Now and then."""
        try:
            free = self._free()
        except OSError:
            return
        self._little = free < (ENOUGH_BYTES if self._little else LITTLE_BYTES)
        self._say()

    def _say(self) -> None:
        self._conditions.told(DISK.code, self._trouble or (DISK.words if self._little else None))
