"""What a kiln's own trips teach of its shut-off: how late it is, what the trigger's gap does to it, and the tube's age.

    late = bias + gap effect * (gap - usual gap) + age effect * firings of the tube + chance

A normal belief of the three coefficients and a normal trip (Bayes, one trip at a time), so few trips move it little,
and none says more of gap or age than they did differ. It is kept by the probe that decides, as that reads without what
cones taught of it: an offset that is learned later then moves no trip. A trip far from what was expected, by a knock, a
timer or a cone of another name, moves nothing; three of them on end, on one side, are a shut-off that has changed.
"""

from dataclasses import replace
from math import hypot, sqrt

from spyhole.core.cones.kinetics import LOT_CELSIUS
from spyhole.core.cones.shutoff import TRIP_CELSIUS
from spyhole.core.learned import Belief, ShutoffHabit

GAP_CELSIUS = 4.0
"""What a millimetre of gap may do either way, before any is known (common practice, no source)."""
UNMEASURED_MILLIMETRES = 0.5
"""How far a gap that nobody measured is from the usual one (common practice, no source)."""
AGE_CELSIUS = 0.1
"""What a firing does to a sensing tube and its spring, before any is known: ten in a hundred (common practice, no
source)."""
DOUBTED_DEVIATIONS = 3.0
"""A trip further than this from what was expected is not believed."""
CHANGED_AFTER = 3
"""So many of them on end, all too late or all too soon, are believed: the bias begins anew (chosen)."""
SCATTER_CELSIUS = hypot(TRIP_CELSIUS, LOT_CELSIUS / 2.0)
BIAS, GAP, AGE = range(3)


def begun(bias: Belief, trips: int = 0) -> ShutoffHabit:
    """Before any trip; or where an earlier version kept nothing but the bias of some."""
    spread = _triangle([[bias.deviation**2, 0.0, 0.0], [0.0, GAP_CELSIUS**2, 0.0], [0.0, 0.0, AGE_CELSIUS**2]])
    return ShutoffHabit((bias.value, 0.0, 0.0), spread, trips=trips)


def expected(habit: ShutoffHabit, gap_millimetres: float | None = None) -> Belief:
    """How late its next trip is by the probe as it reads [degC], but for what each trip strays by itself."""
    along, wide = _along(habit, gap_millimetres)
    spread = _square(habit.spread)
    value = sum(a * m for a, m in zip(along, habit.mean, strict=True))
    variance = sum(a * b * spread[i][j] for i, a in enumerate(along) for j, b in enumerate(along))
    return Belief(value, sqrt(max(variance, 0.0) + wide))


def learned_from(
    habit: ShutoffHabit, late_celsius: float, gap_millimetres: float | None, anew: Belief
) -> tuple[ShutoffHabit, bool]:
    """The habit after one more trip, and whether that was not believed.

    late_celsius: as `expected` has it. anew: the bias of a shut-off nobody has seen trip, for one that has changed.
    """
    before = expected(habit, gap_millimetres)
    off = late_celsius - before.value
    if abs(off) > DOUBTED_DEVIATIONS * hypot(before.deviation, SCATTER_CELSIUS):
        way = 1 if off > 0.0 else -1
        strays = habit.strays + way if habit.strays * way >= 0 else way
        if abs(strays) < CHANGED_AFTER:
            return replace(habit, strays=strays), True
        habit = replace(with_bias(habit, anew), trips=0)
    if habit.gap_millimetres is None:
        habit = replace(habit, gap_millimetres=gap_millimetres)
    along, wide = _along(habit, gap_millimetres)
    spread = _square(habit.spread)
    towards = [sum(spread[i][j] * along[j] for j in range(3)) for i in range(3)]
    variance = sum(a * t for a, t in zip(along, towards, strict=True)) + wide + SCATTER_CELSIUS**2
    missed = late_celsius - sum(a * m for a, m in zip(along, habit.mean, strict=True))
    bias, gap, age = (round(m + t / variance * missed, 5) for m, t in zip(habit.mean, towards, strict=True))
    left = [[spread[i][j] - towards[i] * towards[j] / variance for j in range(3)] for i in range(3)]
    return replace(habit, mean=(bias, gap, age), spread=_triangle(left), trips=habit.trips + 1, strays=0), False


def older(habit: ShutoffHabit) -> ShutoffHabit:
    """After one more firing of the tube, whatever ended it."""
    return replace(habit, age=habit.age + 1)


def with_bias(habit: ShutoffHabit, anew: Belief) -> ShutoffHabit:
    """With another bias at its age of now; what is known of gap and age stays."""
    spread, age = _square(habit.spread), float(habit.age)
    for other in (GAP, AGE):
        spread[BIAS][other] = spread[other][BIAS] = -age * spread[AGE][other]
    spread[BIAS][BIAS] = anew.deviation**2 + age * age * spread[AGE][AGE]
    return replace(habit, mean=(anew.value - age * habit.mean[AGE], *habit.mean[1:]), spread=_triangle(spread))


def with_new_tube(habit: ShutoffHabit, anew: Belief) -> ShutoffHabit:
    """Another sensing tube: how late it is has to be seen anew; what gap and age do, less so. anew: the bias."""
    return replace(with_bias(replace(habit, age=0), anew), trips=0, strays=0)


def with_new_probe(habit: ShutoffHabit, known: Belief, fresh: Belief) -> ShutoffHabit:
    """Another probe decides: trips were seen by the one before. known, fresh: what each has to have added [degC]."""
    spread = _square(habit.spread)
    spread[BIAS][BIAS] += known.deviation**2 + fresh.deviation**2
    bias, gap, age = habit.mean
    return replace(habit, mean=(bias + known.value - fresh.value, gap, age), spread=_triangle(spread))


def effect(habit: ShutoffHabit, which: int) -> Belief:
    """One coefficient by itself: `BIAS` [degC], `GAP` [degC a mm], `AGE` [degC a firing]."""
    return Belief(habit.mean[which], sqrt(max(_square(habit.spread)[which][which], 0.0)))


def _along(habit: ShutoffHabit, gap_millimetres: float | None) -> tuple[tuple[float, float, float], float]:
    """What the coefficients are taken times, and what a gap that nobody measured leaves open [degC squared]."""
    usual = habit.gap_millimetres
    if usual is None:  # where nobody ever measured, what gaps do is part of how trips stray
        return (1.0, 0.0, float(habit.age)), 0.0
    if gap_millimetres is not None:
        return (1.0, gap_millimetres - usual, float(habit.age)), 0.0
    slope = effect(habit, GAP)
    return (1.0, 0.0, float(habit.age)), UNMEASURED_MILLIMETRES**2 * (slope.value**2 + slope.deviation**2)


def _triangle(whole: list[list[float]]) -> tuple[float, ...]:
    return tuple(round(whole[i][j], 7) for i in range(3) for j in range(i + 1))


def _square(triangle: tuple[float, ...]) -> list[list[float]]:
    place = {(i, j): n for n, (i, j) in enumerate((i, j) for i in range(3) for j in range(i + 1))}
    return [[triangle[place[max(i, j), min(i, j)]] for j in range(3)] for i in range(3)]
