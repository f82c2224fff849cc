"""The only probe falls faster than lost heat makes it, and less and less: it may have slipped, and come to rest.

`slipping` says so once it has come to rest; until then no supply is called lost.
"""

from spyhole.core.last_minutes import share_lost
from spyhole.core.view import View

SLIPS_MINUTES, SLIPS_SHARE = 2, 1.35
"""Of what its switch gives, lost so within these minutes, so that it is looked at how the fall goes on: lost supplies
of the proving ground seem to take up to 1.3 of it at first, of another hand 1.5; six of seven tips that slipped, more.
"""
STEEPEST_MINUTES = 16
SLOWS, SLOWS_EACH, SLOWED = 0.85, 0.11, 0.25
"""What is left of its steepest fall as it is seen to fall, how much less of it each minute after, and in the end: a tip
that comes to rest by a time constant of four minutes does better, and of what nothing heats the part that elements and
air fall by themselves is over by then (chosen)."""
SLIPS_MS = 14 * 60_000
"""How long that may take (chosen)."""


def slips_ms(view: View, since_ms: int) -> int:
    """How long it is waited [ms] before a fall is held to be lost heat: 0 where nothing speaks for the probe. since_ms:
    when it was seen to fall [axis]."""
    memory = view.firing.memory
    if view.alone is None or not _comes_to_rest(view, view.alone, since_ms):
        return 0
    slips = memory is not None and memory.slips is not None
    fast = slips or max(share_lost(view, SLIPS_MINUTES).values(), default=0.0) > SLIPS_SHARE
    return SLIPS_MS if fast else 0


def _comes_to_rest(view: View, probe: int, since_ms: int) -> bool:
    """Whether its fall slows down as a tip's does: what nothing heats goes on falling."""
    points = view.last(probe, STEEPEST_MINUTES)
    falls = [a[1] - b[1] for a, b in zip(points, points[SLIPS_MINUTES:], strict=False)]
    minutes = (view.now_ms - since_ms) / 60_000
    return bool(falls) and falls[-1] <= max(SLOWED, SLOWS - SLOWS_EACH * minutes) * max(falls)
