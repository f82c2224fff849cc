"""What explains best how rings part from a model that runs freely: a number that drifts, or a ring whose watts changed?

The model as it was runs on from there without a look at any probe. All that may part it from what is read and is no
trouble has a size and a shape: what was not known then, the mood of each ring and of the whole kiln, the watts that a
turn gives, a probe's own wandering with heat. Beside those, each suspect is laid over what is left,
from every minute on and in the size that suits it best; by how much the squared deviations fall is what speaks for it
(a generalised likelihood ratio; Willsky and Jones, IEEE Transactions on Automatic Control 21 (1976) 108, from memory).
Both kinds look at all probes together: a ring that gets less cools its neighbours, and a number cools nobody.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import mul

from spyhole.core.least_squares import Matrix, cholesky, forward
from spyhole.core.thermal.belief import is_drying, moved
from spyhole.core.thermal.departure import Past
from spyhole.core.thermal.model import Told, held
from spyhole.core.thermal.physics import NODES, Heat, heat_of

HOUR_MS = 3_600_000
MOOD_SHARE, SHARED_MOOD_SHARE = 0.01, 0.09
"""How much heat a ring, and the whole kiln, asks for or gives of itself for a while, as a share of full watts (chosen:
the latter says nothing of any one probe)."""
DAMP_TIMES, SHARED_DAMP_TIMES = 2.0, 3.0
"""How many times as far while the ware, or the clay, gives up water: nobody knows how much of it there is (chosen)."""
MOOD_STEPS = 4
"""Steps of the course for which a mood lasts."""
WANDERS_CELSIUS = 3.0
"""By how much a sound probe's number may wander off in an hour: as it gets hotter, it sees more of elements and less of
ware (chosen)."""
TURN_SHARE, SHARED_TURN_SHARE = 0.06, 0.3
"""What a switch gives beside what is believed, a ring's own and all rings' together (chosen)."""
READING_CELSIUS, READING_SHARE = 1.0, 0.001
"""How far a minute strays from its neighbours by itself [degC, of what is read] (chosen)."""
WARE_CELSIUS, WALL_CELSIUS, WATTS_SHARE, EXCHANGE_SHARE = 3.0, 9.0, 0.04, 0.3
UNSEEN_CELSIUS, UNSEEN_SHARE = 15.0, 0.1
"""How well the model knew each ring's ware, wall and watts as it began, and how rings share their heat; and of a ring
without a probe its ware and watts (chosen). What is the same for all rings is in the mood of the whole kiln."""
A_DEGREE, A_TENTH, A_FIFTH = 1.0, 0.1, 0.2
"""Steps by which the course's slopes are worked out: of a node, of the exchange, of a ring's watts."""
FINE_RINGS = 3
"""With more rings, changes of watts are looked for at every other step, for the time it takes."""

LEAST_SHARE = 0.1
"""Of its full watts, that a ring is taken to get where what it asks for is measured by them."""

Row = list[float]
Watts = dict[tuple[int, int], Row]


@dataclass(frozen=True, slots=True)
class Suspect:
    """place: which probe, or which ring. amount: degC an hour by which a number drifts, or the share of its watts that
    a ring has lost. since_ms: axis time. gain: by how much the sum of squared deviations falls with it [1]."""

    place: int
    amount: float
    since_ms: int
    gain: float


@dataclass(frozen=True, slots=True)
class Suspects:
    """The likeliest of each probe, and of each ring. square: mean squared deviations of what is read, without any of
    them [1]; readings: how many were looked at."""

    numbers: tuple[Suspect, ...]
    rings: tuple[Suspect, ...]
    square: float
    readings: int


@dataclass(frozen=True, slots=True)
class Course:
    """What the model was, and what was told and read since. times_ms: the first is the model's own; places: each
    probe's ring; read: degC, of each time but the first, probe by probe."""

    past: Past
    told: Told
    times_ms: tuple[int, ...]
    places: tuple[int, ...]
    read: tuple[tuple[float, ...], ...]

    @property
    def rings(self) -> int:
        """How many the kiln has."""
        return len(self.past.celsius) // NODES

    @property
    def heat(self) -> Heat:
        """The model's parameters."""
        return heat_of(self.past.logs)


def apart(course: Course) -> list[Row]:
    """What each probe reads beyond the model that runs freely [degC], time by time."""
    base = _run(course, course.heat, course.past.celsius)
    return [[r - b for r, b in zip(now, row, strict=True)] for now, row in zip(course.read, base, strict=True)]


def suspects(course: Course) -> Suspects | None:
    """The likeliest of each kind; None where the numbers do not allow to tell."""
    base = _run(course, course.heat, course.past.celsius)
    off = [r - b for now, row in zip(course.read, base, strict=True) for r, b in zip(now, row, strict=True)]
    watts = _watts(course, base)
    try:
        loose = cholesky(_covariance(course, base, watts))
        white = forward(loose, off)
    except (ValueError, ZeroDivisionError):
        return None
    numbers = []
    for probe in range(len(course.places)):
        shapes = {t: _drift(course, probe, t) for t in course.times_ms[:-1]}
        numbers.append(_likeliest(probe, shapes, loose, white))
    rings = []
    for ring in range(course.rings):
        shapes = {t: shape for (r, t), shape in watts.items() if r == ring}
        rings.append(_likeliest(ring, shapes, loose, white))
    return Suspects(tuple(numbers), tuple(rings), sum(x * x for x in white) / len(white), len(white))


def _likeliest(place: int, shapes: dict[int, Row], loose: Matrix, white: Row) -> Suspect:
    best = Suspect(place, 0.0, 0, 0.0)
    for since_ms, shape in shapes.items():
        own = forward(loose, shape)
        size = sum(x * x for x in own)
        with_it = sum(x * y for x, y in zip(own, white, strict=True))
        if size > 0.0 and with_it * with_it / size > best.gain:
            best = Suspect(place, with_it / size, since_ms, with_it * with_it / size)
    return best


def _path(course: Course, heat: Heat, celsius: Sequence[float], from_step: int = 0) -> list[Row]:
    """All nodes at that step, which these are, and at each time after [degC]."""
    at_ms, nodes = course.times_ms[from_step], list(celsius)
    found = [nodes]
    for until_ms in course.times_ms[from_step + 1 :]:
        for end_ms in (*(t for t, _ in course.told[1:] if at_ms < t < until_ms), until_ms):
            nodes = moved(heat, nodes, held(course.told, end_ms), (end_ms - at_ms) / HOUR_MS)
            at_ms = end_ms
        found.append(nodes)
    return found


def _run(course: Course, heat: Heat, celsius: Sequence[float], from_step: int = 0) -> list[Row]:
    """What the probes' rings do, at each time after that step [degC]."""
    return [[nodes[NODES * r] for r in course.places] for nodes in _path(course, heat, celsius, from_step)[1:]]


def _slope(course: Course, base: list[Row], after: list[Row], by: float) -> Row:
    """How far each reading goes with so much of something, a unit of it; nothing before it began."""
    nothing = [0.0] * (len(course.places) * (len(base) - len(after)))
    later = base[len(base) - len(after) :]
    moves = [(b - a) / by for was, row in zip(later, after, strict=True) for a, b in zip(was, row, strict=True)]
    return nothing + moves


def _watts(course: Course, base: list[Row]) -> Watts:
    """What a ring does from a time on with all its watts lost, as with a fifth of them: by ring and time [degC]."""
    heat, found = course.heat, {}
    path = _path(course, heat, course.past.celsius)
    each = 1 if course.rings <= FINE_RINGS else 2
    for ring in range(course.rings):
        less = tuple(s * (1.0 - A_FIFTH * (r == ring)) for r, s in enumerate(heat.strength))
        for step in range(0, len(base) - 1, each):
            after = _run(course, replace(heat, strength=less), path[step], step)
            found[ring, course.times_ms[step]] = _slope(course, base, after, A_FIFTH)
    return found


def _drift(course: Course, probe: int, since_ms: int) -> Row:
    """What a number that drifts by a degree an hour since then does [degC]."""
    hours = (max(0, t - since_ms) / HOUR_MS for t in course.times_ms[1:])
    return [h * (i == probe) for h in hours for i in range(len(course.places))]


def _covariance(course: Course, base: list[Row], watts: Watts) -> Matrix:
    """Of all that is read against a model that runs freely, where nothing is wrong [degC2]."""
    columns = [*_unknown(course, base, watts), *_moods(course, watts)]
    for probe in range(len(course.places)):
        columns.append([WANDERS_CELSIUS * x for x in _drift(course, probe, course.times_ms[0])])
    for turned_ms in (t for t, _ in course.told[1:] if course.times_ms[0] < t):
        near = max((t for _, t in watts if t <= turned_ms), default=course.times_ms[0])
        own = [watts[ring, near] for ring in range(course.rings)]
        columns += [[TURN_SHARE * x for x in one] for one in own]
        columns.append([SHARED_TURN_SHARE * sum(each) for each in zip(*own, strict=True)])
    rows = list(zip(*columns, strict=True))
    found: Matrix = [[0.0] * len(rows) for _ in rows]
    for i, row in enumerate(rows):
        for j in range(i + 1):
            found[i][j] = found[j][i] = sum(map(mul, row, rows[j]))
        celsius = course.read[i // len(course.places)][i % len(course.places)]
        found[i][i] += (READING_CELSIUS + READING_SHARE * abs(celsius)) ** 2
    return found


def _unknown(course: Course, base: list[Row], watts: Watts) -> list[Row]:
    """What was not known of each ring, and of how they share their heat."""
    found = []
    for ring in range(course.rings):
        seen = ring in course.places
        ware = WARE_CELSIUS if seen else UNSEEN_CELSIUS
        for off, nodes in ((ware, (0,)), (WALL_CELSIUS, range(1, NODES))):
            celsius = list(course.past.celsius)
            for node in nodes:
                celsius[NODES * ring + node] += A_DEGREE
            slope = _slope(course, base, _run(course, course.heat, celsius), A_DEGREE)
            found.append([off * x for x in slope])
        share = WATTS_SHARE if seen else UNSEEN_SHARE
        found.append([share * x for x in watts[ring, course.times_ms[0]]])
    shared = replace(course.heat, exchange=course.heat.exchange * (1.0 + A_TENTH))
    slope = _slope(course, base, _run(course, shared, course.past.celsius), A_TENTH)
    return [*found, [EXCHANGE_SHARE * x for x in slope]]


def _moods(course: Course, watts: Watts) -> list[Row]:
    """What each ring, and all of them, may do of themselves for some steps: as if watts were lost and came back."""
    found, steps, path = [], len(course.times_ms) - 2, _path(course, course.heat, course.past.celsius)
    for step in range(0, steps, MOOD_STEPS):
        begins, ends = (course.times_ms[i] for i in (step, min(step + MOOD_STEPS, steps)))
        outside = held(course.told, begins + 1)
        own = []
        for ring in range(course.rings):
            lost, back = watts[ring, begins], watts.get((ring, ends))
            once = lost if back is None else [a - b for a, b in zip(lost, back, strict=True)]
            own.append([x / max(outside.shares[ring], LEAST_SHARE) for x in once])
        each, together = MOOD_SHARE, SHARED_MOOD_SHARE
        if any(is_drying(celsius, outside) for celsius in path[step][::NODES]):
            each, together = DAMP_TIMES * each, SHARED_DAMP_TIMES * together
        found += [[each * x for x in one] for one in own]
        found.append([together * sum(rings) for rings in zip(*own, strict=True)])
    return found
