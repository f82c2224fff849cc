"""One firing of the proving ground: heat, keeper, shut-off, probes, and what goes wrong, in steps of five seconds.

Whether a trouble can be seen at all is measured, not believed: at its onset the kiln is copied, the copy goes on
without the trouble, and `Fired.seen` says when a probe of the two first shows something else.
"""

from __future__ import annotations

import copy
import math
import random
from array import array
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from family import Case, draw
from kinds import BEFORE, END, EVENT, HEALTHY, TROUBLES, WATCH_ROWS

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.kiln import Switch
from spyhole.core.reading import Fault, ProbeReading, Reading
from spyhole_hardware.emulated.cone import STANDING_AT_60, Cone, cooler
from spyhole_hardware.emulated.probe import EmulatedProbe, gauss
from spyhole_hardware.emulated.thermal import Heat, Load, share_of_watts
from spyhole_hardware.emulated.timer import BackupTimer

STEP = 5
HOUR = 3600
LONGEST_HOURS = 60
ALMOST_NEVER_HOURS = 14
SEEN_CELSIUS = 6.0
BOX_HOT_CELSIUS = 60.0
FAULTS = tuple(Fault)
FAULT_BASE = -10_000_000
LIDS = ("closed", "cracked", "propped", "open")
JAMMED = ("shutoff-jams", "kiln-limit")


def on_share(t: float, cycles: float, share: float) -> float:
    """How much of a step from t on a switch is on that cycles every so many seconds.

    Looked at only each five seconds, a cycle of twenty would beat with the step, and the watts wander for hours.
    """
    on = cycles * share

    def until(at: float) -> float:
        whole, rest = divmod(at, cycles)
        return whole * on + min(rest, on)

    return (until(t + STEP) - until(t)) / STEP


@dataclass(slots=True)
class Fired:
    """What was seen and what was so. Times in seconds since watching began.

    times, steps, cold: a reading each five seconds, in 1/128 degC, a fault as FAULT_BASE less its place. begun: when
    what leads to the trouble began; onset: when it was there; seen: minutes from onset until probes show it; sick:
    the ring it is at. cone_down, work: of the firing cone in the reference ring. off: heating ended. open_100: the
    hottest ware fell below 100 degC. hurried: by how much wet ware climbed faster than the plan's damp limit, at the
    worst in twenty minutes [degC/h]; 0 is as it should be. ends: seconds and probes at the end of each stage.
    """

    times: array[int] = field(default_factory=lambda: array("i"))
    steps: list[array[int]] = field(default_factory=list)
    cold: array[int] = field(default_factory=lambda: array("i"))
    entries: list[tuple[float, Entry]] = field(default_factory=list)
    faults: list[tuple[float, str, bool]] = field(default_factory=list)
    ends: list[tuple[float, tuple[float | None, ...]]] = field(default_factory=list)
    work: list[tuple[float, float]] = field(default_factory=list)
    begun: float | None = None
    onset: float | None = None
    seen: float | None = None
    sick: str | None = None
    cone_down: float | None = None
    off: float | None = None
    open_100: float | None = None
    guard_rise: float = 0.0
    final_work: float = 0.0
    hurried: float = 0.0
    bought: float = 0.0
    balance: float = 0.0

    def readings(self, every: int) -> Iterator[tuple[int, Reading]]:
        """Of those each five seconds, one in so many seconds: the same numbers, fewer of them."""
        for i, t in enumerate(self.times):
            if t % every == 0:
                cold = self.cold[i] / 128
                yield t, Reading(tuple(_probe_reading(steps[i], cold) for steps in self.steps))


def _probe_reading(step: int, cold: float) -> ProbeReading:
    if step <= FAULT_BASE:
        return ProbeReading(None, FAULTS[FAULT_BASE - step], cold)
    return ProbeReading(step / 128, None, cold)


def lid_habits(d: random.Random) -> tuple[tuple[str, float], ...]:
    """How this keeper opens a kiln: what is done to the lid, below which hottest ware [degC]. One props it, another
    leaves it cracked; nobody does it at the plan's very number (common practice, no source)."""
    cracked = ("cracked", d.uniform(115, 150))
    propped = (("propped", d.uniform(102, 115)),) if d.random() < 0.5 else ()
    return (cracked, *propped, ("open", d.uniform(85, 99)))


class Keeping:
    """One firing under way."""

    def __init__(self, case: Case) -> None:
        self.case, self.kind = case, case.kind
        self.chance = chance = random.Random(f"fire {case.seed} {case.kind}")
        plan, kiln = case.plan, case.kiln
        self.rings = len(kiln.rings)
        self.heat = Heat(case.build, case.loads, case.start)
        self.probes = [
            EmulatedProbe(case.build.seed, ring.name, ring.probe.tolerance_class, case.start)
            for ring in kiln.rings
            if ring.probe is not None
        ]
        if case.kind == "probe-lag":
            for probe in self.probes:
                probe.tip.seconds = 180
        end = STANDING_AT_60[plan.cone] + case.lot
        names = list(STANDING_AT_60)
        hotter = names[min(names.index(plan.cone) + 1, len(names) - 1)]
        self.cone = Cone(end, 60, case.activation)
        self.guard = Cone(STANDING_AT_60[hotter] + case.lot, 60, case.activation)
        self.guide = Cone(STANDING_AT_60[cooler(plan.cone) or plan.cone] + case.lot, 60, case.activation)
        self.rod = Cone(end + case.shutoff_late + chance.gauss(0, 1.5), 60, case.activation)
        self.floor = chance.uniform(0.85, 1.0)
        self.guard_grace = chance.uniform(10, 20)
        self.hand_minutes = chance.uniform(2, 12)
        self.jammed = case.kind in JAMMED
        self.timer = BackupTimer(case.dial, stops_in_power_cut=True)
        self.switches = [Switch.OFF] * self.rings
        self.plugs, self.lid, self.stage, self.began = "out", "closed", -1, 0.0
        self.out = Fired(steps=[array("i") for _ in self.probes])
        self.trouble = TROUBLES.get(case.kind)
        self.sick = len(self.probes) // 2
        self.held: dict[int, float] = {}
        self.guide_seen = case.kind != "guide-cone" and chance.random() < 0.7
        self.guard_at_down: float | None = None
        self.tripped: float | None = None
        self.done: float | None = None
        self.dead_since: float | None = None
        self.held_timer = False
        self.looks = chance.uniform(15, 45) if case.kind == "tripped-early" else chance.uniform(2, 12)
        self.rate = chance.uniform(15, 40)
        self.offset = chance.choice((-1, 1)) * chance.uniform(25, 60)
        self.gap_minutes = chance.uniform(10, 120)
        self.bursts = chance.random() < 0.5
        self.lids = lid_habits(random.Random(f"lid {case.seed} {case.kind}"))
        self.calm = False
        self.now = 0.0
        self.felt = [case.start] * self.rings
        self.mixes = [
            (ring, 1 - wall - element, wall, element)
            for ring, (wall, element) in zip(kiln.probe_rings, case.probe_near, strict=True)
        ]

    # --- what a person does

    def log(self, t: float, kind: EntryKind, subject: str, value: str) -> None:
        logs = self.case.logs
        if logs == "none" and kind is not EntryKind.START:
            return
        if logs == "wrong" and kind is EntryKind.SWITCH and self.chance.random() < 0.25:
            value = "medium"
        self.out.entries.append(
            (t + self.chance.uniform(0, self.case.written_late), Entry(kind, subject, value, "Wren"))
        )

    def turn(self, t: float, wanted: tuple[Switch, ...]) -> None:
        for i, switch in enumerate(wanted):
            if self.switches[i] is not switch:
                self.switches[i] = switch
                self.log(t, EntryKind.SWITCH, self.case.kiln.rings[i].name, switch.value)

    def wind(self, t: float, minutes: float) -> None:
        if not self.held_timer:
            self.timer.wind(minutes)
            self.log(t, EntryKind.TIMER, "", f"{self.timer.minutes_left:.0f}")

    def tips(self) -> tuple[float | None, ...]:
        """What probes would show without error, one a ring."""
        found: list[float | None] = [None] * self.rings
        for probe, mix in zip(self.probes, self.mixes, strict=True):
            found[mix[0]] = probe.tip.celsius
        return tuple(found)

    def go_on(self, t: float) -> None:
        """The keeper's hand."""
        stages, case, out = self.case.plan.stages, self.case, self.out
        if self.done is not None:
            self.cool(t)
            return
        if self.kind == "unplanned-heat":
            return
        if self.stage < 0:
            out.entries.append((t, Entry(EntryKind.START, "", case.plan.cone, "Wren")))
        if self.stage < 0 or (self.stage < len(stages) - 1 and self.due(t)):
            if self.stage >= 0:
                out.ends.append((t - self.began, self.tips()))
            self.stage, self.began = self.stage + 1, t
            self.turn(t + 1, stages[self.stage].switches)
            plugs = stages[self.stage].plugs
            if plugs is not None and plugs.value != self.plugs:
                self.plugs = plugs.value
                self.log(t + 2, EntryKind.PLUGS, "", self.plugs)
            left = sum(case.last_minutes[self.stage :]) if case.last_minutes else case.dial
            exact = self.kind == "timer-extended" and self.stage == len(stages) - 1
            self.wind(t + 3, left + 60 if exact else case.dial)
        if self.timer.minutes_left < 20 and self.cone.work < 1:
            self.wind(t, 90)
        self.mind_end(t)

    def mind_end(self, t: float) -> None:
        """A keeper sees the trip in a while, watches the guard cone, and does not heat for ever."""
        out = self.out
        last = self.case.plan.stages[-1]
        jammed = self.jammed and out.cone_down is not None and t > out.cone_down + 3 * HOUR
        by_cones = False
        if out.cone_down is not None and not self.jammed and last.until_cone:
            rise = self.guard.bend_degrees - (self.guard_at_down or 8.0)
            by_hand = not self.case.kiln.cone_shutoff and t > out.cone_down + self.hand_minutes * 60
            by_cones = self.tripped is None and (rise > self.guard_grace or by_hand)
        held = not last.until_cone and self.stage == len(self.case.plan.stages) - 1 and self.due(t)
        never = self.stage == len(self.case.plan.stages) - 1 and t > self.began + ALMOST_NEVER_HOURS * HOUR
        dead = self.dead_since is not None and t > self.dead_since + 6 * HOUR
        seen_trip = self.tripped is not None and t > self.tripped + self.looks * 60
        if seen_trip or jammed or by_cones or held or never or dead:
            self.done = t
            out.ends.append((t - self.began, self.tips()))
            if self.tripped is not None:
                self.log(t, EntryKind.SHUTOFF, "", "tripped")
            self.turn(t, (Switch.OFF,) * self.rings)

    def due(self, t: float) -> bool:
        stage = self.case.plan.stages[self.stage]
        if stage.until_celsius is not None:
            ring = self.case.plan.reference_ring
            shown = next(p.tip.celsius for p, m in zip(self.probes, self.mixes, strict=True) if m[0] == ring)
            return shown >= stage.until_celsius
        hours = stage.hours or 0.0
        late = self.case.lates[self.stage] if hours > 1 else 0
        # A mirror held to the plug hole says whether steam still comes.
        wet = self.stage == 0 and hours > 5 and any(self.wet(ring) for ring in range(self.rings))
        return t >= self.began + hours * HOUR + late * 60 + (6 * HOUR if wet else 0)

    def wet(self, ring: int) -> bool:
        """Whether steam still comes from this ring: more water than a hundredth of the ware."""
        return self.heat.water[ring] > 0.01 * self.case.loads[ring].ware_kilograms

    def cool(self, t: float) -> None:
        hot = max(self.heat.loads)
        if self.kind == "cools-too-fast" and hot < 680 and self.lid == "closed" and not self.calm:
            self.lid = "open"
            self.out.begun = self.out.begun or t
        for lid, below in self.lids:
            if hot < below and LIDS.index(self.lid) < LIDS.index(lid):
                self.lid = lid
                self.log(t, EntryKind.LID, "", lid)

    # --- what goes wrong

    def planned(self) -> float:
        """Seconds into the stage under way at which its trouble comes."""
        assert self.trouble is not None
        last = self.case.last_minutes
        took = last[self.stage] if 0 <= self.stage < len(last) else 1e9
        return min(self.trouble.after, 0.45 * took) * 60

    def begins(self, t: float) -> bool:
        """Whether the trouble is there; notes its onset."""
        trouble, out = self.trouble, self.out
        if trouble is None or self.calm:
            return False
        if out.onset is None and trouble.stage == EVENT:
            self.watch_event(t)
        elif out.onset is None:
            place = trouble.stage
            if place < BEFORE:
                place = len(self.case.plan.stages) + place + 1
            if trouble.stage == BEFORE:
                there = t >= trouble.after * 60
            elif trouble.stage == END:
                ended = self.tripped if self.tripped is not None else self.done
                there = ended is not None and t >= ended + trouble.after * 60
            else:
                there = self.done is None and self.stage == max(place, 0) and t >= self.began + self.planned()
            if there:
                out.onset = t
        return out.onset is not None

    def watch_event(self, t: float) -> None:
        """Onsets that physics decides."""
        out, kind, last = self.out, self.kind, self.stage == len(self.case.plan.stages) - 1
        if kind in JAMMED and self.rod.down and out.begun is None:
            out.begun = t
        if kind == "shutoff-jams" and out.begun is not None and self.done is None:
            out.onset = t
        elif kind == "kiln-limit":
            limit = self.case.kiln.maximum_celsius
            out.onset = t if max(p.reads(0, int(t * 1000)) for p in self.probes) > limit else None
        elif kind == "uneven":
            tips = [p.tip.celsius for p in self.probes]
            if self.stage >= len(self.case.plan.stages) - 2 and out.begun is None:
                out.begun = t  # the top ring gets too little from here on
            if last and self.done is None and max(tips) > 600 and max(tips) - min(tips) > 42:
                out.onset = t
        elif kind == "cools-too-fast" and out.begun is not None:
            for i, probe in enumerate(self.probes):
                before = self.held.setdefault(1000 * (i + 1) + int(t // 300), probe.tip.celsius)
                if 540 < probe.tip.celsius < 615 and t % 300 == 295 and (before - probe.tip.celsius) * 12 > 190:
                    out.onset = t
        elif kind == "box-hot":
            if last and t >= self.began + 1800:
                out.begun = out.begun or t
            if self.amplifier(t) > BOX_HOT_CELSIUS:
                out.onset = t
        elif kind == "gap":
            if self.stage == len(self.case.plan.stages) - 2 and t >= self.began + 1500 and out.begun is None:
                out.begun = t
            if out.begun is not None and t >= out.begun + self.gap_minutes * 60:
                out.onset = t

    def amplifier(self, t: float) -> float:
        """The amplifier's own temperature: a box beside the kiln; slid against the shell when it gets hot."""
        shell = self.heat.walls[self.rings // 2].celsius[-1]
        slid = 0.0
        if self.kind == "box-hot" and self.out.begun is not None:
            slid = 75 * (1 - math.exp(-(t - self.out.begun) / 900))
        return self.case.room + 2.5 + 0.04 * (shell - self.case.room) + slid

    def watts(self, t: float, on: bool) -> list[float]:
        case, kind = self.case, self.kind
        onset = self.out.onset or 0.0
        into = t - onset
        last = self.stage == len(case.plan.stages) - 1
        volts = case.volts + 2 * math.sin(t / 2400 + case.seed)
        if kind == "stall-sag" and on:
            volts *= 0.82
        if kind == "sag" and int(t / 5400) % 3 == 1:
            volts *= 0.965
        live = self.timer.closed and self.tripped is None
        if kind.startswith("power-lost") and on:
            live = live and into > 5 * HOUR
        if kind == "power-back" and last and self.planned() / 2 < t - self.began < self.planned():
            live = False
            self.out.begun = self.out.begun or t
        if kind == "power-blip" and last and 1800 < t - self.began < 1830:
            live = False
        if kind == "night-relay" and self.stage == 0 and (t - self.began) % (3 * HOUR) > 3 * HOUR - 120:
            live = False
        found = []
        for i, switch in enumerate(self.switches):
            own = live
            if on and kind in ("ceiling", "runaway", "damp-turned-up") and self.in_stage():
                switch = Switch.HIGH
            if on and kind == "night-switch-high" and i == 0 and self.in_stage() and into < 4 * HOUR:
                switch = Switch.HIGH
            if kind == "switch-left-low" and on and i == self.rings - 1 and self.in_stage():
                switch = case.plan.stages[self.stage - 1].switches[i]
            if on and kind == "still-on" and i == self.rings - 1:
                own, switch = into < 6 * HOUR, Switch.HIGH
            if on and kind == "relit-after-trip" and into < 2 * HOUR:
                own, switch = True, Switch.HIGH
            if on and kind == "unplanned-heat":
                own, switch = into < 4 * HOUR, Switch.MEDIUM
            share = case.kiln.switch.of(switch)
            if case.cycles and 0 < share < 1:
                share = on_share(t + 7 * i, case.cycles, share)
            if on and kind in ("ring-opens", "ring-fuse-medium") and i == self.rings // 2:
                share = 0.0
            if on and kind == "half-element" and i == self.rings // 2:
                share /= 2  # two elements side by side, and one of them is open
            if kind == "uneven" and i == self.rings - 1 and self.stage >= len(case.plan.stages) - 2 and not self.calm:
                share *= 0.6
            if on and kind == "elements-tired":
                share *= 1 - 0.42 * min(1.0, into / 1200)
            found.append(case.watts[i] * share * share_of_watts(volts, case.kiln.mains_volts) if own else 0.0)
        return found

    def in_stage(self) -> bool:
        """Whether the stage in which the trouble began is still under way, and nobody has seen the switches since: no
        neighbour, nor whoever turned all off in the end."""
        onset = self.out.onset
        if self.kind in ("runaway", "damp-turned-up") and onset is not None and self.now > onset + 1.25 * HOUR:
            return False
        return onset is not None and self.began <= onset and self.done is None

    def read(self, t: float, on: bool) -> tuple[list[int], int]:
        """Steps of 1/128 degC, a probe each, and the amplifier's."""
        kind, into = self.kind, t - (self.out.onset or 0)
        cold = self.amplifier(t)
        got: list[int] = []
        values = [p.reads(0, int(t * 1000)) for p in self.probes]
        if on and kind == "probe-swapped" and len(values) > 1:
            values[0], values[-1] = values[-1], values[0]
        for i, celsius in enumerate(values):
            fault = None
            if kind == "noise-spikes" and gauss(self.case.seed + i, int(t)) > 3.2:
                celsius += 25
            if on and (i == self.sick or kind == "blind"):
                if kind.startswith("probe-open") or kind == "blind":
                    fault = Fault.OPEN
                elif kind == "chip-silent":
                    fault = Fault.BUS
                elif kind == "probe-flickers" and into % 150 < self.looks * 5:
                    fault = Fault.OPEN
                elif kind == "chip-forgot" and (not self.bursts or into % 240 < 120):
                    fault = Fault.CONFIG
                celsius = {
                    "probe-shorted": cold, "probe-stuck": self.held.setdefault(i, celsius),
                    "probe-out": self.case.room + (celsius - self.case.room) * math.exp(-into / 90),
                    "probe-slipped": self.case.room + (celsius - self.case.room) * self.slipped(into),
                    "probe-reversed": 2 * cold - celsius,
                    "probe-noisy": celsius + 14 * gauss(self.case.seed, int(t)),
                    "drift-down": celsius - min(into / HOUR * self.rate, 90),
                    "drift-up": celsius + min(into / HOUR * self.rate, 90), "probe-step": celsius + self.offset,
                }.get(kind, celsius)  # fmt: skip
            got.append(FAULT_BASE - FAULTS.index(fault) if fault else round(celsius * 128))
        return got, round(cold * 128)

    def slipped(self, into: float) -> float:
        """How much of the kiln's heat a tip that slides out of its hole still sees: it settles in some minutes."""
        stays = 1 - self.rate / 200
        return stays + (1 - stays) * math.exp(-into / 240)

    # --- time

    def strike(self, t: float) -> None:
        """What happens at the onset."""
        out, kind = self.out, self.kind
        trouble = self.trouble
        assert trouble is not None
        place = {"middle": self.rings // 2, "last": self.rings - 1, "sick": self.mixes[self.sick][0]}.get(trouble.where)
        out.sick = None if place is None else self.case.kiln.rings[place].name
        out.begun = out.begun or t
        if kind == "tripped-early":
            self.tripped = t
        if kind == "relit-after-trip":
            self.turn(t, (Switch.HIGH,) * self.rings)
        if kind in ("timer-ran-out", "timer-short"):
            self.held_timer = True
            self.timer.wind(0 if kind == "timer-ran-out" else 25)
            if kind == "timer-short":
                out.entries.append((t, Entry(EntryKind.TIMER, "", "25", "Wren")))
        if kind == "drift-down" and self.bursts:
            self.jammed = True
        if kind in WATCH_ROWS:
            out.faults += [(t, kind, True), (t + 1800, kind, False)]

    def tick(self, t: float) -> None:
        """Five seconds."""
        self.now = t
        case, out, heat, kind = self.case, self.out, self.heat, self.kind
        if t >= 120:
            self.go_on(t)
        before = out.onset
        on = self.begins(t)
        if on and before is None:
            self.strike(t)
        if kind in JAMMED and self.calm:
            self.jammed = False
        lid, plugs = self.lid, self.plugs
        last = self.stage == len(case.plan.stages) - 1
        if kind == "lid-propped-candling" and self.stage == 0 and t < 5 * HOUR:
            lid = "propped"
        if kind == "plug-peeks" and last and self.done is None and (t - self.began) % 2400 < 40:
            plugs = "out"
        if kind == "lid-opened-hot" and on:
            lid = "open"
        if kind == "lid-ajar" and on and self.done is None:
            lid = "propped"
        watts = self.watts(t, on)
        heat.step(STEP, watts, heat.vents([plugs] * self.rings, lid), case.room)
        for probe, (ring, ware, wall, element) in zip(self.probes, self.mixes, strict=True):
            probe.step(
                STEP, ware * heat.loads[ring] + wall * heat.walls[ring].celsius[0] + element * heat.elements[ring]
            )
        ring = case.plan.reference_ring
        around = (1 - case.cone_wall) * heat.loads[ring] + case.cone_wall * heat.walls[ring].celsius[0]
        for cone in (self.cone, self.guard, self.guide, self.rod):
            cone.step(STEP, around)
        self.timer.step(STEP, mains=True)
        if any(watts):
            self.dead_since = None
        elif self.dead_since is None and self.stage >= 0:
            self.dead_since = t
        if self.guide.down and not self.guide_seen and self.done is None:
            self.guide_seen = True
            seen = Entry(EntryKind.CONE, case.kiln.rings[ring].name, f"{cooler(case.plan.cone)}:down", "Wren")
            if case.logs != "none":
                out.entries.append((t + self.chance.uniform(60, 480), seen))
        if out.cone_down is None and self.cone.down:
            out.cone_down, self.guard_at_down = t + STEP, self.guard.bend_degrees
        may_trip = case.kiln.cone_shutoff and not self.jammed and any(watts) and last
        if may_trip and self.rod.down and self.cone.work >= self.floor and self.tripped is None:
            self.tripped = t + STEP
        if out.off is None and (self.tripped is not None or self.done is not None):
            out.off = t + STEP

    def note(self, t: float, on: bool) -> None:
        """What is kept of these five seconds."""
        out, kind = self.out, self.kind
        gap = kind == "gap" and out.begun is not None and out.onset is None
        gap = gap or (kind == "gap-in-readings" and self.stage == 1 and 1200 < t - self.began < 1350)
        if not gap:
            steps, cold = self.read(t, on)
            out.times.append(int(t))
            out.cold.append(cold)
            for kept, step in zip(out.steps, steps, strict=True):
                kept.append(step)
        if t % 1200 == 0:
            self.feel_damp()
        if t % 600 == 0:
            out.work.append((t, min(self.cone.work, 1.5)))
        if out.off and out.open_100 is None and max(self.heat.loads) < 100:
            out.open_100 = t

    def feel_damp(self) -> None:
        """Whether wet ware hurried in the last twenty minutes."""
        damp = self.case.plan.damp
        for ring, (now, before) in enumerate(zip(self.heat.loads, self.felt, strict=True)):
            if self.wet(ring) and damp.from_celsius < now < damp.to_celsius:
                self.out.hurried = max(self.out.hurried, (now - before) * 3 - damp.celsius_per_hour)
        self.felt = list(self.heat.loads)

    def twin(self) -> Keeping:
        """The same kiln at this instant, to go on without the trouble: what struck is taken back."""
        mine = self.out
        self.out = Fired(begun=mine.begun, cone_down=mine.cone_down, off=mine.off)
        other = copy.deepcopy(self)
        self.out, other.calm = mine, True
        if self.kind == "tripped-early":
            other.tripped = other.done = None
        if self.kind in ("timer-ran-out", "timer-short"):
            other.timer.wind(self.case.dial)
        return other

    def fire(self) -> Fired:
        """To the end: unloaded, or sixty hours."""
        out, heat, trouble = self.out, self.heat, self.trouble
        stored = heat.stored_joules()
        other: Keeping | None = None
        t = 0.0
        while t < LONGEST_HOURS * HOUR:
            was = out.onset
            self.tick(t)
            if was is None and out.onset is not None and trouble is not None:
                out.seen = 0.0 if trouble.plain else None
                other = self.twin()
            if other is not None and out.onset is not None and trouble is not None and out.seen is None:
                other.tick(t)
                if t % 60 == 0 and self.shows_other(other, t):
                    out.seen = (t - out.onset) / 60
                if t - out.onset > trouble.minutes * 60:
                    other = None
            t += STEP
            self.note(t, out.onset is not None)
            if self.kind == "unplanned-heat" and out.onset is not None and t > out.onset + 5 * HOUR:
                break
            if (out.open_100 or self.done is not None) and max(heat.loads) < 48:
                break
        account = heat.account
        out.bought = account.bought
        spent = account.room + account.steam + account.clay + heat.stored_joules() - stored
        out.balance = (account.bought - spent) / max(account.bought, 1)
        out.guard_rise = self.guard.bend_degrees - (self.guard_at_down or self.guard.bend_degrees)
        out.final_work = self.cone.work
        out.entries.sort(key=lambda e: e[0])
        return out

    def shows_other(self, other: Keeping, t: float) -> bool:
        """Whether some probe shows something clearly different from the twin's."""
        own, cold = self.read(t, self.out.onset is not None)
        theirs, calm = other.read(t, False)
        return abs(cold - calm) > 20 * 128 or any(
            abs(a - b) > SEEN_CELSIUS * 128 for a, b in zip(own, theirs, strict=True)
        )


def fire(seed: int, kind: str) -> tuple[Case, Fired]:
    """The firing of a seed. A kiln too weak, too strong, or past its cone before the last stage gets other watts."""
    case = draw(seed, kind)
    d = random.Random(f"before {seed} {kind}")
    fuller, other_room, volts = d.uniform(0.8, 1.25), d.gauss(0, 4), d.gauss(1, 0.008)
    lates = [d.uniform(-4, 12) for _ in case.lates]
    before = Fired()
    for _ in range(10):
        # Last time: another load in another weather, turned at other minutes.
        loads = tuple(Load(x.ware_kilograms * fuller, x.shelf_kilograms, x.water_kilograms * 0.9,
                           x.clay_water_kilograms * fuller) for x in case.loads)  # fmt: skip
        earlier = replace(
            case, kind="soak" if case.kind == "soak" else "plain", seed=seed + 500_000, logs="all", loads=loads,
            room=case.room + other_room, start=case.room, lates=lates, volts=case.volts * volts, last_minutes=(),
        )  # fmt: skip
        before = Keeping(earlier).fire()
        last = before.ends[-1][0] / HOUR if before.ends else 0.0
        whole = len(before.ends) == len(case.plan.stages)
        quick = last < 1.3 and case.plan.stages[-1].until_cone and case.kind != "soak"
        quick = quick or (whole and case.kind == "cooling-hold" and before.ends[-2][0] < HOUR)
        if before.cone_down is None or last > 7.5:
            factor = 1.2
        elif not whole or quick:
            factor = 0.84
        else:
            break
        case.watts = [w * factor for w in case.watts]
        rings = tuple(replace(r, watts=round(r.watts * factor)) for r in case.kiln.rings)
        case.kiln = replace(case.kiln, rings=rings)
    if before.hurried > 0:
        # A keeper whose plan dries ware faster than that, and has done well with it, says so in the plan.
        damp = case.plan.damp
        case.plan = replace(case.plan, damp=replace(damp, celsius_per_hour=damp.celsius_per_hour + before.hurried + 25))
    case.last_hours = (before.cone_down or 0) / HOUR
    case.last_minutes = tuple(took / 60 for took, _ in before.ends)
    known = kind != "first-firing" and (kind == "ceiling" or seed % 5 < 3)
    if len(before.ends) == len(case.plan.stages) and known:
        stages = tuple(
            replace(s, expected_hours=round(took / HOUR, 2),
                    expected_end_celsius=tuple(None if c is None else float(round(c)) for c in reached))
            for s, (took, reached) in zip(case.plan.stages, before.ends, strict=True)
        )  # fmt: skip
        case.plan = replace(case.plan, stages=stages)
    return case, Keeping(case).fire()


def is_healthy(kind: str) -> bool:
    """Whether nothing is wrong in this kind."""
    return kind in HEALTHY
