"""Since when a ring surely gets less than its switch gives.

The model learns what a ring lacks, and then no longer misses it: that it lacks less than it did is no sign that it has
come back. Only a ring that gets what it should, or more than the model has learned, is.
"""

from spyhole.core.firing import Firing
from spyhole.core.kiln import Switch
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View

SETTLED_MS = 8 * 60_000
YOUNG_MS = 45 * 60_000
"""What the model needs from lighting on to know a kiln that was never seen before."""
LACKS_SHARE = 0.05
"""Of full watts, beyond all doubt: less is a kiln's mood."""
LEAST_OF_ITS_SWITCH = 0.12
"""The same of what its switch gives, doubt included."""

BACK_SHARE = 0.5
"""A ring whose lack has gone may only have taught the model what it lacks: it is back once it stands so much nearer."""


def lacks(one: Residual, others: tuple[float, ...] = ()) -> bool:
    """Whether a ring surely gets less than its switch gives; others: with what they get beyond theirs beside it."""
    missing = max(one.lacks, one.lacks_beside(others))
    return missing > LACKS_SHARE and one.share is not None and -one.share > LEAST_OF_ITS_SWITCH * one.given


def is_judged(view: View) -> bool:
    """Whether anything can be said of what rings lack now."""
    firing = view.firing
    young = view.now_ms - firing.started_ms < YOUNG_MS
    lit = firing.heating and not firing.off and not firing.candling
    return lit and not young and view.now_ms - firing.changed_ms >= SETTLED_MS


def lacked(view: View) -> tuple[int | None, ...]:
    """Per probe since when its ring lacks heat [axis ms]; None where it has what it should, or cannot be judged."""
    probes = range(len(view.tracks))
    return tuple(_since(view, i) for i in probes) if is_judged(view) else (None,) * len(probes)


def _since(view: View, probe: int) -> int | None:
    one, before = view.left_of(probe), view.firing.lacked
    if one is None or view.switched(probe) is Switch.OFF:
        return None
    since_ms = before[probe] if probe < len(before) else None
    on = (i for i in range(len(view.tracks)) if i != probe and view.switched(i) is not Switch.OFF)
    if lacks(one, tuple(other.share or 0.0 for i in on if (other := view.left_of(i)) is not None)):
        return view.now_ms if since_ms is None else since_ms
    return since_ms if (one.share or 0.0) < -one.share_deviation or stands_behind(view.firing, probe) else None


def stands_behind(firing: Firing, probe: int) -> bool:
    """Whether this ring stands clearly lower beside the others than it has since all switches stand alike."""
    behind_celsius = -firing.apart[probe]
    return behind_celsius > BACK_SHARE * max(20.0, firing.best_apart[probe] + behind_celsius)
