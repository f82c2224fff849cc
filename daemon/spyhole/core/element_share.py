"""What each ring got at each setting of its switch: of two elements, one open gives nothing on low and half on high.

Low is the two in series, medium one alone, high both in parallel (Ohm): an open one leaves 0, and 1 or 0, and a half.
A ring is judged against the others, so that load and mains fall out.
"""

from collections.abc import Sequence
from statistics import median

from spyhole.core.kiln import Kiln, Switch
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View

SETTINGS = (Switch.LOW, Switch.MEDIUM, Switch.HIGH)
SETTLED_MS = 25 * 60_000
EACH_MINUTES = 10
LEAST_SEEN = 3
"""So often it is looked at, and so often it has to have been seen: half an hour of a setting."""
NOTHING = 0.45
HALF = (0.3, 0.85)
"""Against the others: what counts as nothing on low, and as half on high. The model gives a ring that lacks so much a
part of what its neighbours lend it, so that a half reads as up to eight tenths: measured on kilns of the proving
ground, whose healthy rings read within some hundredths of one another."""

Got = tuple[tuple[tuple[int, float], ...], ...]
"""One a ring, then one a setting: how often it was seen, and what was got then together, in shares of rated watts."""
Shares = tuple[tuple[float | None, ...], ...]


def gained(view: View, left: Sequence[Residual]) -> Got:
    """What the firing had got so far, and gets now. left: each ring against the kiln model, () before that stands."""
    firing, model = view.firing, view.firing.model
    settled = view.now_ms - firing.changed_ms >= SETTLED_MS
    if model is None or len(left) != len(firing.kiln.rings) or firing.off or not firing.heating or not settled:
        return firing.got
    rated = [max(ring.watts, 1.0) for ring in firing.kiln.rings]
    mean = sum(rated) / len(rated)
    rings = list(firing.got or (((0, 0.0),) * len(SETTINGS),) * len(rated))
    for probe, ring in enumerate(firing.kiln.probe_rings):
        beyond, setting = left[ring].share, firing.switches[ring]
        if not view.fit[probe] or beyond is None or setting is Switch.OFF:
            continue
        # The model has believed the ring stronger or weaker by now: what it got is told against its rating.
        share = (firing.kiln.switch.of(setting) + beyond) * model.settled.heat.strength[ring] * mean / rated[ring]
        place = SETTINGS.index(setting)
        seen, total = rings[ring][place]
        rings[ring] = (*rings[ring][:place], (seen + 1, round(total + share, 4)), *rings[ring][place + 1 :])
    return tuple(rings)


def shares(got: Got) -> Shares:
    """The mean of each, None where it was seen too seldom."""
    return tuple(tuple(round(total / seen, 3) if seen >= LEAST_SEEN else None for seen, total in ring) for ring in got)


def open_elements(kiln: Kiln, seen: Shares) -> tuple[int, ...]:
    """Rings of which one element of two seems open. Where switches cycle instead of stepping nothing can be told."""
    if len(seen) != len(kiln.rings):
        return ()
    return tuple(ring for ring in kiln.probe_rings if _open(ring, seen))


def _open(ring: int, seen: Shares) -> bool:
    low, high = (_against(ring, SETTINGS.index(setting), seen) for setting in (Switch.LOW, Switch.HIGH))
    return low is not None and high is not None and low < NOTHING and HALF[0] < high < HALF[1]


def _against(ring: int, place: int, seen: Sequence[tuple[float | None, ...]]) -> float | None:
    """A ring at a setting against the median of the others there."""
    own = seen[ring][place]
    others = [each for n, one in enumerate(seen) if n != ring and (each := one[place]) is not None]
    if own is None or not others or median(others) <= 0.0:
        return None
    return own / median(others)
