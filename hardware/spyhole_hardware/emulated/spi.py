"""An SPI bus with emulated amplifiers on it, and a clock of its own to run them by."""

from collections.abc import Sequence

from spyhole_hardware.bus import WriteableBuffer
from spyhole_hardware.emulated.adc import EmulatedAdc
from spyhole_hardware.emulated.chip import EmulatedChip

BusEnd = EmulatedChip | EmulatedAdc


class BenchClock:
    """Seconds that pass only when somebody waits: a conversion is instant, yet takes its time."""

    def __init__(self) -> None:
        self._now = 0.0

    def seconds(self) -> float:
        """Seconds since it was made."""
        return self._now

    def wait(self, seconds: float) -> None:
        """Let time pass [s]."""
        self._now += seconds


class EmulatedChipSelect:
    """The pin that tells one chip it is meant; low is selected."""

    def __init__(self, chip: BusEnd, selected: list[BusEnd]) -> None:
        self._chip = chip
        self._selected = selected
        self._level = True

    def switch_to_output(self, value: bool = True) -> None:
        """Drive the pin, at this level first."""
        self.value = value

    @property
    def value(self) -> bool:
        """Level of the pin."""
        return self._level

    @value.setter
    def value(self, level: bool) -> None:
        if level == self._level:
            return
        self._level = level
        if level:
            self._selected.remove(self._chip)
        else:
            self._selected.append(self._chip)
            self._chip.select()


class EmulatedBus:
    """The bus as the driver needs it. chips and selects go together, in the order of the channels.

    adc, adc_select: the converter of the current transformers, if one is wired, and its pin.
    broken: True and every transfer fails as a real device file would. held: as if another program kept it.
    """

    def __init__(self, chips: Sequence[EmulatedChip], adc: EmulatedAdc | None = None) -> None:
        self.chips = tuple(chips)
        self.adc = adc
        self._selected: list[BusEnd] = []
        self.adc_select = None if adc is None else EmulatedChipSelect(adc, self._selected)
        self.selects = tuple(EmulatedChipSelect(chip, self._selected) for chip in chips)
        self.broken = False
        self.held = False
        self._mode = (0, 0)
        self._baud = 0

    def try_lock(self) -> bool:
        """Always; TimeoutError while another program keeps it."""
        if self.held:
            raise TimeoutError(110, "another program holds the bus")
        return True

    def unlock(self) -> None:
        """Nothing to let go."""

    def configure(self, *, baudrate: int = 100_000, polarity: int = 0, phase: int = 0) -> None:
        """Clock and mode of what follows; in a mode or at a pace that is not its own a chip understands nothing."""
        self._mode, self._baud = (polarity, phase), baudrate

    def write(self, buf: bytes | WriteableBuffer, start: int = 0, end: int | None = None) -> None:
        """Clock bytes out to whichever chips are selected."""
        self._check()
        for chip in self._who_understands():
            chip.write(bytes(buf[start:end]))

    def readinto(self, buf: WriteableBuffer, start: int = 0, end: int | None = None) -> None:
        """Clock bytes in: low where nobody answers, a muddle where two do."""
        self._check()
        end = len(buf) if end is None else end
        count = end - start
        answer = 0
        for chip in self._who_understands():
            answer |= int.from_bytes(chip.read(count))
        buf[start:end] = answer.to_bytes(count)

    def _who_understands(self) -> list[BusEnd]:
        return [end for end in self._selected if self._mode in end.MODES and 0 < self._baud <= end.FASTEST_BAUD]

    def _check(self) -> None:
        if self.broken:
            raise OSError(5, "Input/output error")
