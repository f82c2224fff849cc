"""How sure heat work is: sensor, place, lot and chart as one deviation [degC], and what it makes of a bend.

Deviations are standard ones. A tolerance is read as two of them, and an interval holds 80 %, as elsewhere in the
watch. A shift of the temperature moves heat work by d(ln alpha) = dT / width, the cone's own width: so one number in
degC serves every cone.
"""

from functools import lru_cache
from math import exp, hypot

from spyhole.core.cones.kinetics import LOT_CELSIUS, Cone, end_point_celsius
from spyhole.core.cones.tolerance import tolerance_celsius
from spyhole.core.kiln import Probe
from spyhole.core.learned import Belief

EIGHTY_PERCENT = 1.2816
"""Standard deviations either side that hold 80 % of a normal distribution."""

PLACE_CELSIUS = 4.0
"""A cone on a shelf against the probe at the wall beside it, and wire that has aged (common practice, no source)."""

FIT_CELSIUS = {"ordinary": 1.4, "iron_free": 1.7}
"""How far our own fit strays from the chart, RMS: measured in tests/published."""

FURTHEST_FACTOR = 1e6
"""No doubt is told as more than this many times."""


@lru_cache(maxsize=256)  # each bin asks it of every probe, and a peak is to ten degrees
def offset_prior(probe: Probe, celsius: float, learned: Belief | None = None) -> Belief:
    """What has to be added to this probe at this temperature [degC] before any cone of this firing is seen.

    learned: from earlier firings, beside the offset of the settings. It cannot be surer than the place allows anew.

    >>> round(offset_prior(Probe(), 1031.0).deviation, 1)
    5.6
    """
    if learned is not None:
        return Belief(learned.value, max(learned.deviation, PLACE_CELSIUS / 2.0))
    half = tolerance_celsius(probe.tolerance_class, celsius, probe.type) / 2.0
    return Belief(0.0, hypot(half, PLACE_CELSIUS))


def cone_deviation_celsius(one: Cone) -> float:
    """What lot and fit leave open about the cone itself, whatever the probe [degC]."""
    return hypot(LOT_CELSIUS / 2.0, FIT_CELSIUS[one.body.value])


def corrected_alpha(one: Cone, alpha: float, peak_celsius: float, offset_celsius: float) -> float:
    """Heat work with the temperature moved by an offset [degC]. peak_celsius: the hottest so far."""
    return alpha * factor_of(offset_celsius / one.width_celsius(peak_celsius))


def alpha_between(one: Cone, alpha: float, peak_celsius: float, deviation_celsius: float) -> tuple[float, float]:
    """Low and high end of heat work at 80 %. deviation_celsius: of the probe's offset alone; the cone's is added."""
    off = EIGHTY_PERCENT * hypot(deviation_celsius, cone_deviation_celsius(one))
    factor = factor_of(off / one.width_celsius(peak_celsius))
    return alpha / factor, alpha * factor


def end_point_between(one: Cone, celsius_per_hour: float, deviation_celsius: float) -> tuple[float, float]:
    """Between which readings the cone goes down, at 80 % [degC]."""
    off = EIGHTY_PERCENT * hypot(deviation_celsius, cone_deviation_celsius(one))
    end = end_point_celsius(one, celsius_per_hour)
    return end - off, end + off


def factor_of(exponent: float) -> float:
    """How many times more heat work that is, told no further than anybody doubts: a probe that reads nonsense, as one
    wired the wrong way round does, asks for any number."""
    return min(max(exp(min(max(exponent, -50.0), 50.0)), 1.0 / FURTHEST_FACTOR), FURTHEST_FACTOR)
