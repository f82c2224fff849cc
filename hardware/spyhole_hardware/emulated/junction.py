"""The far end of a probe, as the emulated amplifier sees it: two junctions, a circuit, and the wire really fitted."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol


class Circuit(StrEnum):
    """How the two wires of a probe stand between tip and amplifier."""

    SOUND = "sound"
    OPEN = "open"  # burnt through or pulled off: no circuit
    SHORTED = "shorted"  # the leads touch at the amplifier: it reads its own temperature
    REVERSED = "reversed"  # leads swapped: it reads falling while the kiln heats
    AT_SUPPLY = "at supply"  # a lead touches the amplifier's supply: over-voltage, and it converts no more


class Junction(Protocol):
    """One probe as it truly is. What the amplifier makes of it is the chip's business."""

    @property
    def hot_celsius(self) -> float:
        """True temperature of the tip."""
        ...

    @property
    def cold_celsius(self) -> float:
        """True temperature of the amplifier."""
        ...

    @property
    def circuit(self) -> Circuit: ...

    @property
    def type(self) -> str:
        """IEC 60584-1 letter of the wire really fitted, whatever the settings say."""
        ...


@dataclass(slots=True)
class BenchJunction:
    """A probe on the bench: set it by hand."""

    hot_celsius: float = 20.0
    cold_celsius: float = 25.0
    circuit: Circuit = Circuit.SOUND
    type: str = "K"
