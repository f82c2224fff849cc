"""The kiln, load, plan, room and keeper of a seed.

The heat is `spyhole_hardware.emulated.thermal`, of which Puffin is one draw; sizes, bricks, loads, rooms, habits and
errors are drawn here. All ranges are invented around common practice (no source) and wider than the engine's priors.
"""

import math
import random
from dataclasses import dataclass, replace

from kinds import TROUBLES

from spyhole.core.kiln import Chamber, Kiln, Probe, Ring, Switch, SwitchShares
from spyhole.core.plan import Cooling, CoolingLimit, Damp, Plan, Plugs, Spread, Stage, Ware
from spyhole_hardware.emulated.cone import ACTIVATION, STANDING_AT_60
from spyhole_hardware.emulated.puffin import BUILD
from spyhole_hardware.emulated.thermal import Build, Load

NAMES = ("bottom", "second", "third", "fourth", "fifth", "sixth", "seventh", "top")
LOW_CONES = ("022", "020", "019", "018", "017", "016", "015", "012", "010")
BISQUE_CONES = ("08", "07", "06", "05", "04", "03")
GLAZE_CONES = ("06", "05", "04", "03", "1", "3", "5", "6", "8")
HIGH_CONES = ("7", "8", "9", "10")
ONE_RING_IS_NOT_ENOUGH = ("ring-opens", "ring-fuse-medium", "switch-left-low", "uneven", "unequal-rings", "still-on")


@dataclass(slots=True)
class Case:
    """One firing before it is fired.

    watts: what each ring truly takes, cold, at the kiln's volts. logs: none, wrong or all; lates: minutes that each
    turn comes late; written_late: seconds at most between doing and writing. cycles: seconds of a cycling switch, 0
    stepped. shutoff_late: degC that the shut-off's cone goes down after a self-supporting one. activation, lot: this
    engineer's kinetics [J/mol], and what the lot is off [degC]. cone_wall: share of wall a cone sees; probe_near:
    shares of wall and element that each probe's tip sees. dial: minutes the timer can be wound. last_hours: from
    lighting to cone down last time; last_minutes: of each stage then.
    """

    kind: str
    seed: int
    kiln: Kiln
    plan: Plan
    build: Build
    loads: tuple[Load, ...]
    room: float
    start: float
    watts: list[float]
    volts: float
    logs: str
    lates: list[float]
    written_late: float
    cycles: float
    shutoff_late: float
    activation: float
    lot: float
    cone_wall: float
    probe_near: list[tuple[float, float]]
    dial: float
    last_hours: float | None = None
    last_minutes: tuple[float, ...] = ()


def _build(d: random.Random, count: int) -> tuple[Build, float]:
    """A build, and the area of its shell [m2]."""
    wide = d.uniform(300, 430) if count < 3 else d.uniform(430, 760)
    high = d.uniform(115, 260) * (0.7 if count > 4 else 1)
    area = wide * high / (570 * 240)
    thick = d.uniform(0.85, 1.4)
    brick = replace(
        BUILD.brick,
        conductivity_at_zero=BUILD.brick.conductivity_at_zero * d.uniform(0.75, 1.4),
        conductivity_rise=BUILD.brick.conductivity_rise * d.uniform(0.7, 1.3),
        density=BUILD.brick.density * d.uniform(0.85, 1.3),
        specific_heat=d.uniform(780, 900),
        specific_heat_rise=d.uniform(2e-4, 5e-4),
    )
    layers = d.choice(((8, 16, 23, 23), (8, 12, 18, 20, 14), (9, 12, 14, 16, 20)))
    scaled = {
        name: getattr(BUILD, name) * area * d.uniform(0.7, 1.35)
        for name in (
            "element_to_wall", "element_to_load", "element_by_air", "wall_to_load", "wall_to_load_by_air",
            "leak", "gaps", "plug_half", "plug_out", "lid_cracked", "lid_propped", "lid_open",
        )
    } | {
        name: getattr(BUILD, name) * (wide / 570) ** 2 * d.uniform(0.6, 1.5)
        for name in ("end_to_load", "end_by_air", "ring_to_ring", "up", "across")
    }  # fmt: skip
    build = replace(
        BUILD, inside_diameter=wide, ring_height=high, brick=brick, seed=d.getrandbits(30),
        wall_layers=tuple(x * thick for x in layers), end_layers=tuple(x * thick for x in BUILD.end_layers),
        element_kilograms=BUILD.element_kilograms * max(area, 0.4) * d.uniform(0.8, 1.3),
        outside_coefficient=d.uniform(8, 15), load_heat=d.uniform(780, 900), load_heat_rise=d.uniform(2e-4, 6e-4),
        element_rise=d.uniform(2e-5, 5e-5), **scaled,
    )  # fmt: skip
    shell = math.pi * (wide / 1000 + 0.07) * high * count / 1000 + math.pi * (wide / 1000 + 0.07) ** 2 / 2
    return build, shell / (0.5 + 0.5 * thick)


def _stages(d: random.Random, kind: str, count: int, cone: str, *, damp: bool) -> tuple[Stage, ...]:
    """A manual plan of one to five turns. Low cones are reached before high is needed."""
    end = STANDING_AT_60[cone]
    low, medium, high = ((s,) * count for s in (Switch.LOW, Switch.MEDIUM, Switch.HIGH))
    lit = 1 if count < 4 else (count + 1) // 2
    first = (Switch.LOW,) * lit + (Switch.OFF,) * (count - lit)
    half = (Switch.MEDIUM,) * ((count + 1) // 2) + (Switch.LOW,) * (count // 2)
    hours = d.uniform(11, 14) if kind == "long-candle" else d.uniform(7, 11) if damp else d.uniform(1, 2)
    candling = Stage("candling", first, hours=hours, plugs=Plugs.OUT)
    all_low = Stage("low", low, hours=d.uniform(1.5, 2.5), plugs=Plugs.HALF)
    all_medium = Stage("medium", medium, hours=d.uniform(1.3, 2.5), plugs=Plugs.IN)
    to_cone = Stage("high", high, until_cone=True)
    if kind == "ramp":
        return (Stage("high", high, until_cone=True, plugs=Plugs.IN),)
    if end < 800:
        return (replace(all_low, hours=d.uniform(1, 1.8)), Stage("medium", medium, until_cone=True, plugs=Plugs.IN))
    if end < 930:
        return (all_low, replace(all_medium, hours=d.uniform(0.8, 1.5)), to_cone)
    if kind == "soak":
        return (candling, all_low, all_medium, Stage("up", high, until_celsius=end - d.uniform(20, 60)),
                Stage("soak", medium, hours=d.uniform(0.3, 0.7)), to_cone)  # fmt: skip
    if kind == "cooling-hold":
        return (candling, all_low, all_medium, Stage("high", high, until_celsius=end + 10.0),
                Stage("hold", low, hours=d.uniform(0.7, 1.5)))  # fmt: skip
    shape = {"three-stages": 3, "five-stages": 5}.get(kind, d.choices((3, 4, 5), (0 if damp else 15, 65, 20))[0])
    if shape == 3:
        return (replace(all_low, hours=d.uniform(2, 3)), all_medium, to_cone)
    between = (Stage("half medium", half, hours=d.uniform(0.7, 1.3)),) if shape == 5 and count > 1 else ()
    return (candling, all_low, *between, all_medium, to_cone)


def draw(seed: int, kind: str) -> Case:
    """The kiln, load, room and keeper of this seed."""
    d = random.Random(f"proving {seed} {kind}")
    trouble = TROUBLES.get(kind)
    probes = {"one-probe": 1, "two-probes": 2}.get(kind, d.choices((1, 2, 3), (15, 15, 70))[0])
    probes = max(probes, trouble.probes if trouble else 1)
    count = d.choices((1, 2, 3, 4, 5, 6, 8), (4, 10, 60, 12, 6, 5, 3))[0]
    count = {"one-ring": 1, "many-rings": d.choice((6, 7, 8)), "two-probes": max(count, 2)}.get(kind, count)
    if kind in ONE_RING_IS_NOT_ENOUGH or probes == 3:
        count = max(count, 3) if trouble or kind in ONE_RING_IS_NOT_ENOUGH else count
    count = max(count, trouble.probes if trouble else 1)
    probes = min(probes, count)
    build, shell = _build(d, count)
    dry = ("glaze", "ramp", "three-stages", "low-cone", "cooling-hold")
    damp_kinds = ("bisque", "wet-with-care", "night-switch-high", "damp-turned-up", "long-candle")
    damp = kind not in dry and (kind in damp_kinds or d.random() < 0.65)
    cone = d.choice(BISQUE_CONES if damp else GLAZE_CONES)
    cone = d.choice({"low-cone": LOW_CONES, "high-cone": HIGH_CONES}.get(kind, (cone,)))
    end = STANDING_AT_60[cone]
    power = 4300 * d.uniform(0.95, 1.3) * max(1.0, end / 1050) ** 1.6
    rated = [power * shell / count * d.uniform(0.93, 1.07) for _ in range(count)]
    dense = {"dense-load": 1.7, "near-empty": 0.3}.get(kind, d.uniform(0.6, 1.3))
    volume = (build.inside_diameter / 570) ** 2 * build.ring_height / 240 * dense
    wet = {"wet-with-care": 2.0}.get(kind, d.uniform(0.1, 0.6)) * (1 if damp else 0.1)
    loads = tuple(
        Load(m := 9 * volume * d.uniform(0.75, 1.25), 8 * volume, 0.08 * m * wet, 0.04 * m if damp else 0)
        for _ in range(count)
    )
    names = (*NAMES[: count - 1], "top") if count > 1 else ("only",)
    middle = count // 2
    seen = {1: {middle}, 2: {middle, count - 1 if d.random() < 0.5 or middle == 0 else 0},
            3: {0, middle, count - 1}}[probes]  # fmt: skip
    volts = d.choice((230.0, 230.0, 240.0, 208.0))
    shares = SwitchShares() if d.random() < 0.7 else SwitchShares(d.uniform(0.2, 0.33), d.uniform(0.45, 0.6), 1.0)
    chamber = Chamber(sum(build.wall_layers), build.inside_diameter, build.ring_height) if d.random() < 0.5 else None
    maximum = (
        end + 28.0 if kind == "kiln-limit" else d.choice([m for m in (1200, 1260, 1290, 1320, 1350) if m > end + 60])
    )
    kiln = Kiln(
        f"Draw {seed}", maximum,
        tuple(Ring(n, round(w), Probe("K", d.choice((1, 2, 2))) if i in seen else None)
              for i, (n, w) in enumerate(zip(names, rated, strict=True))),
        mains_volts=volts, switch=shares, chamber=chamber,
        cone_shutoff=kind not in ("off-by-hand", "cooling-hold"),
    )  # fmt: skip
    climb = 400 if kind in ("ramp", "low-cone") else 50 if damp else 150
    ware = Ware.LUSTRE if end < 800 else Ware.BISQUE if damp else Ware.GLAZE
    limits = (CoolingLimit(620, 540, 150),) if kind == "cools-too-fast" or d.random() < 0.5 else ()
    plan = Plan(
        "proving", cone, _stages(d, kind, count, cone, damp=damp), middle, cone, ware=ware,
        spread=Spread(40, 600) if kind == "uneven" else None, damp=Damp(climb), cooling=Cooling(limits=limits),
    )  # fmt: skip
    room = {"cold-room": d.uniform(-3, 4), "hot-room": d.uniform(28, 32)}.get(kind, d.uniform(5, 27))
    age = d.uniform(0.84, 0.9) if kind == "aged-elements" else d.uniform(0.9, 1.02)
    uneven = {"unequal-rings": 0.1, "uneven": 0.01}.get(kind, 0.025)
    none = 0.0 if kind in ("timer-short", "wrong-entries", "logged-late", "early-keeper", "late-keeper") else 0.2
    logs = {"nothing-logged": "none", "wrong-entries": "wrong"}.get(kind, "none" if d.random() < none else "all")
    late = {"late-keeper": (20, 50), "early-keeper": (-30, -10)}.get(kind, (-4, 12))
    return Case(
        kind, seed, kiln, plan, build, loads, room, d.uniform(45, 110) if kind == "warm-start" else room,
        [w * age * d.gauss(1, uneven) for w in rated],
        volts * (0.955 if kind == "sag" else d.uniform(0.975, 1.02)), logs,
        [d.uniform(*late) for _ in plan.stages], 900 if kind == "logged-late" else 120,
        d.uniform(20, 60) if kind == "cycling-switches" or d.random() < 0.25 else 0.0,
        max(-6.0, min(16.0, d.gauss(4, 5))), ACTIVATION * d.uniform(0.75, 1.3), d.gauss(0, 2), d.uniform(0.15, 0.45),
        [(d.uniform(0.2, 0.55), d.uniform(0, 0.04)) for _ in seen],
        1440 if plan.stages[0].hours and plan.stages[0].hours > 7 else 720,
    )  # fmt: skip
