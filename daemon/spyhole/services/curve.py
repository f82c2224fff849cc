"""From the record's minutes to a curve of the page: thinned, with what was lowest and highest kept."""

from functools import lru_cache
from typing import TypeVar

from spyhole.core.forms.plan_toml import followed
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.plan_band import Between
from spyhole.core.plan_band import band as band_of
from spyhole.core.plans_course import expect, teacher_of
from spyhole.core.refusal import Refusal
from spyhole.services.archive import Course, RingCourse
from spyhole.services.desk import Band, Curve, CurveMark

T = TypeVar("T")

STEP_CELSIUS = 3.0
"""A point whose ring moved by more than this is drawn as two: its lowest and its highest."""

CRISTOBALITE_CELSIUS = 223.0
"""Alpha to beta: 220 by Dodd and Murfin, Dictionary of Ceramics, 3rd ed. 1994; 226 is quoted too, from memory."""


def draw(firing: int, kiln: Kiln, course: Course, marks: list[CurveMark]) -> Curve:
    """The curve of a firing; one instant a point, two where a ring moved a good deal within it.

    To a tenth of a degree: finer than any screen or probe, and a third of the size.
    """
    utc_ms = course.utc_ms
    split = {at: _instants(utc_ms, at) for at in sorted(set().union(*(_moved(ring) for ring in course.rings)))}
    ceiling = _tenths(course.ceiling_celsius)
    drawn: dict[str, list[float | None]] = {}
    for index in kiln.probe_rings:
        if index < len(course.rings):
            ring = course.rings[index]
            ends = {at: _ends(ring, at)[: len(instants)] for at, instants in split.items()}
            drawn[kiln.rings[index].name] = _with(_tenths(ring.mean_celsius), ends)
        else:
            drawn[kiln.rings[index].name] = [None] * (len(utc_ms) + sum(len(each) - 1 for each in split.values()))
    ceilings = {at: [ceiling[at]] * len(instants) for at, instants in split.items()}
    return Curve(firing, _with(utc_ms, split), drawn, _with(ceiling, ceilings), marks)


def _moved(ring: RingCourse) -> set[int]:
    """Which points the ring moved a good deal in."""
    spans = enumerate(zip(ring.lowest_celsius, ring.highest_celsius, strict=True))
    return {at for at, (low, high) in spans if low is not None and high is not None and high - low > STEP_CELSIUS}


def _instants(utc_ms: list[int], at: int) -> list[int]:
    """A point's own instant and one half-way to the next; its own alone where there is no room."""
    apart_ms = utc_ms[at + 1] - utc_ms[at] if at + 1 < len(utc_ms) else 60_000
    half_ms = max(1, min(apart_ms, 600_000) // 2)
    return [utc_ms[at], utc_ms[at] + half_ms] if apart_ms > 1 else [utc_ms[at]]


def _ends(ring: RingCourse, at: int) -> list[float | None]:
    """Its lowest and its highest, in the order in which they came, as far as the mean before tells."""
    mean = ring.mean_celsius[at]
    if mean is None:
        return [None, None]
    before = ring.mean_celsius[at - 1] if at else None
    ends = _tenths([ring.lowest_celsius[at], ring.highest_celsius[at]])
    return ends if before is None or mean >= before else ends[::-1]


def _tenths(column: list[float | None]) -> list[float | None]:
    return [None if celsius is None else round(celsius, 1) for celsius in column]


def _with(column: list[T], split: dict[int, list[T]]) -> list[T]:
    """The column with these in the place of what stands there."""
    out: list[T] = []
    done = 0
    for at, values in split.items():
        out += column[done:at]
        out += values
        done = at + 1
    return out + column[done:]


def band(kiln_toml: str, plan_toml: str, started_utc_ms: int) -> Band | None:
    """What the plan of a firing wants, from the texts it followed; None where they cannot be read any more."""
    points = _expected(kiln_toml, plan_toml)
    if not points:
        return None
    return Band(
        [started_utc_ms + round(point.hours * 3_600_000) for point in points],
        [round(point.low_celsius) for point in points],
        [round(point.high_celsius) for point in points],
    )


def has_cristobalite(kiln_toml: str, plan_toml: str) -> bool:
    """Whether the plan of a firing cools slower where cristobalite turns, as for a body that has it."""
    followed = _followed(kiln_toml, plan_toml)
    return followed is not None and followed[1].cooling.slows_at(CRISTOBALITE_CELSIUS)


@lru_cache(maxsize=4)
def _expected(kiln_toml: str, plan_toml: str) -> tuple[Between, ...]:
    followed = _followed(kiln_toml, plan_toml)
    if followed is None:
        return ()
    kiln, plan = followed
    return band_of(expect(kiln, plan, teacher_of((plan,))))


@lru_cache(maxsize=4)
def _followed(kiln_toml: str, plan_toml: str) -> tuple[Kiln, Plan] | None:
    try:
        return followed(kiln_toml, plan_toml)
    except Refusal:
        return None
