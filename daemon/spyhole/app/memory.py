"""Keeps a daemon that runs for weeks small: what glibc's allocator may keep to itself."""

import ctypes
import gc

M_ARENA_MAX = -8
"""mallopt(3). Each thread would else have an arena of its own, and keep what it once held."""


def keep_small() -> None:
    """Before threads start: one arena for all of them. Nothing happens where the allocator is another."""
    try:
        ctypes.CDLL(None).mallopt(M_ARENA_MAX, 1)
    except (OSError, AttributeError):
        return


def give_back() -> None:
    """Once everything is loaded: give back what loading needed, and look no more at what will stay for good."""
    gc.collect()
    gc.freeze()
    try:
        ctypes.CDLL(None).malloc_trim(0)
    except (OSError, AttributeError):
        return
