"""An MCP3208 down to its bits, with clamps at its inputs: what the real one would send.

Facts are the data sheet's (Microchip DS21298), from memory. What is simplified: an ideal converter, and a sample that
does not leak away however slowly it is fetched.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

_SUPPLY_VOLTS = 3.3
_HIGHEST = 4095


@dataclass(slots=True)
class EmulatedClamp:
    """A voltage-output transformer on one conductor, and its bias.

    amperes: root mean square, now. bias_volts: half of the supply where it is wired as it should be.
    """

    amperes: Callable[[], float]
    amperes_per_volt: float
    mains_hertz: float = 50.0
    bias_volts: float = _SUPPLY_VOLTS / 2

    def volts(self, seconds: float) -> float:
        """At the input at this instant."""
        peak = math.sqrt(2.0) * self.amperes() / self.amperes_per_volt
        return self.bias_volts + peak * math.sin(2.0 * math.pi * self.mains_hertz * seconds)


class EmulatedAdc:
    """One converter. inputs: a clamp for each that is wired, by its number; the others lie at ground.

    stuck: the level its answers' line hangs at, or None. flips: so many of its next answers have one wrong bit.
    """

    MODES = frozenset({(0, 0), (1, 1)})
    FASTEST_BAUD = 1_000_000

    def __init__(self, inputs: dict[int, EmulatedClamp], seconds: Callable[[], float], *, seed: int = 0) -> None:
        self.inputs = inputs
        self.stuck: int | None = None
        self.flips = 0
        self._seconds = seconds
        self._random = Random(seed)
        self._heard = ""
        self._to_say = ""

    def select(self) -> None:
        """Chip select goes low: it waits for a start bit."""
        self._heard = ""
        self._to_say = ""

    def write(self, data: bytes) -> None:
        """Bits clocked in: zeros, the start bit, single or differential, three of the input; the rest means nothing."""
        for bit in "".join(f"{byte:08b}" for byte in data):
            if self._to_say:
                self._to_say = self._to_say[1:]
            elif bit == "1" or self._heard:
                self._heard += bit
                if len(self._heard) == 5:
                    self._convert(single=self._heard[1] == "1", number=int(self._heard[2:], 2))

    def read(self, count: int) -> bytes:
        """Bits clocked out."""
        if self.stuck is not None:
            return bytes([0xFF * self.stuck]) * count
        bits = (self._to_say + "0" * 8 * count)[: 8 * count]
        self._to_say = self._to_say[8 * count :]
        answer = int(bits, 2)
        if self.flips:
            self.flips -= 1
            answer ^= 1 << self._random.randrange(8 * count)
        return answer.to_bytes(count)

    def _convert(self, *, single: bool, number: int) -> None:
        """A clock for the sample, a low bit, the code from its highest bit, and again from its second lowest."""
        volts = self._volts(number) if single else self._volts(number) - self._volts(number ^ 1)
        code = min(max(math.floor(volts / _SUPPLY_VOLTS * (_HIGHEST + 1)), 0), _HIGHEST)
        bits = f"{code:012b}"
        self._to_say = f"00{bits}{bits[::-1][1:]}"

    def _volts(self, number: int) -> float:
        clamp = self.inputs.get(number)
        return 0.0 if clamp is None else clamp.volts(self._seconds())
