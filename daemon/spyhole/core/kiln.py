"""The kiln as its keeper describes it: rings, switches, probes. Rings and probes are different things."""

from dataclasses import dataclass
from enum import StrEnum


class Switch(StrEnum):
    """The setting of one ring's switch."""

    OFF = "off"
    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class SwitchShares:
    """Share of a ring's watts at each setting (series, single, parallel elements: 0.25, 0.5, 1; Ohm)."""

    low: float = 0.25
    medium: float = 0.5
    high: float = 1.0

    def of(self, switch: Switch) -> float:
        """Share of full watts [0..1] at this setting."""
        return {Switch.OFF: 0.0, Switch.LOW: self.low, Switch.MEDIUM: self.medium, Switch.HIGH: self.high}[switch]


@dataclass(frozen=True, slots=True)
class Probe:
    """A thermocouple: its letter type, IEC 60584-1 tolerance class, and the offset to add to what it reads."""

    type: str = "K"
    tolerance_class: int = 2
    offset_celsius: float = 0.0


@dataclass(frozen=True, slots=True)
class Ring:
    """One ring of elements with its switch, and the probe that looks at it, if any."""

    name: str
    watts: float
    probe: Probe | None = None


@dataclass(frozen=True, slots=True)
class Chamber:
    """Sizes of the chamber [mm], where known; only the thermal model uses them."""

    wall_millimetres: float
    inside_diameter_millimetres: float
    ring_height_millimetres: float


@dataclass(frozen=True, slots=True)
class Kiln:
    """A manual electric kiln. rings: from the bottom up, one to eight, at least one with a probe."""

    name: str
    maximum_celsius: float
    rings: tuple[Ring, ...]
    mains_volts: float = 230.0
    cone_shutoff: bool = True
    timer_stops_in_power_cut: bool = True
    switch: SwitchShares = SwitchShares()
    chamber: Chamber | None = None

    @property
    def probe_rings(self) -> tuple[int, ...]:
        """Indices of the rings that have a probe, from the bottom up: the order of `Reading.probes`."""
        return tuple([i for i, ring in enumerate(self.rings) if ring.probe is not None])

    def sensor(self, probe: int) -> Probe:
        """The probe at this index of `probe_rings`, as it is described."""
        return self.rings[self.probe_rings[probe]].probe or Probe()

    def probe_nearest(self, ring: int) -> int:
        """Index in `probe_rings` of the probe at this ring, or at the nearest ring that has one; the lower of two."""
        rings = self.probe_rings
        if ring in rings:
            return rings.index(ring)
        return min(range(len(rings)), key=lambda probe: (abs(rings[probe] - ring), probe))

    def ring_index(self, name: str) -> int:
        """Index of the ring of this name; ValueError naming those there are."""
        for i, ring in enumerate(self.rings):
            if ring.name == name:
                return i
        raise ValueError(f"no ring is called {name!r}; the rings are {', '.join(r.name for r in self.rings)}")
