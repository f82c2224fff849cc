"""A seeded family of kilns, keepers and troubles: what the engine is proved against.

The heat is `spyhole_hardware.emulated.thermal`, of which Puffin is one draw; sizes, bricks, loads, rooms, habits and
errors are drawn here. All ranges are invented around common practice (no source) and wider than the engine's priors.
"""

import math
import random
from dataclasses import dataclass, field, replace

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Cooling, CoolingLimit, Damp, Plan, Plugs, Spread, Stage, Ware
from spyhole.core.reading import Fault, ProbeReading, Reading, to_chip_step
from spyhole_hardware.emulated.cone import SMALL_AT_300, STANDING_AT_60, Cone, cooler
from spyhole_hardware.emulated.probe import EmulatedProbe, gauss
from spyhole_hardware.emulated.puffin import BUILD
from spyhole_hardware.emulated.shutoff import Shutoff
from spyhole_hardware.emulated.thermal import Build, Heat, Load, share_of_watts
from spyhole_hardware.emulated.timer import BackupTimer

STEP = 5
HOUR = 3600
LONGEST_HOURS = 60
TRIP_LATE_MINUTES = 30.0
NAMES = ("bottom", "second", "third", "fourth", "fifth", "sixth", "seventh", "top")

HEALTHY = (
    "plain", "warm-start", "cold-room", "hot-room", "long-candle", "plug-peeks", "lid-propped-candling", "late-keeper",
    "early-keeper", "nothing-logged", "wrong-entries", "timer-extended", "cycling-switches", "sag", "unequal-rings",
    "aged-elements", "dense-load", "near-empty", "wet-with-care", "probe-lag", "one-probe", "two-probes", "clock-step",
    "gap-in-readings", "restart", "noise-spikes", "power-blip", "guide-cone", "glaze", "one-ring",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trouble:
    """accepted: tags of the right family. also: consequences allowed beside them. minutes: later than this is late.

    stage, after: when it begins, minutes into a stage; stage 9: after cone-down, 10: after the shut-off tripped.
    """

    accepted: frozenset[str]
    also: frozenset[str]
    stage: int
    after: float
    minutes: float


def _t(accepted: str, stage: int, after: float, minutes: float, also: str = "") -> Trouble:
    return Trouble(frozenset(accepted.split()), frozenset(also.split()), stage, after, minutes)


PROBE = "probe-open probe-shorted probe-stuck probe-out probe-reversed probe-doubtful probe-noisy chip-silent blind"
OVER = "shutoff-overdue guard-cone ceiling-passed kiln-limit timer-short still-on"
LOST = "heat-lost fell-short stall timer-short"
TROUBLES = {
    "shutoff-jams": _t("shutoff-overdue guard-cone ceiling-passed", 9, 0, 60, OVER),
    "night-switch-high": _t("damp-hurry runaway ceiling-passed", 0, 0, 60, "uneven runaway ring-behind"),
    "damp-turned-up": _t("damp-hurry runaway", 0, 60, 45, "ceiling-passed uneven"),
    "ring-opens": _t("ring-behind uneven", 3, 40, 45, "stall uneven timer-short"),
    "ring-fuse-medium": _t("ring-behind uneven", 2, 30, 60, "stall uneven timer-short"),
    "power-lost": _t("heat-lost fell-short", 3, 50, 15, LOST),
    "power-lost-medium": _t("heat-lost fell-short", 2, 30, 15, LOST),
    "power-back": _t("power-back", 3, 80, 20, LOST + " power-back"),
    "timer-ran-out": _t("heat-lost fell-short", 3, 60, 15, LOST),
    "tripped-early": _t("fell-short heat-lost", 3, 70, 20, LOST),
    "stall-sag": _t("stall", 3, 60, 90, "timer-short fell-short heat-lost"),
    "runaway": _t("runaway damp-hurry ceiling-passed", 1, 20, 45, "ceiling-passed uneven damp-hurry"),
    "still-on": _t("still-on", 10, 1, 45, OVER + " uneven"),
    "probe-open": _t("probe-open", 3, 30, 5, PROBE),
    "probe-shorted": _t("probe-shorted probe-doubtful", 3, 30, 15, PROBE),
    "probe-stuck": _t("probe-stuck probe-doubtful", 2, 40, 45, PROBE),
    "probe-out": _t("probe-out probe-doubtful", 3, 30, 15, PROBE),
    "probe-reversed": _t("probe-reversed probe-doubtful", 0, 0, 120, PROBE),
    "probe-swapped": _t("probe-swapped probe-doubtful", 0, 0, 240, PROBE + " ring-behind"),
    "probe-noisy": _t("probe-noisy probe-doubtful", 2, 30, 20, PROBE),
    "drift-down": _t("probe-doubtful", 2, 30, 60, PROBE + " " + OVER),
    "drift-up": _t("probe-doubtful", 2, 30, 60, PROBE),
    "probe-step": _t("probe-doubtful", 3, 30, 30, PROBE),
    "blind": _t("blind", 3, 30, 15, PROBE),
    "chip-silent": _t("chip-silent", 2, 30, 5, PROBE),
    "chip-forgot": _t("chip-forgot", 2, 30, 15, PROBE),
    "box-hot": _t("box-hot", 3, 30, 30, PROBE),
    "lid-opened-hot": _t("cooling-fast", 10, 60, 30, ""),
    "timer-short": _t("timer-short", 3, 10, 60, LOST),
    "relit-after-trip": _t("no-cone-left", 10, 20, 45, OVER + " " + LOST + " power-back"),
    "nobody-near": _t("nobody-near", 3, 0, 240, ""),
    "gap": _t("watch-gap watch-late", 2, 30, 60, "watch-gap watch-late"),
}


@dataclass(slots=True)
class Case:
    """One firing before it is fired. habits: which entries are written and how late."""

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
    last_hours: float | None = None


@dataclass(slots=True)
class Fired:
    """What was seen and what was so. Times in seconds since watching began. cone_down: the reference ring's."""

    readings: list[tuple[float, Reading]] = field(default_factory=list)
    entries: list[tuple[float, Entry]] = field(default_factory=list)
    ends: list[tuple[float, tuple[float, ...]]] = field(default_factory=list)
    work: list[tuple[float, float]] = field(default_factory=list)
    onset: float | None = None
    cone_down: float | None = None
    off: float | None = None
    open_100: float | None = None
    bought: float = 0.0
    balance: float = 0.0


def draw(seed: int, kind: str) -> Case:
    """The kiln, load, room and keeper of this seed."""
    d = random.Random(f"proving {seed} {kind}")
    count = 1 if kind == "one-ring" else d.choices((1, 2, 3, 4, 5, 6, 8), (4, 10, 60, 12, 6, 5, 3))[0]
    if count == 1 and kind in ("ring-opens", "ring-fuse-medium", "unequal-rings", "still-on", "probe-swapped"):
        count = 3
    wide = d.uniform(300, 430) if count < 3 else d.uniform(430, 760)
    high = d.uniform(115, 260) * (0.7 if count > 4 else 1)
    area = wide * high / (570 * 240)
    thick = d.uniform(0.85, 1.4)
    brick = replace(
        BUILD.brick,
        conductivity_at_zero=BUILD.brick.conductivity_at_zero * d.uniform(0.8, 1.3),
        density=BUILD.brick.density * d.uniform(0.85, 1.3),
    )
    shell = math.pi * (wide / 1000 + 0.07) * high * count / 1000 + math.pi * (wide / 1000 + 0.07) ** 2 / 2
    glaze = kind == "glaze" or d.random() < 0.3
    cone = d.choice(("06", "05", "03", "5", "6", "8")) if glaze else d.choice(("07", "06", "05", "04", "03"))
    power = 4300 * d.uniform(0.95, 1.3) * (1.25 if cone in "568" else 1) / (0.5 + 0.5 * thick)
    rated = [power * shell / count * d.uniform(0.94, 1.06) for _ in range(count)]
    scaled = {
        name: getattr(BUILD, name) * area * d.uniform(0.75, 1.3)
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
        wall_layers=tuple(x * thick for x in BUILD.wall_layers), end_layers=tuple(x * thick for x in BUILD.end_layers),
        element_kilograms=BUILD.element_kilograms * max(area, 0.4), outside_coefficient=d.uniform(8, 15), **scaled,
    )  # fmt: skip
    dense = {"dense-load": 1.7, "near-empty": 0.3}.get(kind, d.uniform(0.6, 1.3))
    volume = (wide / 570) ** 2 * high / 240 * dense
    wet = {"wet-with-care": 2.0}.get(kind, d.uniform(0.1, 1.0)) * (0.2 if glaze else 1)
    loads = tuple(
        Load(m := 9 * volume * d.uniform(0.8, 1.2), 8 * volume, 0.08 * m * wet, 0 if glaze else 0.04 * m)
        for _ in range(count)
    )
    names = (*NAMES[: count - 1], "top") if count > 1 else ("only",)
    probes = {"one-probe": 1, "two-probes": 2}.get(kind, d.choices((1, 2, 3), (15, 15, 70))[0])
    if kind in TROUBLES and (kind.startswith(("probe", "drift", "ring")) or kind == "still-on"):
        probes = 3
    probes = min(probes, count)
    middle = count // 2
    seen = {1: {middle}, 2: {middle, count - 1}, 3: {0, middle, count - 1}}[probes]
    kiln = Kiln(
        f"Draw {seed}", 1300 if cone not in "8" else 1320,
        tuple(Ring(n, round(w), Probe("K", d.choice((1, 2, 2))) if i in seen else None)
              for i, (n, w) in enumerate(zip(names, rated, strict=True))),
    )  # fmt: skip
    candle = d.uniform(11, 14) if kind == "long-candle" else (d.uniform(1, 2) if glaze else d.uniform(7, 11))
    low, medium = (Switch.LOW,) * count, (Switch.MEDIUM,) * count
    first = (Switch.LOW,) + (Switch.OFF,) * (count - 1)
    stages = [Stage("candling", first, hours=candle, plugs=Plugs.OUT), Stage("low", low, hours=2, plugs=Plugs.HALF)]
    stages += [Stage("medium", medium, hours=d.uniform(1.5, 2.5), plugs=Plugs.IN)]
    stages += [Stage("high", (Switch.HIGH,) * count, until_cone=True)]
    plan = Plan(
        "proving", cone, tuple(stages), middle, cone, ware=Ware.GLAZE if glaze else Ware.BISQUE,
        spread=Spread(60, 600), damp=Damp(150 if glaze else 50), cooling=Cooling(limits=(CoolingLimit(620, 540, 200),)),
    )  # fmt: skip
    room = {"cold-room": d.uniform(-3, 4), "hot-room": d.uniform(28, 32)}.get(kind, d.uniform(5, 27))
    warm = d.uniform(45, 110) if kind == "warm-start" else room
    age = d.uniform(0.84, 0.9) if kind == "aged-elements" else d.uniform(0.93, 1.02)
    uneven = 0.1 if kind == "unequal-rings" else 0.02
    logs = {"nothing-logged": "none", "wrong-entries": "wrong"}.get(kind, "all" if d.random() < 0.8 else "none")
    late = {"late-keeper": (20, 50), "early-keeper": (-30, -10)}.get(kind, (-4, 12))
    return Case(kind, seed, kiln, plan, build, loads, room, warm, [w * age * d.gauss(1, uneven) for w in rated],
                230 * (0.95 if kind == "sag" else d.uniform(0.975, 1.02)), logs,
                [d.uniform(*late) for _ in stages])  # fmt: skip


class _Keeping:
    """One firing under way."""

    def __init__(self, case: Case, every: int) -> None:
        self.case, self.every, self.chance = case, every, random.Random(f"fire {case.seed} {case.kind}")
        self.rings = len(case.kiln.rings)
        self.heat = Heat(case.build, case.loads, case.start)
        self.probes = [
            EmulatedProbe(
                case.build.seed, case.kiln.rings[r].name, case.kiln.rings[r].probe.tolerance_class, case.start
            )  # type: ignore[union-attr]
            for r in case.kiln.probe_rings
        ]
        if case.kind == "probe-lag":
            for probe in self.probes:
                probe.tip.seconds = 180
        self.near = [self.chance.uniform(0, 0.04) for _ in self.probes]
        plan = case.plan
        # Another engineer's kinetics: the emulated cones' single activation energy, and a lot's scatter.
        self.cone = Cone(STANDING_AT_60[plan.cone] + self.chance.gauss(0, 2), 60)
        self.shutoff = Shutoff(plan.shutoff_cone, case.build.seed, case.seed)
        assert plan.shutoff_cone in SMALL_AT_300
        self.timer = BackupTimer(720, stops_in_power_cut=True)
        self.timer.wind(720)
        self.switches = [Switch.OFF] * self.rings
        self.plugs, self.lid, self.stage, self.began = "out", "closed", -1, 0.0
        self.out = Fired()
        self.trouble = TROUBLES.get(case.kind)
        self.held: dict[int, float] = {}
        self.guide = Cone(STANDING_AT_60[cooler(plan.cone) or plan.cone] + self.chance.gauss(0, 2), 60)
        self.guide_seen = case.kind != "guide-cone"
        self.tripped: float | None = None
        self.done: float | None = None
        self.held_timer = False

    def log(self, t: float, kind: EntryKind, subject: str, value: str) -> None:
        logs = self.case.logs
        if logs == "none" and kind not in (EntryKind.START, EntryKind.SHUTOFF):
            return
        if logs == "wrong" and kind is EntryKind.SWITCH and self.chance.random() < 0.25:
            value = "medium"
        self.out.entries.append((t + self.chance.uniform(0, 120), Entry(kind, subject, value, "Wren")))

    def turn(self, t: float, wanted: tuple[Switch, ...]) -> None:
        for i, switch in enumerate(wanted):
            if self.switches[i] is not switch:
                self.switches[i] = switch
                self.log(t, EntryKind.SWITCH, self.case.kiln.rings[i].name, switch.value)

    def go_on(self, t: float) -> None:
        """The keeper's hand."""
        stages, case = self.case.plan.stages, self.case
        if self.done is not None:
            self.cool(t)
            return
        if self.stage < 0:
            self.out.entries.append((t, Entry(EntryKind.START, "", case.plan.cone, "Wren")))
        if self.stage < 0 or (self.stage < len(stages) - 1 and self.due(t)):
            if self.stage >= 0:
                self.out.ends.append((t - self.began, tuple(self.heat.loads)))
            self.stage, self.began = self.stage + 1, t
            self.turn(t + 1, stages[self.stage].switches)
            plugs = stages[self.stage].plugs
            if plugs is not None and plugs.value != self.plugs:
                self.plugs = plugs.value
                self.log(t + 2, EntryKind.PLUGS, "", self.plugs)
        if self.timer.minutes_left < (30 if case.kind == "timer-extended" else 200) and not self.held_timer:
            self.timer.wind(90 if case.kind == "timer-extended" else 720)
            self.log(t, EntryKind.TIMER, "", f"{self.timer.minutes_left:.0f}")
        jammed = self.shutoff.jammed and self.out.cone_down is not None and t > self.out.cone_down + 3 * HOUR
        if (self.tripped is not None and t > self.tripped + 300) or jammed:
            self.done = t
            if self.tripped is not None:
                self.log(t, EntryKind.SHUTOFF, "", "tripped")
            self.turn(t, (Switch.OFF,) * self.rings)

    def due(self, t: float) -> bool:
        hours = self.case.plan.stages[self.stage].hours or 0
        late = self.case.lates[self.stage] if hours > 1 else 0
        return t >= self.began + hours * HOUR + late * 60

    def cool(self, t: float) -> None:
        hot = max(self.heat.loads)
        for lid, below in (("cracked", 145), ("propped", 120), ("open", 95)):
            if hot < below and ("closed", "cracked", "propped", "open").index(self.lid) < ("closed", "cracked",
                "propped", "open").index(lid):  # fmt: skip
                self.lid = lid
                self.log(t, EntryKind.LID, "", lid)

    def begins(self, t: float) -> bool:
        """Whether the trouble is there; notes its onset."""
        trouble, out = self.trouble, self.out
        if trouble is None:
            return False
        if out.onset is None:
            since = {9: out.cone_down, 10: self.tripped}.get(trouble.stage, self.began)
            there = trouble.stage > 8 or self.stage == trouble.stage
            if there and since is not None and t >= since + trouble.after * 60:
                out.onset = t
        return out.onset is not None

    def watts(self, t: float, on: bool) -> list[float]:
        case, kind = self.case, self.case.kind
        into = t - (self.out.onset or 0)
        volts = case.volts + 2 * math.sin(t / 2400 + case.seed)
        if kind == "stall-sag" and on:
            volts *= 0.84
        if kind == "sag" and int(t / 5400) % 3 == 1:
            volts *= 0.965
        live = self.timer.closed and self.tripped is None
        if kind in ("power-lost", "power-lost-medium") and on:
            live = live and into > 5 * HOUR
        if kind == "power-blip" and self.stage == 3 and 1800 < t - self.began < 1830:
            live = False
        found = []
        for i, switch in enumerate(self.switches):
            share = case.kiln.switch.of(switch)
            if kind == "cycling-switches" and 0 < share < 1:
                share = 1.0 if (t + 7 * i) % 40 < 40 * share else 0.0
            if on and kind in ("night-switch-high", "runaway", "damp-turned-up") and self.stage == self.trouble.stage:  # type: ignore[union-attr]
                share = 1.0 if kind != "night-switch-high" or i == 0 else share
            if on and kind in ("ring-opens", "ring-fuse-medium") and i == self.rings // 2:
                share = 0.0
            own = live
            if on and kind == "still-on" and i == self.rings - 1:
                own, share = True, 1.0
            if on and kind == "relit-after-trip" and into < 2 * HOUR:
                own = True
            found.append(case.watts[i] * share * share_of_watts(volts, 230) if own else 0.0)
        if kind == "power-back" and self.stage == 3 and 2400 < t - self.began < 4800:
            found = [0.0] * self.rings
        return found

    def read(self, t: float, on: bool) -> Reading:
        kind, into = self.case.kind, t - (self.out.onset or 0)
        cold = self.case.room + 3 + (60 if on and kind == "box-hot" else 0)
        got: list[ProbeReading] = []
        values = [p.reads(0, int(t * 1000)) for p in self.probes]
        one = 0 if len(values) < 3 else 1
        if on and kind == "probe-swapped" and len(values) > 1:
            values[0], values[-1] = values[-1], values[0]
        for i, celsius in enumerate(values):
            fault = None
            if self.case.kind == "noise-spikes" and gauss(self.case.seed + i, int(t)) > 3.2:
                celsius += 25
            if on and (i == one or kind in ("blind", "chip-silent")):
                if kind in ("probe-open", "blind"):
                    fault = Fault.OPEN
                elif kind == "chip-silent" and i == one:
                    fault = Fault.BUS
                elif kind == "chip-forgot" and into % 600 < 30:
                    fault = Fault.CONFIG
                celsius = {
                    "probe-shorted": cold, "probe-stuck": self.held.setdefault(i, celsius),
                    "probe-out": self.case.room + (celsius - self.case.room) * math.exp(-into / 90),
                    "probe-reversed": 2 * cold - celsius,
                    "probe-noisy": celsius + 14 * gauss(self.case.seed, int(t)),
                    "drift-down": celsius - min(into / HOUR * 25, 90), "drift-up": celsius + min(into / HOUR * 25, 90),
                    "probe-step": celsius - 35,
                }.get(kind, celsius)  # fmt: skip
            got.append(ProbeReading(None if fault else to_chip_step(celsius), fault, to_chip_step(cold)))
        return Reading(tuple(got))

    def fire(self) -> Fired:
        case, out, heat = self.case, self.out, self.heat
        kind, reference = case.kind, case.plan.reference_ring
        stored = heat.stored_joules()
        t = 0.0
        while t < LONGEST_HOURS * HOUR:
            if t >= 120:
                self.go_on(t)
            on = self.begins(t)
            if kind == "shutoff-jams" or (kind == "drift-down" and on):
                self.shutoff.jammed = True
            if on and kind == "tripped-early" and self.tripped is None:
                self.tripped = self.done = t
            if on and kind == "relit-after-trip" and t == out.onset:
                self.turn(t, (Switch.HIGH,) * self.rings)
            if on and kind in ("timer-ran-out", "timer-short") and not self.held_timer:
                self.held_timer = True
                self.timer.wind(0 if kind == "timer-ran-out" else 25)
                if kind == "timer-short":
                    out.entries.append((t, Entry(EntryKind.TIMER, "", "25", "Wren")))
            lid, plugs = self.lid, self.plugs
            if kind == "lid-propped-candling" and self.stage == 0 and t < 5 * HOUR:
                lid = "propped"
            if kind == "plug-peeks" and self.stage == 3 and (t - self.began) % 2400 < 40:
                plugs = "out"
            if kind == "lid-opened-hot" and on:
                lid = "open"
            watts = self.watts(t, on)
            heat.step(STEP, watts, heat.vents([plugs] * self.rings, lid), case.room)
            for probe, ring, near in zip(self.probes, case.kiln.probe_rings, self.near, strict=True):
                # The tip sees ware and the hot face of the wall, a little of the element.
                probe.step(STEP, (0.6 - near) * heat.loads[ring] + 0.4 * heat.walls[ring].celsius[0]
                           + near * heat.elements[ring])  # fmt: skip
            self.cone.step(STEP, heat.loads[reference])
            self.shutoff.step(STEP, heat.loads[reference])
            self.timer.step(STEP, mains=True)
            self.guide.step(STEP, heat.loads[reference])
            if self.guide.down and not self.guide_seen:
                self.guide_seen = True
                seen = Entry(EntryKind.CONE, case.kiln.rings[reference].name, f"{cooler(case.plan.cone)}:down", "Wren")
                out.entries.append((t + self.chance.uniform(60, 480), seen))
            t += STEP
            if out.cone_down is None and self.cone.down:
                out.cone_down = t
            if self.shutoff.tripped and self.tripped is None:
                self.tripped = t
            if self.stage >= 2 and out.off is None and self.done is not None:
                out.off = t
                out.ends.append((t - self.began, tuple(heat.loads)))
            gap = (kind == "gap" and on and t - (out.onset or 0) < 2 * HOUR) or (
                kind == "gap-in-readings" and self.stage == 1 and 1200 < t - self.began < 1350)  # fmt: skip
            if t % self.every == 0 and not gap:
                out.readings.append((t, self.read(t, on)))
            if t % 600 == 0:
                out.work.append((t, min(self.cone.work, 1.5)))
            if out.off and out.open_100 is None and max(heat.loads) < 100:
                out.open_100 = t
            if out.open_100 and max(heat.loads) < 48:
                break
        account = heat.account
        out.bought = account.bought
        spent = account.room + account.steam + account.clay + heat.stored_joules() - stored
        out.balance = (account.bought - spent) / max(account.bought, 1)
        out.entries.sort(key=lambda e: e[0])
        return out


def fire(seed: int, kind: str, every: int) -> tuple[Case, Fired]:
    """The firing of a seed; a kiln too weak for its cone is a mistake of the draw, and gets more watts."""
    case = draw(seed, kind)
    before = Fired()
    for _ in range(4):
        # Last time: another load in another weather, turned at other minutes.
        d = random.Random(f"before {seed} {kind}")
        fuller = d.uniform(0.8, 1.25)
        loads = tuple(Load(x.ware_kilograms * fuller, x.shelf_kilograms, x.water_kilograms * d.uniform(0.5, 1.2),
                           x.clay_water_kilograms * fuller) for x in case.loads)  # fmt: skip
        before = _Keeping(replace(
            case, kind="plain", seed=seed + 500_000, logs="all", loads=loads, room=case.room + d.gauss(0, 4),
            lates=[d.uniform(-4, 12) for _ in case.lates],
            volts=case.volts * d.gauss(1, 0.008)), 3600).fire()  # fmt: skip
        if before.cone_down is not None and before.off is not None and before.cone_down < 36 * HOUR:
            break
        case.watts = [w * 1.2 for w in case.watts]
        case.kiln = replace(case.kiln, rings=tuple(replace(r, watts=round(r.watts * 1.2)) for r in case.kiln.rings))
    case.last_hours = (before.cone_down or 0) / HOUR
    if len(before.ends) == len(case.plan.stages) and seed % 5 < 3:
        stages = tuple(
            replace(s, expected_hours=took / HOUR, expected_end_celsius=tuple(map(round, reached)))
            for s, (took, reached) in zip(case.plan.stages, before.ends, strict=True)
        )
        case.plan = replace(case.plan, stages=stages)
    return case, _Keeping(case, every).fire()
