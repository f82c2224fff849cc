"""Reads MAX31856 amplifiers through the adafruit driver, and believes a number only when the chip proves it.

The driver alone hangs on a bus stuck high, reads a bus stuck low as 0.0 degC, writes back what one corrupted read gave
it, and does not notice a chip that has forgotten its thermocouple type. So its register calls are used, and its
measuring calls are not: every conversion is started by a plain write, all channels at once; the wait has one deadline
for the whole tick; sixteen registers come in one burst, twice alike, so that settings, faults and both temperatures
belong together and one wrong bit is seen.

`_write_u8` and `_read_sequential_registers` are private to the driver, whose version is therefore exact in
pyproject.toml: its public calls read, change and write back, or read one value a transaction.
"""

import logging
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Final

from spyhole.core.reading import Fault, ProbeReading, Reading
from spyhole_hardware import registers as reg
from spyhole_hardware.bus import Channel, ChipSelect, SpiBus
from spyhole_hardware.driver import MAX31856

log = logging.getLogger(__name__)

_BAUD: Final = 500_000
_AFTER_TYPICAL_SECONDS: Final = 0.001
_POLL_SECONDS: Final = 0.005
_DEADLINE_SHARE: Final = 1.1
_DEADLINE_MORE_SECONDS: Final = 0.025

_STUCK: Final = (b"\x00" * reg.REGISTER_COUNT, b"\xff" * reg.REGISTER_COUNT)

# The driver writes through one buffer that all its chips share, in whatever thread.
_DRIVER: Final = threading.Lock()


class Max31856Probes:
    """Every amplifier of one kiln, read together: a `ProbesPort`. One thread calls it."""

    def __init__(
        self,
        bus: SpiBus,
        channels: Sequence[Channel],
        selects: Sequence[ChipSelect],
        *,
        mains_hertz: int,
        averaging: int,
        seconds: Callable[[], float],
        wait: Callable[[float], None],
        release: Callable[[], None] = lambda: None,
    ) -> None:
        """Set every chip up.

        channels, selects: one each for every probe, in the order of the readings.
        mains_hertz: 50 or 60, the hum to reject. averaging: 1, 2, 4, 8 or 16 samples a conversion.
        seconds: a clock that never steps [s]. wait: lets so many seconds pass. release: lets go of the bus.
        ValueError for a setting the chip does not have. A bus that does not answer is no error here but a fault of
        every reading, until it does.
        """
        _check(channels, mains_hertz, averaging)
        self._seconds = seconds
        self._wait = wait
        self._release = release
        self._typical_seconds = reg.one_shot_seconds(mains_hertz, averaging) + _AFTER_TYPICAL_SECONDS
        self.longest_seconds = (
            reg.longest_one_shot_seconds(mains_hertz, averaging) * _DEADLINE_SHARE + _DEADLINE_MORE_SECONDS
        )
        """A read takes no longer than this, but for the transfers themselves (a few ms)."""
        self._bus = bus
        # a process before this one may have left a conversion under way, and settings are changed only while idle
        wait(reg.longest_one_shot_seconds(mains_hertz, 16))
        self._amplifiers = [
            _Amplifier(bus, select, channel, mains_hertz, averaging)
            for channel, select in zip(channels, selects, strict=True)
        ]

    def read(self) -> Reading:
        """One conversion of every channel, within `longest_seconds`; never raises for what a bus or probe can do."""
        deadline = self._seconds() + self.longest_seconds
        readings: dict[int, ProbeReading] = {}
        converting = []
        for i, amplifier in enumerate(self._amplifiers):
            if amplifier.start():
                converting.append(i)
            else:
                readings[i] = _no_number(Fault.BUS)
        if converting:
            self._wait(self._typical_seconds)
        # the count ends it too, should the clock stand still
        for _ in range(int(self.longest_seconds / _POLL_SECONDS)):
            for i in tuple(converting):
                reading = self._amplifiers[i].collect()
                if reading is not None:
                    readings[i] = reading
                    converting.remove(i)
            if not converting or self._seconds() >= deadline:
                break
            self._wait(_POLL_SECONDS)
        for i in converting:
            readings[i] = self._amplifiers[i].give_up()
        for i, amplifier in enumerate(self._amplifiers):
            if readings[i].fault is Fault.CONFIG and not amplifier.set_up():
                readings[i] = _no_number(Fault.BUS)
        return Reading(tuple(readings[i] for i in range(len(self._amplifiers))))

    @property
    def bus_held(self) -> bool:
        """Whether another program kept the bus for too long when it was last asked for."""
        return self._bus.held

    def close(self) -> None:
        """Let go of the bus and the pins."""
        self._release()


class _Amplifier:
    """One chip behind the driver."""

    def __init__(self, bus: SpiBus, select: ChipSelect, channel: Channel, mains_hertz: int, averaging: int) -> None:
        self._bus = bus
        self._select = select
        self._channel = channel
        self._range_celsius = reg.RANGE_CELSIUS[channel.type]
        self._cold_range_celsius = reg.COLD_RANGE_CELSIUS[channel.type]
        self._idle = reg.OPEN_DETECTION_UNDER_5K | (reg.FIFTY_HERTZ if mains_hertz == 50 else 0)
        # No fault is masked (the chip wakes with all of them masked: that tells it has forgotten), and no threshold
        # or cold junction offset is used.
        self._settings = (
            bytes([self._idle, reg.AVERAGING_CODES[averaging] | reg.TYPE_CODES[channel.type], 0])
            + reg.RESET[reg.CJHF : reg.CJTH]
        )
        self._driver: MAX31856 | None = None
        self._logged = ""
        self.set_up()

    def set_up(self) -> bool:
        """Write every setting, by plain writes, and read them back; the chip must be idle."""
        try:
            with self._turn():
                if self._driver is None:
                    self._driver = MAX31856(self._bus, self._select, baudrate=_BAUD)
                for address, value in enumerate(self._settings):
                    self._driver._write_u8(address, value)
            return self._burst()[: reg.CJTH] == self._settings
        except OSError as error:
            self._log("could not be set up", error)
            return False

    def start(self) -> bool:
        """Start a conversion and see that it began; False when it did not, and what the chip holds is old."""
        if self._driver is None and not self.set_up():
            return False
        assert self._driver is not None
        try:
            for _ in range(2):  # one corrupted write or read is not yet a fault
                with self._turn():
                    self._driver._write_u8(reg.CR0, self._idle | reg.ONE_SHOT)
                    if self._driver.oneshot_pending:
                        return True
            self._log("did not start")
        except OSError as error:
            self._log("did not start", error)
        return False

    def collect(self) -> ProbeReading | None:
        """What came of the conversion; None while it goes on."""
        try:
            block = self._burst_believed()
        except OSError as error:
            self._log("was not read", error)
            return _no_number(Fault.BUS)
        if block is None or block in _STUCK:
            self._log("gives no sense" if block is None else f"is silent: its line is stuck at 0x{block[0]:02X}")
            return _no_number(Fault.BUS)
        if not self._set_as_ours(block):
            self._log("had forgotten its settings")
            return _no_number(Fault.CONFIG)
        return None if _converting(block) else self._judge(block)

    def give_up(self) -> ProbeReading:
        """The deadline has passed: end the conversion, so that the next one begins from idle."""
        try:
            with self._turn():
                assert self._driver is not None
                self._driver._write_u8(reg.CR0, self._idle)
        except OSError as error:
            self._log("was not stopped", error)
        return _no_number(Fault.BUS)

    @contextmanager
    def _turn(self) -> Iterator[None]:
        """The driver for one thread, and the bus let go of however a transfer ends: other kilns may want it."""
        with _DRIVER:
            try:
                yield
            finally:
                self._bus.unlock()

    def _burst(self) -> bytes:
        with self._turn():
            assert self._driver is not None
            return bytes(self._driver._read_sequential_registers(reg.CR0, reg.REGISTER_COUNT))

    def _burst_believed(self) -> bytes | None:
        """A burst that came the same way twice out of three; None when each was different.

        Only one that says no more than 'not ready yet' is believed at once.
        """
        first = self._burst()
        if _converting(first) and self._set_as_ours(first):
            return first
        second = self._burst()
        if first == second:
            return first
        third = self._burst()
        return third if third in (first, second) else None

    def _set_as_ours(self, block: bytes) -> bool:
        return bytes([block[reg.CR0] & ~reg.ONE_SHOT]) + block[reg.CR1 : reg.CJTH] == self._settings

    def _judge(self, block: bytes) -> ProbeReading:
        """What a chip that is set as ours says of its finished conversion."""
        faults = block[reg.SR]
        if faults & reg.OVER_UNDER_VOLTAGE:
            return _no_number(Fault.SHORT)  # it converts no more: both temperatures are old
        cold: float | None = reg.cold_celsius(block[reg.CJTH : reg.LTCBH])
        if faults & reg.COLD_RANGE:
            cold = None
        elif not _within(cold, self._cold_range_celsius):
            return _no_number(Fault.BUS)  # the chip itself would have said so
        if faults & reg.OPEN_CIRCUIT:
            return _no_number(Fault.OPEN, cold)
        hot = reg.hot_celsius(block[reg.LTCBH : reg.SR])
        if faults or not _within(hot, self._range_celsius):
            return _no_number(Fault.RANGE, cold)
        self._logged = ""
        return ProbeReading(hot, None, cold)

    def _log(self, what: str, error: OSError | None = None) -> None:
        """Once, not every tick: the readings carry the fault."""
        trouble = f"{what}: {error}" if error else what
        if trouble != self._logged:
            self._logged = trouble
            log.warning("the amplifier of the %s probe %s", self._channel.ring, trouble)


def _converting(block: bytes) -> bool:
    """Over or under voltage suspends a conversion, which then ends only when the voltage is gone."""
    return bool(block[reg.CR0] & reg.ONE_SHOT and not block[reg.SR] & reg.OVER_UNDER_VOLTAGE)


def _no_number(fault: Fault, cold_celsius: float | None = None) -> ProbeReading:
    return ProbeReading(None, fault, cold_celsius)


def _within(celsius: float | None, limits: tuple[float, float]) -> bool:
    return celsius is not None and limits[0] <= celsius <= limits[1]


def _check(channels: Sequence[Channel], mains_hertz: int, averaging: int) -> None:
    if mains_hertz not in {50, 60}:
        raise ValueError(f"{mains_hertz} Hz mains is not known to the amplifier; 50 or 60 is")
    if averaging not in reg.AVERAGING_CODES:
        raise ValueError(f"the amplifier cannot average {averaging} samples; 1, 2, 4, 8 or 16 it can")
    for channel in channels:
        if channel.type not in reg.TYPE_CODES:
            raise ValueError(
                f"the {channel.ring} probe is of type {channel.type!r}; the amplifier knows {', '.join(reg.TYPE_CODES)}"
            )
