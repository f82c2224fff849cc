"""Looks whether clock, amplifier box and bus are well, and says so as conditions of the watch."""

from collections.abc import Callable

from spyhole.core.moment import Moment
from spyhole.core.reading import Reading
from spyhole.services.conditions import BOX_HOT, BUS_HELD, CLOCK, Conditions

UNSET_MS = 10 * 60_000
"""How long after a start a clock may be without its time source: a Pi has none of its own."""

STEP_MS = 2_000
STEPPED_MS = 30 * 60_000
"""How long a step of the clock is told of: times that people noted in between may be wrong."""

HOT_CELSIUS, COOL_CELSIUS = 60.0, 55.0
"""Of the amplifiers' own temperature. They work to 125 (MAX31856 data sheet 19-7534), but a box this warm stands too
near the kiln, and its cold junction is no longer that of the terminals. Common practice, no source."""

HOT_MS = 60_000


class Oversight:
    """One thread calls `look`: the one that takes readings."""

    def __init__(self, conditions: Conditions) -> None:
        self._conditions = conditions
        self._before: Moment | None = None
        self._unset_since_ms = 0
        self._stepped_until_ms: int | None = None
        self._hot_since_ms: int | None = None

    def look(self, reading: Reading, now: Moment) -> None:
        """One tick."""
        self._look_at_the_clock(now)
        self._look_at_the_box(reading, now.monotonic_ms)
        self._before = now

    def _look_at_the_clock(self, now: Moment) -> None:
        before, ms = self._before, now.monotonic_ms
        if before is None or now.synchronised:
            self._unset_since_ms = ms
        stepped = before is not None and abs((now.utc_ms - ms) - (before.utc_ms - before.monotonic_ms)) > STEP_MS
        if stepped and before is not None and before.synchronised:
            self._stepped_until_ms = ms + STEPPED_MS
        if self._stepped_until_ms is not None and ms >= self._stepped_until_ms:
            self._stepped_until_ms = None
        if self._stepped_until_ms is not None:
            self._conditions.set(CLOCK, "it stepped")
        elif ms - self._unset_since_ms >= UNSET_MS:
            self._conditions.set(CLOCK, "no time source has set it")
        elif self._conditions.holds(CLOCK):
            self._conditions.clear(CLOCK)

    def _look_at_the_box(self, reading: Reading, ms: int) -> None:
        cold = [one.cold_junction_celsius for one in reading.probes if one.cold_junction_celsius is not None]
        if not cold:
            return
        if max(cold) < COOL_CELSIUS:
            self._hot_since_ms = None
            if self._conditions.holds(BOX_HOT):
                self._conditions.clear(BOX_HOT)
        elif max(cold) > HOT_CELSIUS:
            if self._hot_since_ms is None:
                self._hot_since_ms = ms
            if ms - self._hot_since_ms >= HOT_MS:
                self._conditions.set(BOX_HOT, f"{max(cold):.0f} degC")


class BusOversight:
    """Says when another program keeps the bus of the amplifiers, and when it is over. held: asked about each second."""

    def __init__(self, held: Callable[[], bool], conditions: Conditions) -> None:
        self._held = held
        self._conditions = conditions
        self._before = False

    def look(self) -> bool:
        """Held at two looks on end it is said; once is a busy moment. Always True."""
        held = self._held()
        if held and self._before:
            self._conditions.set(BUS_HELD)
        elif not held and self._conditions.holds(BUS_HELD):
            self._conditions.clear(BUS_HELD)
        self._before = held
        return True
