"""What a reader needs of an SPI bus and its pins, whether real or emulated: the little that the driver calls."""

from dataclasses import dataclass
from typing import Protocol

WriteableBuffer = bytearray | memoryview


@dataclass(frozen=True, slots=True)
class Channel:
    """One amplifier: the ring its probe looks at, the GPIO number of its chip select, the probe's letter type."""

    ring: str
    chip_select: int
    type: str = "K"


class SpiBus(Protocol):
    """A bus that one thread owns. Transfers raise OSError when the machine cannot make them.

    `try_lock` must always be True, or raise: the driver spins on it for ever. A transfer that failed leaves it locked,
    so whoever drives it calls `unlock` once more, which may always be called.
    """

    @property
    def held(self) -> bool:
        """Whether another program kept it for too long when it was last asked for."""
        ...

    def try_lock(self) -> bool: ...

    def unlock(self) -> None: ...

    def configure(self, *, baudrate: int, polarity: int, phase: int) -> None: ...

    def write(self, buf: bytes | WriteableBuffer, start: int = 0, end: int | None = None) -> None: ...

    def readinto(self, buf: WriteableBuffer, start: int = 0, end: int | None = None) -> None: ...


class ChipSelect(Protocol):
    """A pin that is low while its chip is meant."""

    def switch_to_output(self, value: bool) -> None: ...

    @property
    def value(self) -> bool: ...

    @value.setter
    def value(self, level: bool) -> None: ...
