"""What a kiln's elements lose over its firings, ring by ring, told apart from what all rings share.

In a firing every ring is as strong as its elements are, times what mains and load make of all of them alike. So

    strength[ring, firing] = level[ring] + drift[ring] * firing + step[ring, from a firing on] + all[firing] + error

in logarithms, where `all` is a chance of its own in each firing (load, mains) and wide, and `error` is narrow. One ring
that falls behind is seen soon; all of them falling alike is seen only over many firings, and its interval says so.
It is one generalised least squares. New elements begin a level and a drift anew, a new probe a level alone. Steps, a
strand that went or a contact that burns, are looked for and kept where they are beyond chance.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, inf, log, sqrt

from spyhole.core.care import Care
from spyhole.core.cones.doubt import EIGHTY_PERCENT
from spyhole.core.learned import Belief
from spyhole.core.least_squares import Fit, Sums
from spyhole.core.measured import Measured

APART_DEVIATION = 0.014
"""How far a ring's strength against the others strays from firing to firing, load and place of the ware differing:
measured on kilns of the proving ground (`tests/proving/elements.py`)."""
WHOLE_DEVIATION = 0.08
"""The same of all rings together: it is mostly the load. Measured likewise."""
ALL_DEVIATION = sqrt(WHOLE_DEVIATION**2 + APART_DEVIATION**2 / 3.0)
WORTH = 20.0
"""As many observations as those two are worth against what this kiln shows itself (chosen)."""
DRIFT = 0.0008
"""How fast elements may lose strength, a firing, before any is known: a tenth in 120 (common practice, no source)."""
DUE = log(1.10)
"""Elements are due near a tenth more resistance, which is so much less power (common practice, no source; Ohm)."""
NEWEST = 320
"""Firings that are looked at: some two years of three a week."""
LEAST_BEFORE = 3
LEAST_AFTER = 3
STEPS = 4
STEP_SURE = 5.5
"""Deviations beyond which a step is no chance, among all the places where it is looked for (chosen)."""
LEAST_STEP = 0.04
TRIED = 8
HALF_WAY = 0.6
"""A step that not so many of the firings since show at least half of is one odd firing among them."""
DUE_SURE = 3.3
UNUSUAL = 2.5
FURTHEST = 2000
"""Firings beyond which nobody plans."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What one firing said, and when it was."""

    utc_ms: int
    measured: Measured


@dataclass(frozen=True, slots=True)
class Mended:
    """A maintenance entry. ring: None for all of them."""

    utc_ms: int
    ring: int | None
    what: Care


@dataclass(frozen=True, slots=True)
class Step:
    """From one firing to the next a ring was another. change: of ln strength, below 0 weaker. firing: the first so."""

    ring: int
    firing: int
    utc_ms: int
    change: Belief


@dataclass(frozen=True, slots=True)
class Due:
    """Firings until the elements are due, between low and high eight times in ten; None: out of sight."""

    low: int | None
    about: int | None
    high: int | None


@dataclass(frozen=True, slots=True)
class Trend:
    """One ring since its elements were new (new_utc_ms, None where the book does not say: then since its first firing).

    firings: so many in it. lost: ln of strength, above 0 weaker. each: lost a firing. seen: (utc_ms, ln of strength
    against the beginning, what all rings share taken off), oldest first. due: None where too little is known.
    """

    ring: int
    new_utc_ms: int | None
    firings: int
    lost: Belief
    each: Belief
    due: Due | None
    steps: tuple[Step, ...]
    seen: tuple[tuple[int, float], ...]

    @property
    def weak(self) -> bool:
        """Whether it is beyond chance that a good part of a tenth is gone."""
        surely = self.lost.value - DUE_SURE * self.lost.deviation
        return (self.lost.value >= 0.9 * DUE and surely >= DUE / 2) or any(s.change.value < 0 for s in self.steps)


@dataclass(frozen=True, slots=True)
class Ageing:
    """rings: those that have a probe, from the bottom up. alone: one probe cannot tell a ring from the whole kiln.

    together: how far all rings stood from their usual in the last firing, where that was unusual: mains, or the load.
    """

    rings: tuple[Trend, ...]
    together: Belief | None
    alone: bool


def percent_lost(lost: float) -> float:
    """Of power, from a loss in logarithms.

    >>> round(percent_lost(DUE), 1)
    9.1
    """
    return 100.0 * (1.0 - exp(-lost))


def judge(seen: Sequence[Seen], mended: Sequence[Mended]) -> Ageing | None:
    """What these firings, oldest first, say together; None before the third."""
    kept = tuple(seen)[-NEWEST:]
    if len(kept) < LEAST_BEFORE:
        return None
    design = _Design(kept, mended)
    if not design.rings:
        return None
    found = design.answer()
    while len(found.steps) < STEPS:
        tried = (design.answer((*found.steps, one)) for one in design.candidates(found)[:TRIED])
        better = next((with_it for with_it in tried if design.lasts(with_it, with_it.steps[-1])), None)
        if better is None:
            break
        found = better
    return design.say(found)


@dataclass(frozen=True, slots=True)
class _Answer:
    """One fit. rows: of each firing, each ring's entries of the design. steps: those that are in it, by its answer."""

    fit: Fit
    rows: list[dict[int, list[tuple[int, float]]]]
    steps: tuple[Step, ...]


class _Design:
    """Columns: each ring's levels and drifts, a level a probe and a drift a life; then one a step."""

    def __init__(self, seen: tuple[Seen, ...], mended: Sequence[Mended]) -> None:
        self.seen, self.last = seen, len(seen) - 1
        self.rings = [
            ring for ring in range(len(seen[0].measured.apart)) if any(_at(one, ring) is not None for one in seen)
        ]
        self.place_of = {one.measured.firing: place for place, one in enumerate(seen)}
        self.columns = 0
        self.drifts: set[int] = set()
        self.levels: dict[int, list[int]] = {}
        self.drift: dict[int, list[int]] = {}
        self.life: dict[int, list[int]] = {}
        self.born: dict[int, int | None] = {}
        for ring in self.rings:
            self._lives(ring, sorted((m for m in mended if m.ring in (None, ring)), key=lambda m: m.utc_ms))
        self.observed = [self._contrasts(one) for one in seen]
        self.free = sum(map(len, self.observed)) - self.columns

    def _lives(self, ring: int, mended: Sequence[Mended]) -> None:
        """Which level and drift each firing has, and where its life began."""
        self.born[ring], life = None, 0
        level, drift = self._column(), self._column(drift=True)
        levels, drifts, lives = self.levels.setdefault(ring, []), self.drift.setdefault(ring, []), []
        before = -inf
        for place, one in enumerate(self.seen):
            since = {m.what for m in mended if before < m.utc_ms <= one.utc_ms}
            if Care.ELEMENTS in since:
                self.born[ring] = max(m.utc_ms for m in mended if m.what is Care.ELEMENTS and m.utc_ms <= one.utc_ms)
                life = place
                drift = self._column(drift=True) if place else drift
            if place and since & {Care.ELEMENTS, Care.PROBE}:
                level = self._column()
            levels.append(level)
            drifts.append(drift)
            lives.append(life)
            before = one.utc_ms
        self.life[ring] = lives

    def _column(self, *, drift: bool = False) -> int:
        self.columns += 1
        if drift:
            self.drifts.add(self.columns - 1)
        return self.columns - 1

    def _contrasts(self, one: Seen) -> list[tuple[dict[int, float], float]]:
        """Weights of the rings, each over its deviation, and what they sum up to: contrasts, then the mean of all."""
        there = [(ring, value) for ring in self.rings if (value := _at(one, ring)) is not None]
        found: list[tuple[dict[int, float], float]] = []
        for n in range(1, len(there)):  # Helmert's contrasts: each ring against those before it
            size = sqrt(n * (n + 1.0)) * APART_DEVIATION
            weights = {ring: 1.0 / size for ring, _ in there[:n]} | {there[n][0]: -n / size}
            found.append((weights, sum(weights[ring] * value for ring, value in there[: n + 1])))
        if there:
            size = len(there) * ALL_DEVIATION
            whole = one.measured.whole.value * len(there) + sum(value for _, value in there)
            found.append((dict.fromkeys((ring for ring, _ in there), 1.0 / size), whole / size))
        return found

    def _row(self, ring: int, place: int, steps: tuple[Step, ...]) -> list[tuple[int, float]]:
        drift = self.drift[ring][place]
        row = [(self.levels[ring][place], 1.0), (drift, float(place - self.life[ring][place]))]
        for n, step in enumerate(steps):
            first = self.place_of[step.firing]
            if step.ring == ring and place >= first and drift == self.drift[ring][first]:
                row.append((self.columns + n, 1.0))
        return row

    def answer(self, steps: tuple[Step, ...] = ()) -> _Answer:
        """The answer with these steps in it."""
        sums = Sums(self.columns + len(steps))
        rows = [{ring: self._row(ring, place, steps) for ring in self.rings} for place in range(len(self.seen))]
        for row, observed in zip(rows, self.observed, strict=True):
            for weights, value in observed:
                sums.add(list(_entries(weights, row).items()), value)
        for column in self.drifts:
            sums.add(((column, 1.0 / DRIFT),), 0.0)
        for column in range(self.columns):  # a level that no probe saw stands on this alone
            sums.add(((column, 1e-4),), 0.0)
        fit = sums.solve()
        size = self.columns + len(steps)
        by_it = tuple(
            replace(step, change=self._scaled(fit, fit.of(_only({self.columns + n: 1.0}, size))))
            for n, step in enumerate(steps)
        )
        return _Answer(fit, rows, by_it)

    def _scaled(self, fit: Fit, found: tuple[float, float], explained: float = 0.0) -> Belief:
        """Its deviation by what this kiln's firings show themselves, as far as there are enough of them."""
        left = max(fit.left - explained, 0.0)
        return Belief(found[0], found[1] * sqrt((WORTH + left) / (WORTH + max(self.free, 0))))

    def candidates(self, now: _Answer) -> list[Step]:
        """Steps beyond chance that are not in it yet, the surest first. Columns are summed up from the newest back."""
        found: list[tuple[float, Step]] = []
        fit, size = now.fit, self.columns + len(now.steps)
        for ring in self.rings:
            against, own, cross, after = [0.0] * size, 0.0, 0.0, 0
            for place in range(self.last, 0, -1):
                if place - self.life[ring][place] < LEAST_BEFORE:
                    against, own, cross, after = [0.0] * size, 0.0, 0.0, 0
                    continue
                for weights, value in self.observed[place]:
                    mine = weights.get(ring, 0.0)
                    for column, entry in _entries(weights, now.rows[place]).items():
                        against[column] += mine * entry
                    own += mine * mine
                    cross += mine * value
                after += _at(self.seen[place], ring) is not None
                change, unit = fit.with_column(against, own, cross)
                if after < LEAST_AFTER or unit == 0.0 or abs(change) < LEAST_STEP:
                    continue
                # What is left over once the step is in it: a step must not hide itself in the scatter it makes.
                believed = self._scaled(fit, (change, unit), (change / unit) ** 2)
                if abs(change) >= STEP_SURE * believed.deviation:
                    one = self.seen[place]
                    step = Step(ring, one.measured.firing, one.utc_ms, believed)
                    found.append((abs(change) / believed.deviation, step))
        return [step for _, step in sorted(found, key=lambda each: -each[0])]

    def lasts(self, found: _Answer, step: Step) -> bool:
        """Whether most firings since show at least half of it, this answer having it: else a few odd ones made it."""
        half = 0.5 * step.change.value * (1.0 - 1.0 / len(self.rings))  # a ring moves the mean of all by its share
        first = self.place_of[step.firing]
        life = self.drift[step.ring][first]
        since = [place for place in range(first, len(self.seen)) if self.drift[step.ring][place] == life]
        left = [each for place in since if (each := self._left(found, step.ring, place)) is not None]
        shown = sum(half == 0.0 or each / half >= -1.0 for each in left)
        return shown >= max(LEAST_AFTER, HALF_WAY * len(left))

    def _left(self, found: _Answer, ring: int, place: int) -> float | None:
        """How far a ring was from what was expected of it, what all rings shared taken off."""
        one, value = self.seen[place], _at(self.seen[place], ring)
        if value is None:
            return None
        return value + one.measured.whole.value - self._shared(found, place) - self._expected(found, ring, place)

    def say(self, found: _Answer) -> Ageing:
        """What is to be said of it."""
        shared = self._shared(found, self.last)
        together = Belief(shared, ALL_DEVIATION) if abs(shared) > UNUSUAL * ALL_DEVIATION else None
        return Ageing(tuple(self._trend(ring, found) for ring in self.rings), together, len(self.rings) == 1)

    def _shared(self, found: _Answer, place: int) -> float:
        """What all rings shared in a firing, against what was expected of them."""
        one = self.seen[place]
        there = [(ring, value) for ring in self.rings if (value := _at(one, ring)) is not None]
        if not there:
            return 0.0
        off = sum(value - self._expected(found, ring, place) for ring, value in there)
        return one.measured.whole.value + off / len(there)

    def _expected(self, found: _Answer, ring: int, place: int) -> float:
        return sum(found.fit.answer[column] * entry for column, entry in found.rows[place][ring])

    def _trend(self, ring: int, found: _Answer) -> Trend:
        fit, steps = found.fit, found.steps
        begun, size, drift = self.life[ring][self.last], self.columns + len(steps), self.drift[ring][self.last]
        mine = {n: s for n, s in enumerate(steps) if s.ring == ring and self.place_of[s.firing] >= begun}
        gone = {self.columns + n: -1.0 for n in mine}
        lost = self._scaled(fit, fit.of(_only({drift: -float(self.last - begun), **gone}, size)))
        each = self._scaled(fit, fit.of(_only({drift: -1.0}, size)))
        course = []
        for place in range(begun, len(self.seen)):
            value = _at(self.seen[place], ring)
            if value is not None:
                own = value + self.seen[place].measured.whole.value - self._shared(found, place)
                course.append((self.seen[place].utc_ms, own - fit.answer[self.levels[ring][place]]))
        return Trend(
            ring=ring,
            new_utc_ms=self.born[ring],
            firings=self.last - begun + 1,
            lost=lost,
            each=each,
            due=due_of(lost, each) if self.last - begun >= LEAST_BEFORE else None,
            steps=tuple(mine.values()),
            seen=tuple(course),
        )


def _entries(weights: dict[int, float], rows: dict[int, list[tuple[int, float]]]) -> dict[int, float]:
    """A weighted sum of the rings' rows of the design."""
    entries: dict[int, float] = {}
    for ring, weight in weights.items():
        for column, entry in rows[ring]:
            entries[column] = entries.get(column, 0.0) + weight * entry
    return entries


def _only(weights: dict[int, float], size: int) -> list[float]:
    return [weights.get(column, 0.0) for column in range(size)]


def due_of(lost: Belief, each: Belief) -> Due:
    """Firings until a tenth more resistance, from what is lost and what goes a firing."""

    def firings(rate: float) -> int | None:
        left = DUE - lost.value
        if left <= 0.0:
            return 0
        return None if rate * FURTHEST < left else round(left / rate)

    off = EIGHTY_PERCENT * each.deviation
    return Due(firings(each.value + off), firings(each.value), firings(each.value - off))


def _at(one: Seen, ring: int) -> float | None:
    apart = one.measured.apart
    found = apart[ring] if ring < len(apart) else None
    return None if found is None else found.value
