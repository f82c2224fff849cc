"""A plan: what the keeper means to do, stage by stage. Evidence for the watch, not truth."""

from dataclasses import dataclass
from enum import StrEnum

from spyhole.core.kiln import Switch


class Body(StrEnum):
    """The two kinds of cone in the chart."""

    ORDINARY = "ordinary"
    IRON_FREE = "iron_free"


class Ware(StrEnum):
    """What is in the kiln."""

    BISQUE = "bisque"
    GLAZE = "glaze"
    LUSTRE = "lustre"
    EMPTY = "empty"


class Plugs(StrEnum):
    """The spyhole plugs."""

    IN = "in"
    HALF = "half"
    OUT = "out"


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage. Exactly one of hours, until_celsius, until_cone ends it.

    switches: one setting a ring, from the bottom up.
    expected_hours, expected_end_celsius (one a ring): from the last good firing, where known.
    climb_limit: degC per hour. ceiling_celsius: nothing in this stage should be hotter.
    """

    name: str
    switches: tuple[Switch, ...]
    hours: float | None = None
    until_celsius: float | None = None
    until_cone: bool = False
    plugs: Plugs | None = None
    ceiling_celsius: float | None = None
    climb_limit: float | None = None
    soak_minutes: float = 0.0
    expected_hours: float | None = None
    expected_end_celsius: tuple[float | None, ...] | None = None


@dataclass(frozen=True, slots=True)
class Spread:
    """How unequal the rings may be, and above what temperature that counts."""

    limit_celsius: float
    above_celsius: float


@dataclass(frozen=True, slots=True)
class Damp:
    """Fastest climb damp ware bears while steam may still be leaving it (default: common practice)."""

    celsius_per_hour: float = 50.0
    from_celsius: float = 80.0
    to_celsius: float = 150.0


@dataclass(frozen=True, slots=True)
class CoolingLimit:
    """No faster than this while falling through this band (inversions)."""

    from_celsius: float
    to_celsius: float
    celsius_per_hour: float


@dataclass(frozen=True, slots=True)
class Cooling:
    """When the lid may be cracked, opened, the ware unloaded (defaults: common practice, no source)."""

    crack_below_celsius: float = 150.0
    open_below_celsius: float = 100.0
    unload_below_celsius: float = 50.0
    limits: tuple[CoolingLimit, ...] = ()

    def slows_at(self, celsius: float) -> bool:
        """Whether one of the limits holds there."""
        return any(limit.to_celsius <= celsius <= limit.from_celsius for limit in self.limits)


@dataclass(frozen=True, slots=True)
class Plan:
    """A firing as meant. Cones are strings: 05 and 5 are 155 degC apart.

    reference_ring: index of the ring whose cone decides. lowest_firing_clay_cone: of all clays aboard.
    """

    name: str
    cone: str
    stages: tuple[Stage, ...]
    reference_ring: int
    shutoff_cone: str
    body: Body = Body.ORDINARY
    lowest_firing_clay_cone: str | None = None
    ware: Ware = Ware.BISQUE
    timer_margin_minutes: float = 30.0
    spread: Spread | None = None
    damp: Damp = Damp()
    cooling: Cooling = Cooling()
