"""What is believed of the kiln now: node temperatures and parameters together, with their covariance.

An extended Kalman filter: a step each few minutes, one scalar update a probe, in Joseph's form so that the covariance
stays symmetric and positive (Bucy and Joseph 1968). All pure floats; of the covariance the lower triangle is kept.
"""

from dataclasses import dataclass, replace
from operator import itemgetter, mul

from spyhole.core.thermal.physics import (
    NAMES,
    NODES,
    SHARED,
    STEAM_GONE_CELSIUS,
    Heat,
    Outside,
    advance,
    columns,
    even_out,
    heat_of,
)

LONGEST_STEP_HOURS = 0.1
MOST_STEPS = 200
"""After a gap of days the steps grow instead: a minute of the watch stays short."""
WARE_NOISE = 8.0
"""How far a ring strays from the model in an hour [degC], apart from its parameters (chosen, no source)."""
DAMP_NOISE = 25.0
"""The same while water may be leaving the ware or the clay."""
WALL_NOISE = 6.0
LET_GO_CELSIUS = 20.0
"""By how much a probe's reading moves against its ware in the minutes after heating ends (chosen)."""
PACE_PLACE, EXCHANGE_PLACE = NAMES.index("pace"), NAMES.index("exchange")
AFRESH = 0.7
PACE_AFRESH = 0.42
"""How much of what heating made of the wall's pace is taken back as heating ends, and how open its logarithm is then
(chosen)."""
SHARED_DRIFT = 0.02
STRENGTH_DRIFT = 0.03
"""How far a parameter's logarithm wanders in an hour: mains, ageing, what the model leaves out (chosen)."""
QUICK_DRIFT = 0.1
"""The same of all but the watts, for what foretells and accuses nobody: what a model of four nodes leaves out is most
of all how a kiln loses its heat and stores it, and a belief kept from wandering lags behind the curve, so that the cone
is foretold late (measured on kilns of the proving ground)."""
NUDGE = 1e-3
FAR = 2.5
BEYOND = 8.0
"""Deviations past which a reading teaches no more of the kiln than one at that distance, and past which nothing: it
may be the probe, the lid or a turn nobody wrote down, and stays to be seen. The ring's temperature follows it anyway.
"""
FURTHEST = 2.5
"""How many of its own deviations a parameter may go from what was believed before anything was seen of the kiln."""

Rows = tuple[tuple[float, ...], ...]
Bounds = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Belief:
    """at_ms: axis time. mean: node temperatures [degC], ring by ring, then logarithms of the parameters.

    spread: lower triangle of the covariance, row by row.
    """

    at_ms: int
    rings: int
    mean: tuple[float, ...]
    spread: Rows

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
        return float(max(self.spread[index][index], 0.0) ** 0.5)


def square(spread: Rows) -> list[list[float]]:
    """The whole covariance."""
    size = len(spread)
    return [[spread[i][j] if j <= i else spread[j][i] for j in range(size)] for i in range(size)]


def triangle(whole: list[list[float]]) -> Rows:
    """The lower triangle, as it is kept: six digits are plenty and small to write down."""
    return tuple(tuple(map(float, ("%.6g " * i % tuple(row[:i])).split())) for i, row in enumerate(whole, 1))


def moved(heat: Heat, celsius: list[float], outside: Outside, hours: float) -> list[float]:
    """Node temperatures [degC] so much later, by the likeliest parameters alone."""
    if hours <= 0.0:
        return celsius
    steps = _steps(hours)
    for _ in range(steps):
        celsius = advance(heat, celsius, outside, hours / steps)
    return celsius


def predict(belief: Belief, to_ms: int, outside: Outside, losses_drift: float = SHARED_DRIFT) -> Belief:
    """The belief at a later time, all that is told to the kiln having held since. losses_drift: see `QUICK_DRIFT`."""
    hours = (to_ms - belief.at_ms) / 3_600_000
    if hours <= 0.0:
        return belief
    mean, whole = belief.mean, square(belief.spread)
    steps = _steps(hours)
    for _ in range(steps):
        mean = _one_step(mean, whole, belief.rings, outside, hours / steps, losses_drift)
    return replace(belief, at_ms=to_ms, mean=mean, spread=triangle(whole))


def let_go(belief: Belief, bounds: Bounds = ()) -> Belief:
    """The belief as all heat goes off. bounds: of each parameter's logarithm, in their midst what kilns commonly are.

    Elements and hot face fall below the ware, and a probe between them falls by itself, which says nothing of how the
    kiln keeps its heat. And what heating made of the wall's pace is mostly disbelieved: ware that lags its air looks
    like a slow wall on the way up.
    """
    nodes, mean, whole = NODES * belief.rings, list(belief.mean), square(belief.spread)
    pace = nodes + PACE_PLACE
    own = whole[pace][pace]
    if bounds and own > 0.0:
        back = AFRESH * (sum(bounds[PACE_PLACE]) / 2.0 - mean[pace])
        wider = max(1.0, PACE_AFRESH / own**0.5)
        mean = [m + whole[i][pace] / own * back for i, m in enumerate(mean)]
        for i in range(len(mean)):
            whole[i][pace] *= wider
            whole[pace][i] *= wider
    for i in range(0, nodes, NODES):
        whole[i][i] += LET_GO_CELSIUS * LET_GO_CELSIUS
    return replace(belief, mean=_within(mean, nodes, bounds), spread=triangle(whole))


def _steps(hours: float) -> int:
    return min(max(1, round(hours / LONGEST_STEP_HOURS)), MOST_STEPS)


def _one_step(
    mean: tuple[float, ...], whole: list[list[float]], rings: int, outside: Outside, hours: float, losses_drift: float
) -> tuple[float, ...]:
    nodes, size = NODES * rings, len(mean)
    base, slopes = _slopes(mean, rings, outside, hours)
    # Parameters stay, so only the rows of the nodes are multiplied. Most of these slopes are 0, which add nothing: a
    # wall feels neither the other rings nor their elements within one step.
    felt, upper = [], []
    for row in slopes:
        places = [k for k, slope in enumerate(row) if slope]
        pick = itemgetter(*(places if len(places) > 1 else range(size)))
        own = pick(row)
        felt.append((pick, own))
        upper.append([sum(map(mul, own, pick(other))) for other in whole])
    for i in range(nodes):
        for j in range(i, nodes):
            pick, own = felt[j]
            whole[i][j] = whole[j][i] = sum(map(mul, pick(upper[i]), own))
        for j in range(nodes, size):
            whole[i][j] = whole[j][i] = upper[i][j]
    for i in range(size):
        if i < nodes:
            noise = WALL_NOISE if i % NODES else _ware_noise(mean[i], outside)
        else:
            noise = SHARED_DRIFT if i == nodes else losses_drift if i < nodes + SHARED else STRENGTH_DRIFT
        whole[i][i] += noise * noise * hours
    return (*base, *mean[nodes:])


def _slopes(
    mean: tuple[float, ...], rings: int, outside: Outside, hours: float
) -> tuple[list[float], list[list[float]]]:
    """Node temperatures after one step, and for each of them by how much it changes with every node and parameter.

    A ring's nodes and strength change its own column only, before the rings exchange heat: the others are as they were.
    """
    nodes = NODES * rings
    celsius, logs = list(mean[:nodes]), list(mean[nodes:])
    heat = heat_of(logs)
    alone, holds = columns(heat, celsius, outside, hours, range(rings))
    base = even_out(heat.exchange, alone, holds, hours)

    def with_own(nudged: Heat, ring: int) -> list[float]:
        own, held = columns(nudged, celsius, outside, hours, (ring,))
        nodes_after = alone[: NODES * ring] + own + alone[NODES * ring + NODES :]
        return even_out(nudged.exchange, nodes_after, holds[:ring] + held + holds[ring + 1 :], hours)

    slopes = []
    for k in range(nodes):
        celsius[k] += 0.1
        slopes.append([(b - a) * 10.0 for a, b in zip(base, with_own(heat, k // NODES), strict=True)])
        celsius[k] = mean[k]
    for k in range(len(logs)):
        logs[k] += NUDGE
        nudged = heat_of(logs)
        if k == EXCHANGE_PLACE:
            after = even_out(nudged.exchange, alone, holds, hours)
        elif k >= SHARED:
            after = with_own(nudged, k - SHARED)
        else:
            after = advance(nudged, celsius, outside, hours)
        slopes.append([(b - a) / NUDGE for a, b in zip(base, after, strict=True)])
        logs[k] = mean[nodes + k]
    return base, [list(row) for row in zip(*slopes, strict=True)]


def _ware_noise(celsius: float, outside: Outside) -> float:
    return DAMP_NOISE if is_drying(celsius, outside) else WARE_NOISE


def is_drying(celsius: float, outside: Outside) -> bool:
    """Whether water may be leaving the ware, or the clay its own."""
    return (outside.steam > 0.0 and celsius < STEAM_GONE_CELSIUS) or (outside.clay > 0.0 and 430.0 < celsius < 690.0)


def see(belief: Belief, ring: int, celsius: float, deviation: float, bounds: Bounds = ()) -> Belief:
    """The belief after a reading of this ring [degC]. bounds: between which each parameter's logarithm stays."""
    row, nodes = NODES * ring, NODES * belief.rings
    spread = belief.spread
    column = [*spread[row], *(one[row] for one in spread[row + 1 :])]
    column[row] = max(column[row], 0.0)
    off = celsius - belief.mean[row]
    noise = deviation * deviation
    square_wide = column[row] + noise
    far = abs(off) / square_wide**0.5
    if far > FAR:
        # Something else moved the ring: it is where its probe says, whatever the model had made of it. What is learned
        # of the kiln has to be known that much better too (Huber 1964): taught over and over by what it holds for as
        # unlikely as before, the belief would run away from the readings.
        column = [0.0] * len(column) if far > BEYOND else column
        column[row] = square_wide * (far / FAR if far <= BEYOND else far * far) - noise
        spread = _with_column(spread, row, column)
        square_wide = column[row] + noise
    gain = [c / square_wide for c in column]
    mean = [m + g * off for m, g in zip(belief.mean, gain, strict=True)]
    # Joseph's form with one measured state: (I - K H) P (I - K H)' + K R K'.
    lower = [
        [s - g * c_here - c * g_here + g * g_here * square_wide for s, g, c in zip(one, gain, column, strict=False)]
        for one, g_here, c_here in zip(spread, gain, column, strict=True)
    ]
    return replace(belief, mean=_within(mean, nodes, bounds), spread=triangle(lower))


def _with_column(spread: Rows, row: int, column: list[float]) -> Rows:
    """The same with these covariances of one state."""
    return tuple(
        tuple(column)[: row + 1] if i == row else (*one[:row], column[i], *one[row + 1 :]) if i > row else one
        for i, one in enumerate(spread)
    )


def _within(mean: list[float], nodes: int, bounds: Bounds) -> tuple[float, ...]:
    for i, (low, high) in enumerate(bounds, nodes):
        mean[i] = low if mean[i] < low else high if mean[i] > high else mean[i]
    return tuple(mean)
