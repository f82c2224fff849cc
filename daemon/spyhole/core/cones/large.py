"""Large cones, set in a plaque and bent under their own greater weight.

The chart has them at 60 and 150 degC/h, nearly everywhere 2 or 3 degC below the self-supporting cone of the same name:
no independent word about the effect of rate. So a large cone is the self-supporting one, moved by the median
difference, and the three cells that `core.cones.chart` distrusts (13 at 60, 14 at both) do not count.
"""

from dataclasses import replace
from functools import lru_cache
from statistics import median

from spyhole.core.cones.chart import END_POINTS, Form
from spyhole.core.cones.kinetics import Cone, cone
from spyhole.core.plan import Body
from spyhole.core.refusal import Refusal

DISTRUSTED = frozenset({("13", 60), ("14", 60), ("14", 150)})
"""(cone, rate) of ordinary large cones not to be fitted."""


@lru_cache(maxsize=2)
def below_standing_celsius(body: Body) -> float:
    """How far large cones of this body go down before self-supporting ones [degC], the median of the chart.

    >>> below_standing_celsius(Body.ORDINARY), below_standing_celsius(Body.IRON_FREE)
    (2.0, 2.0)
    """
    large, standing = END_POINTS[Form.LARGE, body], END_POINTS[Form.SELF_SUPPORTING, body]
    return float(
        median(
            standing[name][rate] - celsius
            for name, rates in large.items()
            for rate, celsius in rates.items()
            if body is not Body.ORDINARY or (name, rate) not in DISTRUSTED
        )
    )


def large_cone(name: str, body: Body = Body.ORDINARY) -> Cone:
    """The large cone of this name; Refusal naming the ones the chart has.

    >>> round(cone("05").end_60_celsius - large_cone("05").end_60_celsius)
    2
    """
    standing = cone(name, body)
    made = END_POINTS[Form.LARGE, body]
    if name not in made:
        raise Refusal("cone", f"the chart has no large cone {name!r}", f"large cones are {', '.join(made)}")
    return replace(standing, end_60_celsius=standing.end_60_celsius - below_standing_celsius(body))
