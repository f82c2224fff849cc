"""A MAX31856 down to its registers: what the real one would say of the junction wired to it.

Facts are the data sheet's (Maxim 19-7534); what is simplified: no noise of its own, an exact linearisation where the
chip has a table, an open input that floats at 0 mV until the chip looks for it.
"""

from collections.abc import Callable
from enum import StrEnum
from random import Random

from spyhole.core.reading import to_chip_step
from spyhole_hardware import registers as reg
from spyhole_hardware.emulated.emf import THERMOCOUPLES
from spyhole_hardware.emulated.junction import Circuit, Junction

_TYPE_LETTERS = {code: letter for letter, code in reg.TYPE_CODES.items()}
_AVERAGING = {code: samples for samples, code in reg.AVERAGING_CODES.items()}
_FULL_SCALE_MILLIVOLTS = 78.125
_COLD_LIMIT_CELSIUS = 127.984375  # the largest code of the cold junction
_READ_ONLY_FROM = reg.LTCBH


class DataLine(StrEnum):
    """How the wire that brings the chip's answers stands."""

    SOUND = "sound"
    STUCK_LOW = "stuck low"
    STUCK_HIGH = "stuck high"
    GARBAGE = "garbage"


class EmulatedChip:
    """One amplifier. Set its public attributes to bring a trouble about.

    line: the wire its answers come by. flips: so many of its next answers have one wrong bit.
    deaf: it answers, but what is written to its registers is lost. converts: False and no conversion ever ends.
    open_lag_conversions: so many conversions pass before an open circuit is found.
    """

    MODES = frozenset({(0, 1), (1, 1)})
    FASTEST_BAUD = 5_000_000

    def __init__(self, junction: Junction, seconds: Callable[[], float], *, seed: int = 0) -> None:
        """seconds: the clock its conversions take their time by [s]. seed: of what is random in its troubles."""
        self.junction = junction
        self.line = DataLine.SOUND
        self.flips = 0
        self.deaf = False
        self.converts = True
        self.open_lag_conversions = 0
        self._seconds = seconds
        self._random = Random(seed)
        self._registers = bytearray(reg.RESET)
        self._address: int | None = None
        self._writing = False
        self._ready_at: float | None = None
        self._sample = (0.0, 0.0, Circuit.SOUND, "K")
        self._conversions_open = 0

    @property
    def registers(self) -> bytes:
        """All sixteen, as they truly are at this instant, whatever comes through the wire."""
        self._settle()
        return bytes(self._registers)

    def forget(self) -> None:
        """A brown-out: every register as after power-on, and nothing converting."""
        self._registers[:] = reg.RESET
        self._ready_at = None
        self._conversions_open = 0

    def select(self) -> None:
        """Chip select goes low: the next byte is an address."""
        self._address = None
        self._settle()

    def write(self, data: bytes) -> None:
        """Bytes clocked in: an address, then values if it was one for writing; addresses count up and wrap."""
        for byte in data:
            if self._address is None:
                self._address = byte & 0x0F
                self._writing = bool(byte & reg.WRITE)
            elif self._writing:
                if not self.deaf:
                    self._store(self._address, byte)
                self._address = (self._address + 1) % reg.REGISTER_COUNT

    def read(self, count: int) -> bytes:
        """Bytes clocked out from the address on, as they arrive at the other end of the wire."""
        if self.line is DataLine.STUCK_LOW:
            return bytes(count)
        if self.line is DataLine.STUCK_HIGH:
            return b"\xff" * count
        if self.line is DataLine.GARBAGE:
            return self._random.randbytes(count)
        if self._address is None or self._writing:
            return bytes(count)
        twice = bytes(self._registers) * 2
        answer = twice[self._address : self._address + count]
        self._address = (self._address + count) % reg.REGISTER_COUNT
        if self.flips:
            self.flips -= 1
            bit = 1 << self._random.randrange(8 * count)
            answer = (int.from_bytes(answer) ^ bit).to_bytes(count)
        return answer

    def _store(self, address: int, byte: int) -> None:
        registers = self._registers
        if address == reg.CR0:
            if byte & reg.FAULT_CLEAR:
                registers[reg.SR] = 0
                byte &= ~reg.FAULT_CLEAR
            was_automatic = registers[reg.CR0] & reg.AUTOCONVERT
            registers[reg.CR0] = byte
            if byte & reg.AUTOCONVERT:
                registers[reg.CR0] &= ~reg.ONE_SHOT
                if not was_automatic:
                    self._start(reg.one_shot_seconds)
            elif byte & reg.ONE_SHOT:
                self._start(reg.one_shot_seconds)
            else:
                self._ready_at = None
        elif address < reg.CJTH or (address < _READ_ONLY_FROM and registers[reg.CR0] & reg.COLD_JUNCTION_DISABLED):
            registers[address] = byte

    def _start(self, duration: Callable[[int, int], float]) -> None:
        hertz = 50 if self._registers[reg.CR0] & reg.FIFTY_HERTZ else 60
        # codes above 0x40 also mean sixteen samples
        samples = _AVERAGING.get(self._registers[reg.CR1] & 0x70, 16)
        self._ready_at = self._seconds() + duration(hertz, samples)
        junction = self.junction
        self._sample = (junction.hot_celsius, junction.cold_celsius, junction.circuit, junction.type)

    def _settle(self) -> None:
        """Bring the registers up to this instant."""
        at_supply = self.junction.circuit is Circuit.AT_SUPPLY
        if at_supply:
            self._registers[reg.SR] |= reg.OVER_UNDER_VOLTAGE
        elif not self._registers[reg.CR0] & reg.FAULTS_LATCH:
            self._registers[reg.SR] &= ~reg.OVER_UNDER_VOLTAGE
        if self._ready_at is None or at_supply or not self.converts or self._seconds() < self._ready_at:
            return
        self._finish()
        if self._registers[reg.CR0] & reg.AUTOCONVERT:
            self._start(reg.autoconvert_seconds)
        else:
            self._ready_at = None
            self._registers[reg.CR0] &= ~reg.ONE_SHOT

    def _finish(self) -> None:
        registers = self._registers
        hot, cold, circuit, fitted = self._sample
        configured = _TYPE_LETTERS.get(registers[reg.CR1] & 0x0F)
        faults = 0
        if not registers[reg.CR0] & reg.COLD_JUNCTION_DISABLED:
            offset = int.from_bytes(registers[reg.CJTO : reg.CJTO + 1], signed=True) / 16
            measured = min(max(cold + offset, -128.0), _COLD_LIMIT_CELSIUS)
            registers[reg.CJTH : reg.CJTH + 2] = reg.cold_code(measured)
        compensation = reg.cold_celsius(bytes(registers[reg.CJTH : reg.CJTH + 2]))
        self._conversions_open = self._conversions_open + 1 if circuit is Circuit.OPEN else 0
        found_open = bool(
            registers[reg.CR0] & reg.OPEN_DETECTION and self._conversions_open > self.open_lag_conversions
        )
        if found_open:
            faults |= reg.OPEN_CIRCUIT
        if configured is None:
            linearised = 0.0  # a voltage mode: its code is no temperature, and nobody here asks for one
        else:
            millivolts = _FULL_SCALE_MILLIVOLTS if found_open else _input_millivolts(hot, cold, circuit, fitted)
            curve = THERMOCOUPLES[configured]
            linearised = to_chip_step(curve.celsius(millivolts + curve.millivolts(compensation)))
            low, high = reg.RANGE_CELSIUS[configured]
            if not low <= linearised <= high:
                faults |= reg.HOT_RANGE
                linearised = min(max(linearised, low), high)
            cold_low, cold_high = reg.COLD_RANGE_CELSIUS[configured]
            if not cold_low <= compensation <= cold_high:
                faults |= reg.COLD_RANGE
        registers[reg.LTCBH : reg.LTCBH + 3] = reg.hot_code(linearised)
        faults |= self._past_thresholds(linearised, compensation)
        latched = registers[reg.SR] if registers[reg.CR0] & reg.FAULTS_LATCH else 0
        registers[reg.SR] = faults | latched

    def _past_thresholds(self, hot: float, cold: float) -> int:
        registers = self._registers
        high, low = (int.from_bytes(registers[at : at + 2], signed=True) / 16 for at in (reg.LTHFTH, reg.LTLFTH))
        cold_high, cold_low = (int.from_bytes(registers[at : at + 1], signed=True) for at in (reg.CJHF, reg.CJLF))
        return (
            reg.HOT_HIGH * (hot > high)
            | reg.HOT_LOW * (hot < low)
            | reg.COLD_HIGH * (cold > cold_high)
            | reg.COLD_LOW * (cold < cold_low)
        )


def _input_millivolts(hot: float, cold: float, circuit: Circuit, fitted: str) -> float:
    """What stands between the amplifier's two terminals [mV]."""
    if circuit in {Circuit.OPEN, Circuit.SHORTED}:
        return 0.0
    wire = THERMOCOUPLES[fitted]
    millivolts = wire.millivolts(hot) - wire.millivolts(cold)
    return -millivolts if circuit is Circuit.REVERSED else millivolts
