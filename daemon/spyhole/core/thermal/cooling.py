"""When a closed kiln will be cool: Newton's law of cooling with the loss seen in the last half hour.

The walls give their heat back later, so the loss shrinks as the kiln cools; the interval says how little is known.
"""

from math import log

from spyhole.core.curve.climb import Minute
from spyhole.core.outcome import Forecast

HALF_HOUR = 30
SLOWING = 0.8
"""What the loss per degree becomes over the rest of cooling (common practice, no source)."""


def loss_per_hour(minutes: tuple[Minute, ...], room_celsius: float) -> float | None:
    """k [1/h] in d(T - room)/dt = -k (T - room) over the last half hour; None when it is not cooling."""
    if len(minutes) < HALF_HOUR:
        return None
    (t0, c0), (t1, c1) = minutes[-HALF_HOUR], minutes[-1]
    above0, above1 = c0 - room_celsius, c1 - room_celsius
    if above1 < 5.0 or above0 <= above1 or t1 <= t0:
        return None
    return log(above0 / above1) / ((t1 - t0) / 3_600_000)


def cool_to(
    target_celsius: float, minutes: tuple[Minute, ...], room_celsius: float, now_utc_ms: int
) -> Forecast | None:
    """When the hottest ring reaches the target; None when it is there, or cannot be told yet."""
    loss = loss_per_hour(minutes, room_celsius)
    if loss is None or minutes[-1][1] <= target_celsius or target_celsius <= room_celsius + 5.0:
        return None
    hours = log((minutes[-1][1] - room_celsius) / (target_celsius - room_celsius)) / loss

    def at(factor: float) -> int:
        return now_utc_ms + round(hours / factor * 3_600_000)

    return Forecast(at(SLOWING * 1.5), at(SLOWING), at(SLOWING * 0.6))
