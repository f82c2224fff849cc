"""Steam: how long each ring's ware has been where water leaves it. Never 'dry': a mirror tells, a curve only suggests.

Ware gives off its water by the hours it spends warm, more the nearer it comes to boiling. A ring that has had its
hours is believed past the worst; one that has not may burst if hurried. No plateau in a curve proves the contrary.
"""

from spyhole.core.firing import Firing

WARE_BEHIND_AIR = 2.4
"""A probe between elements and ware may run this much faster than the ware itself (common practice, no source)."""

WARE_LAG_MS = 15 * 60_000
"""And for as long after a turn the air runs ahead before the ware follows (common practice, no source)."""

DRIED_HOURS = 1.0
"""Hours near boiling, or as much in cooler ones, after which steam is believed past (common practice, no source: a
night's candling at 50 to 70 degC is enough for a load of a usual thickness; thick ware wants more)."""

_WEIGHTS = ((85.0, 1.0), (75.0, 0.6), (65.0, 0.4), (55.0, 0.25), (45.0, 0.15), (35.0, 0.08))
"""From this temperature on [degC], an hour counts for so much: water's vapour pressure as a share of that near 90 degC,
rounded (the pressures are a handbook's, from memory)."""


def dried_ms(celsius: float | None, passed_ms: int) -> float:
    """What this stretch at this temperature counts for."""
    if celsius is None:
        return 0.0
    return next((weight for above, weight in _WEIGHTS if celsius >= above), 0.0) * passed_ms


def steam_past(firing: Firing, probe: int) -> bool:
    """Whether steam seems past at this probe's ring."""
    return probe < len(firing.dried_ms) and firing.dried_ms[probe] >= DRIED_HOURS * 3_600_000
