"""How a kiln was made ready: what a firing carries with it for whoever reads of it later."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Preparation:
    """What was seen before lighting. None: nobody said.

    damp: the ware is not bone dry. seated, rod_centred: the cone in the shut-off and the rod on it.
    gap_millimetres: of the shut-off's trigger.
    """

    damp: bool | None = None
    seated: bool | None = None
    rod_centred: bool | None = None
    gap_millimetres: float | None = None
    who: str = ""
