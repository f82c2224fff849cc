"""The emulated kiln's probes: a tube that lags, a wire within its class, a little noise."""

import math
import random

TUBE_SECONDS = (35.0, 80.0)  # time constants of ceramic-tubed thermocouples; common practice, no source
NOISE_CELSIUS = 0.3
_MASK = (1 << 64) - 1


def gauss(seed: int, moment: int) -> float:
    """A standard normal number that depends on nothing but its arguments.

    Noise has no state of its own, so that a daemon killed and started again reads the same kiln. The
    mixing is SplitMix64 (Steele, Lea and Flood 2014), the shape Box and Muller (1958).
    """
    x = (seed * 0x9E3779B97F4A7C15 + moment) & _MASK
    uniform = []
    for _ in range(2):
        x = (x + 0x9E3779B97F4A7C15) & _MASK
        z = ((x ^ (x >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & _MASK
        uniform.append(((z ^ (z >> 31)) >> 11) * 2.0**-53)
    return math.sqrt(-2 * math.log(1 - uniform[0])) * math.cos(2 * math.pi * uniform[1])


class Lag:
    """A body that follows its surroundings with one time constant: the tip of a probe in its tube."""

    __slots__ = ("celsius", "seconds")

    def __init__(self, seconds: float, celsius: float) -> None:
        self.seconds = seconds
        self.celsius = celsius

    def after(self, seconds: float, surroundings: float) -> float:
        """What it will be so long from now, if its surroundings stay as they are; exact for any time."""
        return surroundings + (self.celsius - surroundings) * math.exp(-seconds / self.seconds)


class EmulatedProbe:
    """One probe of one ring. Its errors are drawn once from its seed and stay with it from firing to firing."""

    def __init__(self, seed: int, ring: str, tolerance_class: int, celsius: float) -> None:
        draw = random.Random(f"probe {seed} {ring}")
        self._noise_seed = draw.getrandbits(60)
        self.tip = Lag(draw.uniform(*TUBE_SECONDS), celsius)
        self.surroundings = celsius
        # Most wires are well inside their class; none is outside.
        self._share = max(-0.9, min(0.9, draw.gauss(0, 0.35)))
        self._floor, self._slope = (1.5, 0.004) if tolerance_class == 1 else (2.5, 0.0075)  # IEC 60584-1

    def step(self, seconds: float, surroundings: float) -> None:
        """Let the tip follow for so long, then meet new surroundings."""
        self.tip.celsius = self.tip.after(seconds, self.surroundings)
        self.surroundings = surroundings

    def reads(self, seconds: float, moment_ms: int) -> float:
        """degC as the wire gives it, so many seconds after the last step; the same however often it is asked."""
        tip = self.tip.after(seconds, self.surroundings)
        error = self._share * max(self._floor, self._slope * tip)
        return tip + error + NOISE_CELSIUS * gauss(self._noise_seed, moment_ms)
