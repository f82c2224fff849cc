"""What earlier firings taught of a kiln. Evidence for the next one, each number with its deviation."""

from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class Belief:
    """A number and its standard deviation, in the same unit."""

    value: float
    deviation: float


LEADS = (3.0, 2.0, 1.0)
"""How long before the cone a forecast is held to account [h]."""
MOST_SLIPS = 8
DOUBTED_SLIPS = 1.0
"""How many firings without any slip are held against those that were seen. Two hours before, the mean slips of ten
drawn kilns were 9 min (root mean square), and each kiln's own strayed by 4 around its mean: one is already careful."""


@dataclass(frozen=True, slots=True)
class Slip:
    """One firing's forecasts of the cone, one of each of `LEADS`; None where there was none.

    missed: by how much the cone came later than was said [min]. late: by how much it came later than the kiln model by
    itself had it, which is what is learned. taught: whether that model was lit with what earlier firings had taught.
    """

    missed: tuple[float | None, ...]
    late: tuple[float | None, ...]
    taught: bool = True


def late_minutes(slips: tuple[Slip, ...], hours: float) -> float:
    """How much later than the kiln model says the cone of this kiln comes, so long before it [min].

    The mean of its firings, pulled towards none as if `DOUBTED_SLIPS` more had been right; straight lines between the
    leads. Only firings speak of which the model was lit with what earlier ones had taught: how far off a kiln was
    foretold that nobody knew tells nothing of one that is known (of 27 drawn kilns' second firings, a slope of -0.06 to
    0.25 between the two).
    """
    points = [(0.0, 0.0)]
    slips = tuple(slip for slip in slips if slip.taught)
    for place, lead in reversed(tuple(enumerate(LEADS))):
        known = [late for slip in slips if (late := slip.late[place]) is not None]
        points.append((lead, sum(known) / (len(known) + DOUBTED_SLIPS)))
    for (h0, m0), (h1, m1) in pairwise(points):
        if hours <= h1:
            return m0 + (m1 - m0) * (hours - h0) / (h1 - h0)
    return points[-1][1]


@dataclass(frozen=True, slots=True)
class ShutoffHabit:
    """How one kiln's shut-off trips, as its trips taught (`core.cones.tripping`): a straight line in gap and age.

    mean: how late it is by the probe that decides, as that reads [degC past the standing cone of its name]; what a
    millimetre more of trigger gap does to that; what each firing of the sensing tube does. spread: their covariances,
    the lower triangle row by row. gap_millimetres: the usual gap, None before one was measured. age: firings since the
    tube was new, or first seen. trips: that taught. strays: on end that were not believed, below 0 where too soon.
    """

    mean: tuple[float, float, float]
    spread: tuple[float, ...]
    gap_millimetres: float | None = None
    age: int = 0
    trips: int = 0
    strays: int = 0


@dataclass(frozen=True, slots=True)
class Learned:
    """firings: trips that taught of the shut-off, 0 for none.

    offsets: one a probe, in the order of `Kiln.probe_rings`: degC to add to what it reads beside the offset of the
    settings; None where nothing is known. shutoff_late: how far [degC, at the same climb] the small cone in the
    shut-off goes down past its number, in the next firing; shutoff: what that follows from. model, cooling: named
    parameters of `core.thermal`'s kiln model, as they were when heating had ended and once the kiln was cold; four
    nodes a ring cannot be right about both. slips: of the firings it was learned from, the latest `MOST_SLIPS`.
    """

    firings: int = 0
    offsets: tuple[Belief | None, ...] = ()
    shutoff_late: Belief | None = None
    model: tuple[tuple[str, Belief], ...] = ()
    cooling: tuple[tuple[str, Belief], ...] = ()
    slips: tuple[Slip, ...] = ()
    shutoff: ShutoffHabit | None = None

    def offset(self, probe: int) -> Belief | None:
        """What was learned of this probe, None where nothing was. probe: index in `Kiln.probe_rings`."""
        return self.offsets[probe] if probe < len(self.offsets) else None
