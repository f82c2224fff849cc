"""Since when a ring surely gets less than its switch gives.

The model learns what a ring lacks, and then no longer misses it: that it lacks less than it did is no sign that it has
come back. Only a ring that gets what it should, or more than the model has learned, is.
"""

from collections.abc import Sequence
from statistics import median

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
LEARNS_MS = 12 * 60_000
"""What the settled model trails by: what a whole kiln has lacked for less long it is still expected to have."""

BACK_SHARE = 0.5
"""A ring whose lack has gone may only have taught the model what it lacks: it is back once it stands so much nearer."""


def lacks(one: Residual, others: tuple[float, ...] = ()) -> bool:
    """Whether a ring surely gets less than its switch gives; others: with what they get beyond theirs beside it."""
    missing = max(one.lacks, one.lacks_beside(others))
    return missing > LACKS_SHARE and _has_not_its_due(one)


def _has_not_its_due(one: Residual) -> bool:
    return one.share is not None and -one.share > LEAST_OF_ITS_SWITCH * one.given


def lack_together(rings: Sequence[Residual]) -> bool:
    """Whether the whole kiln surely gets less than its switches give: most of it beyond all doubt, and no ring has
    its due. What nobody knows of a kiln is the same for all its rings, so that one of them may well seem to lack a
    little less than is sure."""
    if len(rings) < 2 or not all(map(_has_not_its_due, rings)):
        return False
    return median(one.lacks for one in rings) > LACKS_SHARE


def is_judged(view: View) -> bool:
    """Whether anything can be said of what rings lack now."""
    firing = view.firing
    young = view.now_ms - firing.started_ms < YOUNG_MS
    lit = firing.heating and not firing.off and not firing.candling
    return lit and not young and view.now_ms - firing.changed_ms >= SETTLED_MS


def lacked(view: View) -> tuple[int | None, ...]:
    """Per probe since when its ring lacks heat [axis ms]; None where it has what it should, or cannot be judged."""
    probes = range(len(view.tracks))
    if not is_judged(view):
        return (None,) * len(probes)
    on = {i: one for i in probes if view.switched(i) is not Switch.OFF and (one := view.left_of(i)) is not None}
    before = view.firing.lacked
    kept = bool(on) and all(i < len(before) and before[i] is not None for i in on)
    together = lack_together(tuple(on.values()))
    return tuple(_since(view, i, on, together=together, kept=kept) for i in probes)


def _since(view: View, probe: int, on: dict[int, Residual], *, together: bool, kept: bool) -> int | None:
    """together: all rings lack it now; kept: all have lacked it till now."""
    if probe not in on:
        return None
    one, before = on[probe], view.firing.lacked
    since_ms = before[probe] if probe < len(before) else None
    if together or lacks(one, tuple(other.share or 0.0 for i, other in on.items() if i != probe)):
        return view.now_ms if since_ms is None else since_ms
    # A whole kiln has nothing to stand behind: that it got back what the model no longer misses shows as too much.
    # But not at first: the model has not had the time to learn it yet.
    young = since_ms is not None and view.now_ms - since_ms < LEARNS_MS
    still = -one.share_deviation if not kept else 0.0 if young else one.share_deviation
    return since_ms if (one.share or 0.0) < still or stands_behind(view.firing, probe) else None


def stands_behind(firing: Firing, probe: int) -> bool:
    """Whether this ring stands clearly lower beside the others than it has since all switches stand alike."""
    behind_celsius = -firing.apart[probe]
    return behind_celsius > BACK_SHARE * max(20.0, firing.best_apart[probe] + behind_celsius)
