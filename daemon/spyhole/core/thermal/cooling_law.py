"""How long a shut kiln still cools, by the bend of its own curve alone, whatever it is made of.

Once the heat is off, brick and ware share out what they hold and then lose it ever more slowly. How fast the curve
fell in the last third of the time since, how much faster in the third before that, and how far in all, says what is
left better than anything that heating could show of a kiln seen for the first time. The law is fitted to a family of
some 2400 kilns of a finer model, drawn over the sizes, bricks and loads that there are (`tests/core/thermal`). The
proving ground's kilns showed once that those were drawn too narrowly; beside that neither they nor the other hand's
had any part in it, and it holds for both.
"""

from dataclasses import dataclass
from math import exp, log

Limits = tuple[tuple[float, float], ...]
TARGET_CELSIUS = 100.0
LEAST_HOURS, MOST_HOURS = 0.5, 9.0
LEAST_CELSIUS = 160.0
"""For which times and temperatures the law holds: below, lids are opened."""
WHOLE_HOURS = 1.0
FADES_HOURS, FADES_CELSIUS = 8.0, 200.0
"""From where to where it is taken up and left again, so that nothing jumps."""
DEVIATION, EARLY_DEVIATION, EARLY_HOURS = 0.048, 0.05, 0.9
"""Of the logarithm of what is left: other kilns of the family stray by 0.11, 0.09, 0.08 and 0.07 around the law half an
hour, one, two and four hours after the end; 284 kilns of the proving ground by 0.09, 0.06, 0.05 and 0.04, all a little
to one side, and 100 of another hand by 0.07, 0.05, 0.05 and 0.05. Chosen nearer
to these, since the family was drawn wider than kilns are."""
LIMITS: Limits = ((0.03, 0.26), (0.09, 1.95), (-3.64, -0.62), (-1.89, 0.08))
"""Within which the family has each of `bends`: what lies beyond is taken to lie there."""
TERMS = (
    3.1559, -8.0829, -0.3459, 1.3849, 0.0622, 0.9485, 5.4074, -0.2179, 0.1699, -3.6026, 0.8024,
    -0.6364, 4.5819, -0.0457, -0.1362, 0.0426, -2.6623, -2.2831, 0.0841, 0.0046, 1.386, -0.3018,
)  # fmt: skip
"""What each term of `terms` adds to the logarithm; then the same for each e-fold of hours since the end."""


@dataclass(frozen=True, slots=True)
class Bend:
    """hours: since the end. peak, third, two_thirds, now: of the hottest ring when the heat ended, after a third and
    two thirds of that time, and after all of it [degC above the room]. target: the same of what is waited for."""

    hours: float
    peak: float
    third: float
    two_thirds: float
    now: float
    target: float

    @property
    def at_that_pace(self) -> float:
        """Hours until the target, did it fall on as in the last third, by ever the same share of what is left."""
        return self.hours / 3.0 * log(self.now / self.target) / log(self.two_thirds / self.now)


def hours_left(bend: Bend) -> float | None:
    """Hours until the target. None where the curve does not fall as that of a cooling kiln."""
    if not bend.peak > bend.third > bend.two_thirds > bend.now > bend.target > 0.0:
        return None
    slower = sum(a * b for a, b in zip(TERMS, terms(bend), strict=True))
    return bend.at_that_pace * exp(slower)


def terms(bend: Bend, limits: Limits = LIMITS) -> tuple[float, ...]:
    """What the law is made of: bends of the curve, their products, and all of that times the logarithm of the hours."""
    u, v, w, y = (min(max(x, low), high) for x, (low, high) in zip(bends(bend), limits, strict=True))
    found = (1.0, u, v, w, y, u * u, u * v, v * v, w * w, u * w, v * w)
    late = log(bend.hours)
    return (*found, *(x * late for x in found))


def bends(bend: Bend) -> tuple[float, float, float, float]:
    """Logarithms: by how much slower the last third is than the one before; how far all has fallen; how far the last
    third has; how far it is above the room yet [1000 degC]."""
    last = log(bend.two_thirds / bend.now)
    return log(log(bend.third / bend.two_thirds) / last), log(bend.peak / bend.now), log(last), log(bend.now / 1000.0)


def deviation(hours: float) -> float:
    """Of the logarithm of what the law says is left, so long after the end."""
    return DEVIATION + EARLY_DEVIATION * exp(-hours / EARLY_HOURS)


def counts(hours: float, celsius: float) -> float:
    """How far the law is to be heard, so long after the end and this hot [0 to 1]."""
    begun = (hours - LEAST_HOURS) / (WHOLE_HOURS - LEAST_HOURS)
    late = (MOST_HOURS - hours) / (MOST_HOURS - FADES_HOURS)
    cool = (celsius - LEAST_CELSIUS) / (FADES_CELSIUS - LEAST_CELSIUS)
    return max(0.0, min(1.0, begun, late, cool))
