"""The small cone lying in a mechanical shut-off: no promise of the chart, so modelled as its own.

It lies flat under the weight of the sensing rod, and the shut-off trips when it has sagged enough to let the rod drop:
that is no 90 degree bend of a standing cone. The chart gives small cones at 300 degC/h only, from a gas kiln, and
there most of them are down later than the self-supporting cone run on to that rate. Its notes disagree: 7 to 10 degC
sooner when upright in one edition, about 5 degC later in another. So half of what the column says is believed, and
the rest is doubt, until trips of this kiln say more. How late it is [degC, at the same climb] past the self-supporting
cone of its name is one number a kiln, with its deviation: `core.learned.Learned.shutoff_late`; `tripping` learns it.
"""

from dataclasses import replace
from functools import lru_cache
from math import hypot, log

from spyhole.core.cones.chart import END_POINTS, Form
from spyhole.core.cones.doubt import EIGHTY_PERCENT, alpha_between
from spyhole.core.cones.kinetics import LOT_CELSIUS, Cone, cone, end_point_celsius
from spyhole.core.learned import Belief
from spyhole.core.plan import Body

COLUMN_CELSIUS_PER_HOUR = 300
BELIEVED_SHARE = 0.5
DOUBT_CELSIUS = 8.0
"""What seating, rod and lot may shift it either way beyond the sensor's own doubt (common practice, no source)."""

TRIP_CELSIUS = 4.0
"""How a kiln's own trips scatter from firing to firing: seating and the claw's spring (common practice, no source)."""


@lru_cache(maxsize=64)
def late_prior(name: str) -> Belief:
    """How late the cone of this name is in a shut-off nobody has seen trip [degC]; Refusal naming the cones there are.

    >>> round(late_prior("05").value, 1), late_prior("05").deviation
    (6.1, 8.0)
    """
    standing = cone(name, Body.ORDINARY)
    small = END_POINTS[Form.SMALL, Body.ORDINARY].get(name)
    if small is None:
        return Belief(0.0, DOUBT_CELSIUS)
    later = small[COLUMN_CELSIUS_PER_HOUR] - end_point_celsius(standing, COLUMN_CELSIUS_PER_HOUR)
    return Belief(BELIEVED_SHARE * later, DOUBT_CELSIUS)


@lru_cache(maxsize=64)
def shutoff_cone(name: str, late: Belief | None = None) -> Cone:
    """The cone of this name as it works under a shut-off's rod; late: what this kiln's trips taught.

    >>> round(shutoff_cone("05").end_60_celsius - cone("05").end_60_celsius, 1)
    6.1
    """
    standing = cone(name, Body.ORDINARY)
    moved = late_prior(name) if late is None else late
    return standing if moved.value == 0.0 else replace(standing, end_60_celsius=standing.end_60_celsius + moved.value)


def trip_deviation_celsius(late: Belief | None, offset: Belief) -> float:
    """How far the next trip may be from its number, by this kiln's own probe [degC, one deviation].

    Where trips have been seen, the probe's offset is in what they taught.
    """
    known = hypot(DOUBT_CELSIUS, offset.deviation) if late is None else late.deviation
    return hypot(known, TRIP_CELSIUS)


def down_between(name: str, celsius_per_hour: float, late: Belief | None, offset: Belief) -> tuple[float, float, float]:
    """Where the shut-off trips at a steady climb: early end, likeliest, late end [degC] at 80 %."""
    middle = end_point_celsius(shutoff_cone(name, late), celsius_per_hour)
    off = EIGHTY_PERCENT * hypot(trip_deviation_celsius(late, offset), LOT_CELSIUS / 2.0)
    return middle - off, middle, middle + off


def shutoff_alpha_between(
    name: str, alpha: float, peak_celsius: float, late: Belief | None, offset: Belief
) -> tuple[float, float]:
    """Heat work of the cone in the shut-off at 80 %: it is surely down once the low end passes 1."""
    one = shutoff_cone(name, late)
    return alpha_between(one, alpha, peak_celsius, trip_deviation_celsius(late, offset))


def lateness_celsius(name: str, late: Belief | None, alpha: float, celsius: float) -> float | None:
    """How late a shut-off tripped [degC]; None where its cone had done no work.

    alpha: heat work at the trip of `shutoff_cone(name, late)`. celsius: the temperature there.

    >>> lateness_celsius("05", Belief(6.0, 8.0), 1.0, 1039.0)
    6.0
    """
    if not alpha > 0.0:
        return None
    before = late_prior(name) if late is None else late
    return before.value + shutoff_cone(name, late).width_celsius(celsius) * log(alpha)
