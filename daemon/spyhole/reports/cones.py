"""Pyrometric cones as thin slabs that lean 8 degrees and bend over: the picture a potter has in mind."""

from math import cos, radians, sin

from spyhole.reports.paper import Pen

UPRIGHT = 8.0
LEVEL = 90.0
PIECES = 14
FOOT_SHARE = 0.24
TIP_SHARE = 0.07


def slab(pen: Pen, x: float, y: float, length: float, bend_degrees: float, tone: str, edge: str | None = None) -> None:
    """One cone standing at (x, y), so long [mm]; its chord leans by the bend: at 90 the tip is level with the foot."""
    bend = min(max(bend_degrees, UPRIGHT), LEVEL)
    along = [(x, y)]
    lean = []
    for piece in range(PIECES):
        angle = radians(UPRIGHT + 2.0 * (bend - UPRIGHT) * (piece + 0.5) / PIECES)
        lean.append(angle)
        before = along[-1]
        along.append((before[0] + length / PIECES * sin(angle), before[1] - length / PIECES * cos(angle)))
    lean.append(lean[-1])
    left, right = [], []
    for number, ((px, py), angle) in enumerate(zip(along, lean, strict=True)):
        half = length * (FOOT_SHARE + (TIP_SHARE - FOOT_SHARE) * number / PIECES) / 2.0
        left.append((px - half * cos(angle), py - half * sin(angle)))
        right.append((px + half * cos(angle), py + half * sin(angle)))
    pen.shape([*left, *right[::-1]], tone, edge)
