"""What is believed of the kiln now: node temperatures and parameters together, with their covariance.

An extended Kalman filter: a step each minute, one scalar update a probe, in Joseph's form so that the covariance
stays symmetric and positive (Bucy and Joseph 1968). All pure floats; a row of the covariance is a tuple.
"""

from dataclasses import dataclass
from operator import mul

from spyhole.core.thermal.physics import NODES, SHARED, Heat, advance, heat_of

LONGEST_STEP_HOURS = 0.05
MOST_STEPS = 200
"""After a gap of days the steps grow instead: a minute of the watch stays short."""
WARE_NOISE = 12.0
"""How far a ring strays from the model in an hour [degC], apart from its parameters (chosen, no source)."""
WALL_NOISE = 8.0
SHARED_DRIFT = 0.01
STRENGTH_DRIFT = 0.1
"""How far a parameter's logarithm wanders in an hour: mains, ageing, what the model leaves out (chosen)."""
NUDGE = 1e-3
FAR = 3.0
"""Deviations past which a reading counts for less: it may be the probe, the lid or a turn nobody wrote down."""


@dataclass(frozen=True, slots=True)
class Belief:
    """at_ms: axis time. mean: node temperatures [degC], ring by ring, then logarithms of the parameters."""

    at_ms: int
    rings: int
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    @property
    def celsius(self) -> list[float]:
        """Node temperatures."""
        return list(self.mean[: NODES * self.rings])

    @property
    def heat(self) -> Heat:
        """The likeliest parameters."""
        return heat_of(self.mean[NODES * self.rings :])

    def deviation(self, index: int) -> float:
        """Standard deviation of one state."""
        return float(max(self.covariance[index][index], 0.0) ** 0.5)


def predict(belief: Belief, to_ms: int, shares: tuple[float, ...], room_celsius: float) -> Belief:
    """The belief at a later time, with these shares of full watts since then."""
    hours = (to_ms - belief.at_ms) / 3_600_000
    if hours <= 0.0:
        return belief
    steps = min(max(1, round(hours / LONGEST_STEP_HOURS)), MOST_STEPS)
    for _ in range(steps):
        belief = _one_step(belief, shares, room_celsius, hours / steps)
    return Belief(to_ms, belief.rings, belief.mean, belief.covariance)


def _one_step(belief: Belief, shares: tuple[float, ...], room_celsius: float, hours: float) -> Belief:
    nodes, size = NODES * belief.rings, len(belief.mean)
    mean = list(belief.mean)

    def moved(state: list[float]) -> list[float]:
        return advance(heat_of(state[nodes:]), state[:nodes], shares, room_celsius, hours)

    base = moved(mean)
    columns = []
    for k in range(size):
        nudge = NUDGE if k >= nodes else 0.1
        state = mean.copy()
        state[k] += nudge
        columns.append([(b - a) / nudge for a, b in zip(base, moved(state), strict=True)])
    # Parameters stay, so only the rows of the nodes are multiplied.
    slopes = [[columns[k][row] for k in range(size)] for row in range(nodes)]
    old = [list(row) for row in belief.covariance]
    upper = [[sum(map(mul, row, other)) for other in old] for row in slopes]
    new = [row.copy() for row in old]
    for i in range(nodes):
        for j in range(i, nodes):
            new[i][j] = new[j][i] = sum(map(mul, upper[i], slopes[j]))
        for j in range(nodes, size):
            new[i][j] = new[j][i] = upper[i][j]
    for i in range(size):
        if i < nodes:
            noise = WARE_NOISE if i % NODES == 0 else WALL_NOISE
        else:
            noise = SHARED_DRIFT if i < nodes + SHARED else STRENGTH_DRIFT
        new[i][i] += noise * noise * hours
    return Belief(belief.at_ms, belief.rings, (*base, *mean[nodes:]), tuple(tuple(row) for row in new))


def see(belief: Belief, ring: int, celsius: float, deviation: float) -> Belief:
    """The belief after a reading of this ring [degC]."""
    row = NODES * ring
    column = [r[row] for r in belief.covariance]
    column[row] = max(column[row], 0.0)
    off = celsius - belief.mean[row]
    noise = deviation * deviation
    far = abs(off) / (column[row] + noise) ** 0.5
    if far > FAR:
        noise += off * off / (FAR * FAR)
    gain = [c / (column[row] + noise) for c in column]
    mean = tuple(m + g * off for m, g in zip(belief.mean, gain, strict=True))
    # Joseph's form, multiplied out for one scalar reading.
    spread = column[row] + noise
    new = []
    for i, old in enumerate(belief.covariance):
        new.append(
            tuple(
                old[j] - gain[i] * column[j] - column[i] * gain[j] + gain[i] * gain[j] * spread for j in range(len(old))
            )
        )
    return Belief(belief.at_ms, belief.rings, mean, tuple(new))
