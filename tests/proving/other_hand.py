"""Draws a kiln, its load and its keeper, and fires them: what the other hand's firings are made of.

Nothing here knows the engine. Ranges are those of the trade, common practice, no source. Kinds and troubles bear the
names of `kinds.py` where they are the same; what is right to say of them is judged there too.

A plan asks of its kiln what it can do: rated well above the cone, cooling limits no lower than it cools when shut. Not
drawn: kilns whose rings differ by more than the plan's spread in good health, a sag before the kiln is hot, and a
keeper more than 25 minutes late.
"""

import random
from dataclasses import dataclass, field, replace
from math import inf

from other_cones import ORDER, PUBLISHED
from other_kiln import Build, Ware

HEALTHY = (
    "bisque", "glaze", "low-cone", "high-cone", "dense-load", "near-empty", "nothing-logged", "logged-late",
    "plug-peeks", "warm-start", "cold-room", "two-probes",
)  # fmt: skip
TROUBLED = (
    "shutoff-jams", "ring-opens", "half-element", "power-lost", "power-back", "probe-open", "probe-out", "probe-stuck",
    "drift-down", "drift-up", "probe-slipped", "probe-noisy", "switch-left-low", "switch-left-medium", "stall-sag",
    "night-switch-high", "still-on", "ring-left-low", "lid-ajar", "tripped-early", "lid-opened-hot",
    "relit-after-trip", "timer-ran-out",
)  # fmt: skip
OF_A_PROBE = frozenset(kind for kind in TROUBLED if kind.startswith(("probe-", "drift-")))
RINGS = ("bottom", "middle", "top")
SPREAD_CELSIUS = 40.0
DAMP_CELSIUS_PER_HOUR = 50.0
COOLING_CELSIUS_PER_HOUR, COOLING_FROM, COOLING_TO = 150.0, 620.0, 540.0
HOUR = 3600.0
BISQUE_CONES, GLAZE_CONES = ("06", "05", "04"), ("05", "04", "5", "6", "6")
LOW_CONES, HIGH_CONES = ("018", "017", "016"), ("8", "9", "10")


@dataclass(frozen=True, slots=True)
class Stage:
    """switches: one a ring from the bottom. seconds: how long it is to last, 0 until the cone."""

    name: str
    switches: tuple[str, str, str]
    seconds: float
    plugs: str


@dataclass(frozen=True, slots=True)
class Eye:
    """One probe: share of air and wall in what its tip feels (the rest is ware), lag [s], offset [degC], gain [-]."""

    air: float
    wall: float
    lag_seconds: float
    offset: float
    gain: float


@dataclass(frozen=True, slots=True)
class Upset:
    """What goes wrong. at, until: seconds, inf where an event of the firing decides. amount: as the kind needs it."""

    kind: str = ""
    at: float = inf
    until: float = inf
    ring: int = 0
    amount: float = 0.0


@dataclass(frozen=True, slots=True)
class Case:
    """One firing of one kiln. Seconds, degC; W of each ring's elements, new and at rated volts; shares of high [-].

    lateness: of the keeper at each turn [s]. cone_off, trip_off: how far the firing cone's lot, and place and lot of
    the one in the shut-off, are off [degC]. crack: below it the lid is cracked.
    """

    kind: str
    seed: int
    build: Build
    watts: tuple[float, ...]
    shares: dict[str, float]
    cone: str
    raw: bool
    stages: tuple[Stage, ...]
    lateness: tuple[float, ...]
    wares: tuple[Ware, ...]
    room: float
    start: float
    volts: float
    wear: float
    cone_off: float
    trip_off: float
    crack: float
    eyes: tuple[Eye, ...]
    noise: float
    peeks: tuple[float, ...] = ()
    lit: float = 120.0


@dataclass(slots=True)
class Fired:
    """What came of it. Seconds, None for never; onset: when the trouble begins.

    tips: each step's time and what the probes' tips feel. work: the firing cone's heat work at each. turns: when, which
    stage (-1: heating ended), switches. lid: when it was cracked, and opened. apart: the widest that probes differed
    above 600 degC while it heated. hurried: the probe of a ring that was damp climbed faster than the plan lets it.
    guard: work of the next harder cone. begun: before the onset, where something shows that leads to it.
    """

    tips: list[tuple[float, tuple[float, ...]]] = field(default_factory=list)
    work: list[float] = field(default_factory=list)
    turns: list[tuple[float, int, tuple[str, ...]]] = field(default_factory=list)
    lid: dict[str, float] = field(default_factory=dict)
    onset: float | None = None
    begun: float | None = None
    down: float | None = None
    trip: float | None = None
    off: float | None = None
    by_hand: bool = False
    open_100: float | None = None
    apart: float = 0.0
    hurried: bool = False
    guard: float = 0.0

    def turned(self, stage: int) -> float | None:
        """When the keeper turned to this stage [s]."""
        return next((t for t, s, _ in self.turns if s == stage), None)

    def tips_at(self, t: float) -> tuple[float, ...]:
        """What the tips feel then."""
        return next((tips for at, tips in self.tips if at >= t), self.tips[-1][1])

    def steepest_fall(self, upper: float, lower: float) -> float:
        """The fastest that any probe fell between these degC once the heating had ended, over ten minutes [degC/h]."""
        end = self.off if self.off is not None else inf
        cooling = [tips for t, tips in self.tips if t > end]
        over = round(600 / (self.tips[1][0] - self.tips[0][0]))
        falls = [
            (a - b) * 6
            for before, after in zip(cooling[::6], cooling[over::6], strict=False)
            for a, b in zip(before, after, strict=True)
            if upper >= a > b >= lower
        ]
        return max(falls, default=0.0)


def end_celsius(cone: str) -> float:
    """Of this cone at 60 degC/h, as published."""
    return PUBLISHED[cone][60]


def harder(cone: str) -> str:
    """The next whole cone: the guard."""
    return ORDER[ORDER.index(cone) + 1]


def _stages(d: random.Random, kind: str, *, raw: bool) -> tuple[Stage, ...]:
    low, medium, high = (("low",) * 3, ("medium",) * 3, ("high",) * 3)
    if kind == "low-cone":
        return (Stage("low", low, d.uniform(1, 2) * HOUR, "half"), Stage("medium", medium, 0, "in"))
    candling = Stage("candling", ("low", "off", "off"), d.uniform(5, 11) * HOUR, "out")
    return (
        *((candling,) if raw else ()),
        Stage("low", low, d.uniform(1, 2) * HOUR, "half"),
        Stage("medium", medium, d.uniform(1.2, 2.8) * HOUR, "in"),
        Stage("high", high, 0, "in"),
    )


def _wares(d: random.Random, kind: str, build: Build, *, raw: bool) -> tuple[Ware, ...]:
    filled = d.uniform(7, 22) * (build.diameter / 0.55) ** 2 * {"dense-load": 1.5, "near-empty": 0.45}.get(kind, 1.0)
    heat, damp = d.uniform(900, 1150), d.uniform(0.003, 0.03) if raw else 0.001
    masses = [filled * d.uniform(0.8, 1.2) for _ in range(3)]
    return tuple(Ware(m, heat, m * damp, m * 0.5 if raw else 0.0) for m in masses)


def draw(kind: str, seed: int) -> Case:
    """The kiln as built, before anybody made it strong enough."""
    d = random.Random(f"other hand {kind} {seed}")
    build = Build(
        diameter=d.uniform(0.42, 0.66), ring_height=d.uniform(0.20, 0.25), wall=d.uniform(0.06, 0.08),
        conductivity=d.uniform(0.11, 0.18), conductivity_rise=d.uniform(0.9e-4, 1.7e-4), density=d.uniform(450, 720),
        heat_capacity=d.uniform(850, 1050), outside=d.uniform(8, 14), leak=d.uniform(0.1, 0.5),
        air_capacity=d.uniform(1500, 3500), emissivity=d.uniform(0.4, 0.7), view=d.uniform(0.25, 0.7),
        stirring=d.uniform(8, 20),
    )  # fmt: skip
    raw = {"bisque": True, "glaze": False, "low-cone": False, "high-cone": False, "night-switch-high": True}.get(
        kind, d.random() < 0.5
    )
    cone = d.choice({"low-cone": LOW_CONES, "high-cone": HIGH_CONES}.get(kind, BISQUE_CONES if raw else GLAZE_CONES))
    hottest = max(1150.0, end_celsius(cone)) + (d.uniform(60, 150) if kind == "high-cone" else d.uniform(90, 260))
    stages = _stages(d, kind, raw=raw)
    room = d.uniform(-4, 3) if kind == "cold-room" else d.uniform(8, 28)
    return Case(
        kind, seed, build, (build.watts_to_hold(hottest, 18.0) / 3 / 1.05,) * 3,
        {"off": 0.0, "low": 0.25, "medium": 0.5, "high": 1.0} if d.random() < 0.7 else
        {"off": 0.0, "low": d.uniform(0.2, 0.35), "medium": d.uniform(0.45, 0.65), "high": 1.0},
        cone, raw, stages, tuple(lateness(d) for _ in stages), _wares(d, kind, build, raw=raw), room,
        room + d.uniform(30, 70) if kind == "warm-start" else room, d.uniform(0.97, 1.02), d.uniform(0.93, 1.0),
        d.gauss(0, 1.5), d.uniform(-3, 6) + d.gauss(0, 2), d.uniform(110, 180),
        tuple(Eye(d.uniform(0.2, 0.5), d.uniform(0.2, 0.5), d.uniform(25, 140), d.gauss(0, 1.2), d.gauss(0, 0.0025))
              for _ in RINGS),
        d.uniform(0.2, 1.1),
        tuple(h * HOUR for h in (9, 10.5, 12)) if kind == "plug-peeks" else (),
    )  # fmt: skip


def lateness(d: random.Random) -> float:
    """Of one turn [s]."""
    minutes = d.gauss(6, 9) if d.random() < 0.8 else d.uniform(10, 25)
    return 60 * max(-10.0, min(25.0, minutes))


def earlier(case: Case) -> Case:
    """The same kiln fired before: as much ware of the same sort, within a quarter; other weather, volts and hand.

    A load of quite another weight is no firing that a plan would tell of as the last good one of its kind.
    """
    d = random.Random(f"other hand, before {case.kind} {case.seed}")
    room, fuller = d.uniform(8, 28), d.uniform(0.8, 1.25)
    wares = tuple(_filled(ware, fuller * d.uniform(0.9, 1.1), d.uniform(0.5, 1.6)) for ware in case.wares)
    return replace(
        case, lateness=tuple(lateness(d) for _ in case.stages), room=room, start=room, peeks=(),
        wares=wares, volts=d.uniform(0.97, 1.02),
        cone_off=d.gauss(0, 1.5), trip_off=case.trip_off + d.gauss(0, 2),
    )  # fmt: skip


def _filled(ware: Ware, fuller: float, damper: float) -> Ware:
    """As much more of it, and so much damper."""
    return replace(
        ware, kilograms=ware.kilograms * fuller, water_kilograms=ware.water_kilograms * fuller * damper,
        clay_kilograms=ware.clay_kilograms * fuller,
    )  # fmt: skip


def upset(case: Case, twin: Fired) -> Upset:
    """What goes wrong in this firing; twin: how it goes where nothing does."""
    d = random.Random(f"other hand, upset {case.kind} {case.seed}")
    turned = twin.turned(len(case.stages) - 1)
    assert turned is not None
    assert twin.trip is not None
    kind, ring, last = case.kind, d.randrange(3), twin.trip - turned
    at = turned + last * d.uniform(0.15, 0.8)
    match kind:
        case "power-back":
            return Upset(kind, at, at + d.uniform(15, 50) * 60)
        case "half-element":
            return Upset(kind, at, ring=ring, amount=0.5)
        case "drift-down" | "drift-up":
            return Upset(kind, at, ring=ring, amount=d.uniform(20, 45) * (-1 if kind == "drift-down" else 1))
        case "probe-slipped":
            return Upset(kind, at, ring=ring, amount=d.uniform(0.05, 0.12))
        case "stall-sag":
            return Upset(kind, turned + last * d.uniform(0.55, 0.85), amount=d.uniform(0.78, 0.87))
        case "lid-ajar":
            return Upset(kind, turned + last * d.uniform(0.1, 0.5), ring=2, amount=d.uniform(1.5, 4))
        case "timer-ran-out":
            return Upset(kind, twin.trip - d.uniform(20, 50) * 60)
        case "shutoff-jams":
            return Upset(kind, amount=1.5 * HOUR)
        case "tripped-early":
            return Upset(kind, amount=d.uniform(0.03, 0.3))
        case "lid-opened-hot":
            return Upset(kind, amount=d.uniform(600, 800))
        case "relit-after-trip":
            return Upset(kind, amount=d.uniform(0.6, 3) * HOUR)
        case "switch-left-low" | "switch-left-medium" | "still-on" | "ring-left-low":
            return Upset(kind, ring=ring)
        case "night-switch-high":
            return Upset(kind)
        case _:
            return Upset(kind, at, ring=ring)
