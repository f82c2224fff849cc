"""Reads current transformers through an MCP3208, and believes a number only when the chip and the clamp prove it.

The chip is a converter of 12 bits and eight inputs on the same SPI bus as the amplifiers, with a chip select of its own
(Microchip data sheet DS21298; from memory, tried on no chip). Each clamp gives a voltage, never a current, biased
to half of the supply, so that both halves of the mains' wave come in. What a ring draws is the root mean square of what
remains when the mean is taken away, over ten cycles at 50 Hz or twelve at 60.

The chip sends each conversion twice, the second time backwards. So one wrong bit is seen, and a line that is stuck too.
"""

import logging
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from spyhole.core.drawn import Drawn
from spyhole_hardware.bus import ChipSelect, SpiBus

log = logging.getLogger(__name__)

INPUTS: Final = 8
SUPPLY_VOLTS: Final = 3.3
"""Of the chip and its reference: the header's own supply."""

CODES: Final = 4096
SCANS: Final = 64
SCAN_SECONDS: Final = 0.003125
"""64 in 0.2 s: whole cycles at 50 and at 60 Hz, and never twice the same few instants of the wave."""

LONGEST_SECONDS: Final = 0.3
_BAUD: Final = 500_000  # the chip takes 1 MHz at 2.7 V
_DROOP_SECONDS: Final = 0.0012  # a sample held for longer than this has leaked away
_MIDDLE: Final = (0.35, 0.65)  # where the bias has to be; nothing wired there floats anywhere
_LOST_SHARE: Final = 0.25
_NOISE_CODES: Final = 2.0
"""Less than this is the converter's own noise (its data sheet: 1 LSB and more of error), and no current."""


@dataclass(frozen=True, slots=True)
class Clamp:
    """One transformer. ring: its place in the kiln, from the bottom. amperes_per_volt: as printed on it."""

    ring: int
    input: int
    amperes_per_volt: float


class Mcp3208Currents:
    """A `CurrentPort`. One thread calls it, the one that owns the bus."""

    def __init__(
        self,
        bus: SpiBus,
        select: ChipSelect,
        clamps: Sequence[Clamp],
        rings: int,
        *,
        seconds: Callable[[], float],
        wait: Callable[[float], None],
    ) -> None:
        """rings: how many the kiln has. seconds, wait: a clock that never steps, and what lets it pass [s]."""
        self._bus = bus
        self._select = select
        self._clamps = tuple(clamps)
        self._rings = rings
        self._seconds = seconds
        self._wait = wait
        self._logged = ""

    @property
    def fitted(self) -> frozenset[int]:
        """The rings that have a clamp."""
        return frozenset(clamp.ring for clamp in self._clamps)

    def read(self) -> Drawn:
        """What each ring draws, by 64 samples of each clamp; None where there is no clamp or no sense."""
        seen: dict[int, list[int | None]] = {clamp.input: [] for clamp in self._clamps}
        begun = self._seconds()
        try:
            for scan in range(SCANS):
                for clamp in self._clamps:
                    seen[clamp.input].append(self._sample(clamp.input))
                self._wait(max(0.0, begun + (scan + 1) * SCAN_SECONDS - self._seconds()))
                if self._seconds() - begun > LONGEST_SECONDS:
                    break
        except OSError as error:
            self._log(f"the current transformers were not read: {error}")
            return Drawn((None,) * self._rings)
        amperes: list[float | None] = [None] * self._rings
        problems = []
        for clamp in self._clamps:
            problem, drawn = judge(seen[clamp.input])
            if drawn is None:
                problems.append(f"input {clamp.input} {problem}")
            else:
                amperes[clamp.ring] = round(drawn * clamp.amperes_per_volt, 1)
        self._log("; ".join(problems))
        return Drawn(tuple(amperes))

    def _sample(self, number: int) -> int | None:
        """One conversion of one input; None when what came back is not one. OSError."""
        self._bus.try_lock()
        try:
            self._bus.configure(baudrate=_BAUD, polarity=0, phase=0)
            begun = self._seconds()
            self._select.value = False
            try:
                self._bus.write(bytes([command(number)]))
                answer = bytearray(4)
                self._bus.readinto(answer)
            finally:
                self._select.value = True
            late = self._seconds() - begun > _DROOP_SECONDS
        finally:
            self._bus.unlock()
        return None if late else code_of(bytes(answer))

    def _log(self, trouble: str) -> None:
        """Once, not every minute: the number that is missing tells of it."""
        if trouble and trouble != self._logged:
            log.warning(trouble)
        self._logged = trouble


def command(number: int) -> int:
    """The byte that asks for an input against ground: the start bit, 'single', and three bits of its number."""
    return 0b0001_1000 | number


def code_of(answer: bytes) -> int | None:
    """The conversion in four bytes: a bit of no meaning, a low one, twelve from the highest, eleven backwards, low.

    None where the two do not agree, or a bit that is always low is not.

    >>> code_of(bytes.fromhex("20000000")), code_of(bytes.fromhex("ffffffff")), code_of(bytes.fromhex("20000400"))
    (2048, None, None)
    """
    bits = f"{int.from_bytes(answer):032b}"
    forth, back = bits[2:14], bits[14:25]
    if bits[1] != "0" or "1" in bits[25:] or back != forth[::-1][1:]:
        return None
    return int(forth, 2)


def judge(samples: Sequence[int | None]) -> tuple[str, float | None]:
    """(what is wrong, None) or ("", root mean square [V]) of the conversions of one input."""
    codes = [code for code in samples if code is not None]
    if len(codes) < SCANS * (1 - _LOST_SHARE):
        return "gives no sense", None
    if min(codes) == 0 or max(codes) == CODES - 1:
        return "is beyond its range: a clamp for more amperes belongs there", None
    mean = sum(codes) / len(codes)
    if not _MIDDLE[0] <= mean / CODES <= _MIDDLE[1]:
        return "does not stand at half of the supply: no clamp, or no bias", None
    spread = math.sqrt(sum((code - mean) ** 2 for code in codes) / len(codes))
    return "", 0.0 if spread < _NOISE_CODES else spread * SUPPLY_VOLTS / CODES
