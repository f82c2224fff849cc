"""From the record's minutes to a curve of the page: thinned, with what was lowest and highest kept."""

from collections.abc import Sequence
from functools import lru_cache

from spyhole.core.forms.plan_toml import followed
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.plan_band import Between
from spyhole.core.plan_band import band as band_of
from spyhole.core.plans_course import expect, teacher_of
from spyhole.core.refusal import Refusal
from spyhole.services.archive import CurvePoint
from spyhole.services.desk import Band, Curve, CurveMark

STEP_CELSIUS = 3.0
"""A point whose ring moved by more than this is drawn as two: its lowest and its highest."""

CRISTOBALITE_CELSIUS = 223.0
"""Alpha to beta: 220 by Dodd and Murfin, Dictionary of Ceramics, 3rd ed. 1994; 226 is quoted too, from memory."""


def draw(firing: int, kiln: Kiln, points: Sequence[CurvePoint], marks: list[CurveMark]) -> Curve:
    """The curve of a firing; one instant a point, two where a ring moved a good deal within it.

    To a tenth of a degree: finer than any screen or probe, and a third of the size.
    """
    curve = Curve(firing, [], {kiln.rings[i].name: [] for i in kiln.probe_rings}, [], marks)
    names = [ring.name for ring in kiln.rings]
    drawn = [(index, curve.rings[name]) for index, name in enumerate(names) if name in curve.rings]
    for number, point in enumerate(points):
        moved = False
        for ring in point.rings:  # not any(): a page waits for this, and it is a third of it
            if ring is not None and ring.highest_celsius - ring.lowest_celsius > STEP_CELSIUS:
                moved = True
        if not moved:
            curve.utc_ms.append(point.utc_ms)
            curve.ceiling.append(None if point.ceiling_celsius is None else round(point.ceiling_celsius, 1))
            for index, column in drawn:
                ring = point.rings[index] if index < len(point.rings) else None
                column.append(None if ring is None else round(ring.mean_celsius, 1))
            continue
        apart_ms = points[number + 1].utc_ms - point.utc_ms if number + 1 < len(points) else 60_000
        for half in (0, 1) if apart_ms > 1 else (0,):
            curve.utc_ms.append(point.utc_ms + half * max(1, min(apart_ms, 600_000) // 2))
            curve.ceiling.append(None if point.ceiling_celsius is None else round(point.ceiling_celsius, 1))
            for index, column in drawn:
                ring = point.rings[index] if index < len(point.rings) else None
                if ring is None:
                    column.append(None)
                else:
                    low_first = ring.mean_celsius >= _mean_before(points, number, index, ring.mean_celsius)
                    first = low_first == (half == 0)
                    column.append(round(ring.lowest_celsius if first else ring.highest_celsius, 1))
    return curve


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


def _mean_before(points: Sequence[CurvePoint], number: int, ring: int, otherwise: float) -> float:
    before = points[number - 1].rings[ring] if number else None
    return otherwise if before is None else before.mean_celsius
