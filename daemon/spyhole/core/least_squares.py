"""Weighted least squares on a handful of unknowns: the sums of a fit, its answer, and what one more column would do.

Every observation is divided by its own deviation before it is added, so that all of them are of one size
(generalised least squares after whitening; Aitken, Proceedings of the Royal Society of Edinburgh 55 (1935) 42).
"""

from collections.abc import Sequence
from math import sqrt

Matrix = list[list[float]]


class Sums:
    """X'X, X'y and y'y of a design of so many columns, observation by observation."""

    def __init__(self, columns: int) -> None:
        self.gram: Matrix = [[0.0] * columns for _ in range(columns)]
        self.cross = [0.0] * columns
        self.square = 0.0
        self.count = 0

    def add(self, row: Sequence[tuple[int, float]], value: float) -> None:
        """One observation. row: (column, entry) where the entry is not zero."""
        for i, a in row:
            for j, b in row:
                self.gram[i][j] += a * b
            self.cross[i] += a * value
        self.square += value * value
        self.count += 1

    def solve(self) -> "Fit":
        """The answer. ZeroDivisionError or ValueError where a column rests on nothing."""
        factor = cholesky(self.gram)
        answer = backward(factor, forward(factor, self.cross))
        left = self.square - sum(a * b for a, b in zip(answer, self.cross, strict=True))
        return Fit(factor, answer, max(left, 0.0), self.count)


class Fit:
    """answer: one a column. left: the sum of squares that is left over."""

    def __init__(self, factor: Matrix, answer: list[float], left: float, count: int) -> None:
        self._factor = factor
        self.answer = answer
        self.left = left
        self.count = count

    def of(self, weights: Sequence[float]) -> tuple[float, float]:
        """A weighted sum of the unknowns, and its deviation where an observation has a deviation of one."""
        value = sum(w * a for w, a in zip(weights, self.answer, strict=True))
        return value, sqrt(sum(x * x for x in forward(self._factor, weights)))

    def with_column(self, against: Sequence[float], own: float, cross: float) -> tuple[float, float]:
        """One more unknown and its deviation. against: X'z; own: z'z; cross: z'y. Deviation 0: nothing new in it."""
        lean = forward(self._factor, against)
        free = own - sum(x * x for x in lean)
        if free <= 1e-9 * max(own, 1e-300):
            return 0.0, 0.0
        over = cross - sum(b * a for b, a in zip(against, self.answer, strict=True))
        return over / free, 1.0 / sqrt(free)


def cholesky(matrix: Matrix) -> Matrix:
    """Lower triangle L with L L' the matrix, which is symmetric and positive. ValueError, ZeroDivisionError else."""
    size = len(matrix)
    lower: Matrix = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i + 1):
            rest = matrix[i][j] - sum(lower[i][k] * lower[j][k] for k in range(j))
            lower[i][j] = sqrt(rest) if i == j else rest / lower[j][j]
    return lower


def forward(lower: Matrix, right: Sequence[float]) -> list[float]:
    """x of L x = right."""
    found: list[float] = []
    for i, value in enumerate(right):
        found.append((value - sum(lower[i][k] * found[k] for k in range(i))) / lower[i][i])
    return found


def backward(lower: Matrix, right: Sequence[float]) -> list[float]:
    """x of L' x = right."""
    size = len(right)
    found = [0.0] * size
    for i in reversed(range(size)):
        found[i] = (right[i] - sum(lower[k][i] * found[k] for k in range(i + 1, size))) / lower[i][i]
    return found
