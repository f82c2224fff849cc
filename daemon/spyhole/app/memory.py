"""Keeps a daemon that runs for weeks small: what glibc's allocator may keep to itself."""

import ctypes
import gc
import sys

M_ARENA_MAX = -8
"""mallopt(3). Each thread would else have an arena of its own, and keep what it once held."""

YOUNG, MIDDLE, OLD = 20_000, 20, 50
"""gc.set_threshold. Hardly anything here is made in circles, and looking for them as often as Python does by itself is
an eighth of what reading a long record again takes."""

FIRST_LOOKS, EVERY_LOOKS = 60, 3600
"""About a minute after the start, when the first messages have loaded what they need, and each hour."""

NEVER_USED = "pydantic.v1"
"""An earlier pydantic within pydantic, which FastAPI asks for only to refuse its models, and does without."""


def keep_small() -> None:
    """Before threads start: one arena for all of them, where the allocator is glibc's, and fewer looks for circles.

    Before the large imports as well, a tenth of whose time those looks are.
    """
    sys.modules.setdefault(NEVER_USED, None)  # type: ignore[arg-type]  # whoever imports it hears that it is not there
    gc.set_threshold(YOUNG, MIDDLE, OLD)
    try:
        ctypes.CDLL(None).mallopt(M_ARENA_MAX, 1)
    except (OSError, AttributeError):
        return


def give_back() -> None:
    """Once everything is loaded: give back what loading needed, and look no more at what will stay for good."""
    gc.collect()
    gc.freeze()
    _trim()


class Thrift:
    """Gives back now and then what is free again."""

    def __init__(self) -> None:
        self._looks = 0

    def look(self) -> bool:
        """Called about once a second. Always True."""
        self._looks += 1
        if self._looks == FIRST_LOOKS:
            give_back()
        elif self._looks % EVERY_LOOKS == 0:
            _trim()
        return True


def _trim() -> None:
    try:
        ctypes.CDLL(None).malloc_trim(0)
    except (OSError, AttributeError):
        return
