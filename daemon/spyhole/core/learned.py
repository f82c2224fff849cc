"""What earlier firings taught of a kiln. Evidence for the next one, each number with its deviation."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Belief:
    """A number and its standard deviation, in the same unit."""

    value: float
    deviation: float


@dataclass(frozen=True, slots=True)
class Learned:
    """firings: good ones it was learned from, 0 for none.

    offsets: one a probe, in the order of `Kiln.probe_rings`: degC to add to what it reads beside the offset of the
    settings; None where nothing is known. shutoff_late: how far [degC, at the same climb] the small cone in the
    shut-off goes down past its number. model: named parameters of `core.thermal`'s kiln model.
    """

    firings: int = 0
    offsets: tuple[Belief | None, ...] = ()
    shutoff_late: Belief | None = None
    model: tuple[tuple[str, Belief], ...] = ()

    def offset(self, probe: int) -> Belief | None:
        """What was learned of this probe, None where nothing was. probe: index in `Kiln.probe_rings`."""
        return self.offsets[probe] if probe < len(self.offsets) else None
