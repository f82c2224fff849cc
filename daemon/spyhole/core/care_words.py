"""What is said of elements, probes and shut-off over the years, in the studio's zone and unit."""

from datetime import datetime

from spyhole.core.ageing import Ageing, Mended, Step, Trend, percent_lost
from spyhole.core.care import FOUND
from spyhole.core.cones.doubt import EIGHTY_PERCENT
from spyhole.core.cones.tripping import AGE, GAP, effect
from spyhole.core.learned import Belief, Learned, ShutoffHabit
from spyhole.core.measured import Lesson, Tripped
from spyhole.core.witnesses import Drift
from spyhole.core.words import Manner

LOOK = (
    "With the kiln isolated at the wall, look at its elements and its switch; anything behind the panel is for a "
    "licensed electrician."
)
DRIFT_FIRST = (
    "First, with the kiln cold and isolated at the wall, see that it stands in its hole as it did and that its ends "
    "are tight, and set cones beside it in the next firing."
)
DAY_MS = 86_400_000
EXPLAINS_MS = (-21 * DAY_MS, 90 * DAY_MS)
"""What was found so long before a step, or after it when somebody has looked at last, explains it (chosen)."""


def day(utc_ms: int, manner: Manner) -> str:
    """`31 October 2031`."""
    moment = datetime.fromtimestamp(utc_ms / 1000, manner.zone)
    return f"{moment.day} {moment:%B %Y}"


def elements(name: str, trend: Trend, found: Ageing, mended: tuple[Mended, ...], manner: Manner) -> str:
    """One ring: what it lost, what that may be, and when its elements are due. name: of the ring."""
    said = [_step(name, step, mended, manner) for step in trend.steps]
    if not said:
        low, high = between(trend)
        if trend.weak:
            said.append(f"The {name} ring is about {low:.0f} to {high:.0f} % weaker than it was. {LOOK}")
        elif high < 1.0 and low > -10.0:
            said.append(f"The {name} ring is as strong as it was.")
        else:
            amount = f"up to {high:.0f}" if low < 0.5 else f"{low:.0f} to {high:.0f}"
            said.append(f"The {name} ring may have lost {amount} % so far.")
    if any(step.change.value < 0.0 for step in trend.steps):
        return " ".join(said)  # when it is due by its age matters less than what went
    said.append(_due(trend, found))
    if trend.new_utc_ms is None:
        said.append("Counted from the first firing seen; how worn they were then nobody wrote down.")
    return " ".join(each for each in said if each)


def between(trend: Trend) -> tuple[float, float]:
    """Percent of power lost, low and high at 80 %."""
    off = EIGHTY_PERCENT * trend.lost.deviation
    return percent_lost(trend.lost.value - off), percent_lost(trend.lost.value + off)


def _step(name: str, step: Step, mended: tuple[Mended, ...], manner: Manner) -> str:
    percent = abs(percent_lost(-step.change.value))
    since = f"since the firing of {day(step.utc_ms, manner)}"
    if step.change.value > 0.0:
        return (
            f"The {name} ring is about {percent:.0f} % stronger {since}. If its elements or its probe were renewed, "
            "write it down, so that its trend begins anew."
        )
    why = [
        m
        for m in mended
        if m.ring in (None, step.ring) and m.what in FOUND and EXPLAINS_MS[0] < m.utc_ms - step.utc_ms < EXPLAINS_MS[1]
    ]
    if why:
        return f"The {name} ring is about {percent:.0f} % weaker {since}; {_found(why)}. {LOOK}"
    return (
        f"The {name} ring is about {percent:.0f} % weaker {since}, and the others are not: a strand may have gone, or "
        f"a contact burns. {LOOK}"
    )


def _found(why: list[Mended]) -> str:
    return f"written down near then: {why[-1].what}"


def _due(trend: Trend, found: Ageing) -> str:
    if trend.due is None:
        return "Too few firings yet to say when its elements are due."
    low, about, high = trend.due.low, trend.due.about, trend.due.high
    if low == 0 and about == 0:
        return "Its elements are due by common practice: near a tenth more resistance."
    least = "many" if low is None else f"{low}"
    if about is None or high is None:
        alone = " One probe cannot tell it from mains and load." if found.alone else ""
        return f"Its elements are not due within {least} firings, as far as can be told.{alone}"
    return f"Its elements are due in about {about} firings, between {least} and {high} (near a tenth more resistance)."


def together(shared: Belief) -> str:
    """All rings at once in the last firing."""
    percent = percent_lost(-shared.value)
    way = "weaker" if percent > 0 else "stronger"
    cause = "the mains sagging, or a heavier load" if percent > 0 else "a light load, or higher mains"
    return f"In the last firing all rings together were about {abs(percent):.0f} % {way} than usual: {cause}."


def one_open(names: list[str]) -> str:
    """Rings that gave nothing on low and half on high in the last firing."""
    if not names:
        return ""
    said = [f"{name.capitalize()} ring: nothing on low and about half on high in the last firing." for name in names]
    return f"{' '.join(said)} Of two elements one is open, as far as the curve can tell. {LOOK}"


def probe(name: str, offset: Belief | None, drift: Drift, manner: Manner) -> str:
    """One probe, by its cones."""
    if drift.drifts:
        return drifts(name, drift, manner)
    if offset is None:
        return f"No cone has spoken of the {name} probe yet: it may be off by what its class allows."
    way = "low" if offset.value > 0 else "high"
    sure = manner.difference(EIGHTY_PERCENT * offset.deviation)
    firings = "one firing" if drift.firings == 1 else f"{drift.firings} firings"
    by = manner.difference(offset.value)
    return f"By cones of {firings} the {name} probe reads about {by} {way}, give or take {sure}."


def drifts(name: str, drift: Drift, manner: Manner) -> str:
    """A probe that drifts, and what to do first; "" for one that does not."""
    if not drift.drifts or drift.change is None:
        return ""
    way = "lower" if drift.change.value > 0 else "higher"
    by = manner.difference(drift.change.value)
    return (
        f"The {name} probe seems to drift: by its cones it reads about {by} {way} than it did. {DRIFT_FIRST} Go by the "
        "cones, and renew the probe; a new one begins from nothing."
    )


def shutoff(learned: Learned, manner: Manner) -> str:
    """The shut-off of this kiln: how late it is, and what gap and age do where that is beyond chance."""
    late, trips = learned.shutoff_late, learned.firings
    if late is None or trips == 0:
        return "No trip has taught anything of this shut-off yet."
    way = "later" if late.value > 0 else "sooner"
    seen = "one trip" if trips == 1 else f"{trips} trips"
    said = (
        f"By {seen} the shut-off drops about {manner.difference(late.value)} {way} than its cone's number, "
        f"give or take {manner.difference(EIGHTY_PERCENT * late.deviation)}."
    )
    return " ".join([said, *([] if learned.shutoff is None else _habit(learned.shutoff, manner))])


def _habit(habit: ShutoffHabit, manner: Manner) -> list[str]:
    """What is known of gap, age, and trips that were not believed."""
    said = []
    gap, age = effect(habit, GAP), effect(habit, AGE)
    if habit.gap_millimetres is not None and abs(gap.value) > EIGHTY_PERCENT * gap.deviation:
        way = "later" if gap.value > 0 else "sooner"
        usual = f"against the usual {habit.gap_millimetres:g} mm"
        said.append(f"A trigger gap wider by 1 mm makes it about {manner.difference(gap.value)} {way}, {usual}.")
    if abs(age.value) > EIGHTY_PERCENT * age.deviation:
        way = "later" if age.value > 0 else "sooner"
        said.append(
            f"Its tube comes to trip about {manner.difference(10.0 * age.value)} {way} each ten firings. With the kiln "
            "cold and isolated at the wall, look whether the rod moves freely and the tube is clean."
        )
    if habit.strays:
        way = "late" if habit.strays > 0 else "soon"
        last = "Its last trip was" if abs(habit.strays) == 1 else f"Its last {abs(habit.strays)} trips were"
        said.append(
            f"{last} far too {way} to be believed and taught nothing: look at rod, claw, gap and the cone's number "
            "before the next firing."
        )
    return said


def trip(one: Tripped, manner: Manner) -> str:
    """One trip of the shut-off, for a list."""
    way = "later" if one.late_celsius > 0 else "sooner"
    gap = "" if one.gap_millimetres is None else f", gap {one.gap_millimetres:g} mm"
    said = f"About {manner.difference(one.late_celsius)} {way} than its cone's number{gap}."
    return {
        Lesson.TAUGHT: said,
        Lesson.ASKEW: f"{said} Left out: its cone or rod did not sit right.",
        Lesson.DOUBTED: f"{said} Left out: too far from what was expected.",
    }[one.lesson]
