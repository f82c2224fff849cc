"""One forecast of two ways that it may go."""

from statistics import NormalDist

from spyhole.core.outcome import Forecast

TAIL = 0.1
"""What lies below the low end of a forecast, and above its high one."""
EIGHTY_PERCENT = NormalDist().inv_cdf(1.0 - TAIL)
HALVINGS = 40


def either_way(one: Forecast, other: Forecast, share: float) -> Forecast:
    """Of both, where it goes the one way with this share and the other way else."""
    lowest, highest = min(one.low, other.low), max(one.high, other.high)

    def quantile(wanted: float) -> int:
        low, high = float(2 * lowest - highest), float(2 * highest - lowest)
        for _ in range(HALVINGS):
            middle = (low + high) / 2.0
            below = share * _below(one, middle) + (1.0 - share) * _below(other, middle)
            low, high = (middle, high) if below < wanted else (low, middle)
        return round(high)

    return Forecast(max(quantile(TAIL), lowest), quantile(0.5), min(quantile(1.0 - TAIL), highest))


def _below(one: Forecast, utc_ms: float) -> float:
    """How likely it is before that instant."""
    off = utc_ms - one.median
    side = one.median - one.low if off < 0.0 else one.high - one.median
    return NormalDist().cdf(off / max(side, 1) * EIGHTY_PERCENT)
