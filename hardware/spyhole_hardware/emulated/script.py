"""What is rehearsed: a plan, a load, a room, a day. Two scripts of one kiln differ as two firings do."""

import math
from dataclasses import dataclass

from spyhole.core.plan import Plan
from spyhole_hardware.emulated.thermal import Load

DAY_SECONDS = 86400
WARMEST_AT = 15 * 3600  # UTC; the room is warmest in the afternoon


@dataclass(frozen=True, slots=True)
class Script:
    """One firing to rehearse.

    loads: one a ring, from the bottom up. room_celsius: mean of the day, from -3 to 30; it swings by
    room_swing_celsius each way. volts, volts_swing: mains at the kiln, None means as rated.
    lit_after_seconds: how long the cold kiln is watched before the keeper lights it.
    seed: everything that chance decides in this firing.
    """

    plan: Plan
    loads: tuple[Load, ...]
    seed: int
    room_celsius: float = 16.0
    room_swing_celsius: float = 2.0
    volts: float | None = None
    volts_swing: float = 2.0
    lit_after_seconds: int = 120

    def room_at(self, utc_seconds: float) -> float:
        """degC of the room."""
        turn = 2 * math.pi * (utc_seconds - WARMEST_AT) / DAY_SECONDS
        return self.room_celsius + self.room_swing_celsius * math.cos(turn)

    def volts_at(self, utc_seconds: float, rated_volts: float) -> float:
        """Mains at the kiln: lower in the evening, with a slow ripple from the street."""
        mean = rated_volts if self.volts is None else self.volts
        evening = math.cos(2 * math.pi * (utc_seconds - 19 * 3600) / DAY_SECONDS)
        ripple = math.sin(2 * math.pi * utc_seconds / 2220 + self.seed)
        return mean - self.volts_swing * (0.7 * evening + 0.3 * ripple)
