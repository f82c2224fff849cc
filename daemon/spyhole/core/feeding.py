"""Since when a ring, though its firing is over, surely gets what only a switch gives.

A ring left on low slows the cooling down by little at a time, and the model comes to think of it as good bricks: no
moment shows it, an hour does.
"""

from spyhole.core.view import View

HOUR_MS = 60 * 60_000
SETTLED_MS = HOUR_MS
"""For so long after the end bricks share out what they hold, and the model learns how this kiln keeps it."""
HOT_CELSIUS = 200.0
"""Below this lids are opened and plugs drawn."""
LIKELY = 2.0
"""In deviations of doubt: more keeps alive what was beyond all doubt before."""


def fed(view: View) -> tuple[int | None, ...]:
    """Per probe since when [axis ms]; None where its ring gets nothing, or cannot be judged."""
    firing = view.firing
    if not firing.off or firing.off_ms is None or view.now_ms - firing.off_ms < SETTLED_MS:
        return (None,) * len(view.tracks)
    return tuple(_since(view, i) for i in range(len(view.tracks)))


def long_fed(view: View) -> int | None:
    """The first probe whose ring has been fed for an hour; None where there is none."""
    since = enumerate(view.firing.fed[: len(view.tracks)])
    return next((i for i, ms in since if ms is not None and view.now_ms - ms >= HOUR_MS), None)


def _since(view: View, probe: int) -> int | None:
    one, celsius = view.left_of(probe), view.tracks[probe].celsius
    if one is None or one.share is None or celsius is None or celsius < HOT_CELSIUS:
        return None
    before = view.firing.fed
    since_ms = before[probe] if probe < len(before) else None
    if one.exceeds > 0.0:
        return view.now_ms if since_ms is None else since_ms
    return since_ms if one.share > LIKELY * one.share_deviation else None
