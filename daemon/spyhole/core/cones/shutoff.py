"""The small cone lying in a mechanical shut-off: no promise of the chart, so modelled as its own.

The chart gives small cones at 300 degC/h only, from a gas kiln, and there most of them are down later than the
self-supporting cone run on to that rate. Its notes disagree: 7 to 10 degC sooner when upright in one edition, about
5 degC later in another. So half of what the column says is believed, and the rest is doubt.
"""

from dataclasses import replace
from functools import lru_cache

from spyhole.core.cones.chart import END_POINTS, Form
from spyhole.core.cones.kinetics import Cone, cone, end_point_celsius
from spyhole.core.plan import Body

COLUMN_CELSIUS_PER_HOUR = 300
BELIEVED_SHARE = 0.5
DOUBT_CELSIUS = 8.0
"""What seating, rod and lot may shift it either way beyond the sensor's own doubt (common practice, no source)."""


@lru_cache(maxsize=64)
def shutoff_cone(name: str) -> Cone:
    """The cone of this name as it works under a shut-off's rod; Refusal naming the cones there are.

    >>> round(shutoff_cone("05").end_60_celsius - cone("05").end_60_celsius, 1)
    6.0
    """
    standing = cone(name, Body.ORDINARY)
    small = END_POINTS[Form.SMALL, Body.ORDINARY].get(name)
    if small is None:
        return standing
    later = small[COLUMN_CELSIUS_PER_HOUR] - end_point_celsius(standing, COLUMN_CELSIUS_PER_HOUR)
    return replace(standing, end_60_celsius=standing.end_60_celsius + BELIEVED_SHARE * later)
