"""What was said of a time so far, and how far a new forecast of it goes along.

The kiln model takes the last minutes for more than they are: of what it moves a forecast by, part comes back. So while
there are hours to go, a new one leans on the mean of those before, each weighed by how sure it was.
"""

from dataclasses import dataclass
from math import exp

from spyhole.core.outcome import Forecast

HOUR_MS = 3_600_000
LEANS = 0.4
LEANS_HOURS = 3.0
SLOW_HOURS = 3.0
"""How far it goes along while there are so many hours to go, less the less there are; and over what time the mean is
taken (chosen). On 36 firings of the proving ground the cone was 14.0 min off three hours ahead and 8.0 two, 17.5 and
10.0 by the newest forecast alone; on 43 others 9.7 and 6.1, 10.2 and 6.7. An hour ahead nothing changed."""
MINUTE_HOURS = 1.0 / 60
"""A forecast is told each minute, and none is surer than to one."""


@dataclass(frozen=True, slots=True)
class Said:
    """mean_ms: of what was said, up to at_ms, of when a thing happens. Both axis time. weight: of the mean [1/h]."""

    mean_ms: float
    weight: float
    at_ms: int


def leaning(said: Said | None, found: Forecast | None, now_ms: int, utc_ms: int) -> Forecast | None:
    """The forecast, leaning on what was said before; not into the past."""
    if said is None or found is None:
        return found
    share = LEANS * min(max(found.median - utc_ms, 0) / (LEANS_HOURS * HOUR_MS), 1.0)
    by_ms = round(share * (said.mean_ms - now_ms + utc_ms - found.median))

    def at(time_ms: int) -> int:
        return max(time_ms + by_ms, min(time_ms, utc_ms))

    return Forecast(at(found.low), at(found.median), at(found.high))


def saying_so(said: Said | None, told: Forecast | None, now_ms: int, utc_ms: int) -> Said | None:
    """The mean, after this was told; what it was where nothing is told."""
    if told is None:
        return said
    time_ms = float(told.median - utc_ms + now_ms)
    width_hours = max((told.high - told.low) / HOUR_MS, MINUTE_HOURS)
    if said is None:
        return Said(time_ms, MINUTE_HOURS / width_hours**2, now_ms)
    passed_hours = (now_ms - said.at_ms) / HOUR_MS
    adds = passed_hours / width_hours**2
    weight = said.weight * exp(-passed_hours / SLOW_HOURS) + adds
    return Said(said.mean_ms + adds / weight * (time_ms - said.mean_ms), weight, now_ms)
