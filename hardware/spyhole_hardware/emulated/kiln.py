"""The emulated kiln itself: switches, plugs, lid, shut-off, timer and probes around its heat."""

from typing import TypedDict

from spyhole.core.kiln import Kiln, Switch
from spyhole_hardware.emulated import troubles
from spyhole_hardware.emulated.cone import cooler, standing
from spyhole_hardware.emulated.junction import Circuit
from spyhole_hardware.emulated.probe import EmulatedProbe
from spyhole_hardware.emulated.script import Script
from spyhole_hardware.emulated.shutoff import Shutoff
from spyhole_hardware.emulated.thermal import Build, Heat, share_of_watts
from spyhole_hardware.emulated.timer import BackupTimer

STEP_MS = 5000
STEP_SECONDS = STEP_MS / 1000
LONGEST_TIMER_MINUTES = 720.0
AMPLIFIER_WARMTH = 2.5  # degC over the room, from its own power; typical of a small closed box
AMPLIFIER_SHARE = 0.04  # of what the shell is hotter than the room: the box hangs beside the kiln


class KilnState(TypedDict):
    """Everything that changes, as JSON holds it."""

    ms: int
    heat: dict[str, list[float]]
    switches: list[str]
    plugs: list[str]
    lid: str
    troubles: list[str]
    mains_back_ms: int
    tripped: bool
    shutoff_work: float
    timer: float
    pack: dict[str, float]
    probes: dict[str, list[float]]


class EmulatedKiln:
    """Goes on in steps of STEP_MS; between steps only the probes' lag and noise move.

    So the same firing unrolls whatever the sampling. Everything random is drawn from seeds: of this
    kiln (probes, the shut-off's habit) and of the script (this firing's cone).
    """

    def __init__(self, kiln: Kiln, build: Build, script: Script, start_utc_ms: int) -> None:
        if len(script.loads) != len(kiln.rings):
            raise ValueError(f"{kiln.name} has {len(kiln.rings)} rings, but the script loads {len(script.loads)}")
        self.description = kiln
        self.script = script
        self.start_utc_ms = start_utc_ms
        self.ms = 0
        room = self.room_celsius
        self.heat = Heat(build, script.loads, room)
        self.switches = [Switch.OFF] * len(kiln.rings)
        self.amperes = [0.0] * len(kiln.rings)
        """Root mean square, of each ring in the step that was."""
        self.plugs = ["in"] * len(kiln.rings)
        self.lid = "closed"
        self.troubles: set[str] = set()
        self.mains_back_ms = 0
        self.shutoff = Shutoff(script.plan.shutoff_cone, build.seed, script.seed)
        self.timer = BackupTimer(LONGEST_TIMER_MINUTES, stops_in_power_cut=kiln.timer_stops_in_power_cut)
        guide = cooler(script.plan.cone)
        self.pack = {cone: standing(cone) for cone in (guide, script.plan.cone) if cone is not None}
        self.probes = {
            i: EmulatedProbe(build.seed, kiln.rings[i].name, probe.tolerance_class, room)
            for i, probe in enumerate(ring.probe for ring in kiln.rings)
            if probe is not None
        }
        self._vents = self.heat.vents(self.plugs, self.lid)
        self._middle = len(kiln.rings) // 2
        self._top = max(self.probes)

    @property
    def room_celsius(self) -> float:
        """How warm the room is now."""
        return self.script.room_at((self.start_utc_ms + self.ms) / 1000)

    @property
    def mains(self) -> bool:
        """Whether there is power."""
        return self.ms >= self.mains_back_ms

    @property
    def live(self) -> bool:
        """Whether power reaches the switches."""
        return self.mains and not self.shutoff.tripped and self.timer.closed

    @property
    def heating(self) -> bool:
        """Whether any ring takes power."""
        return self.live and any(switch is not Switch.OFF for switch in self.switches)

    def turn(self, ring: int, switch: Switch) -> None:
        self.switches[ring] = switch

    def set_plugs(self, plugs: str) -> None:
        """All spyhole plugs: in, half or out."""
        self.plugs = [plugs] * len(self.plugs)
        self._vents = self.heat.vents(self.plugs, self.lid)

    def set_lid(self, lid: str) -> None:
        """closed, cracked, propped or open."""
        self._vents = self.heat.vents(self.plugs, lid)
        self.lid = lid

    def throw(self, trouble: str) -> None:
        """Let this trouble happen now; `none` mends what can be mended."""
        if trouble == troubles.NONE:
            self.troubles.clear()
            self.mains_back_ms = min(self.mains_back_ms, self.ms)
        else:
            self.troubles.add(trouble)
        if trouble in troubles.POWER_CUT_MINUTES:
            self.mains_back_ms = self.ms + troubles.POWER_CUT_MINUTES[trouble] * 60_000
        if trouble == troubles.SWITCH_LEFT_LOW and self.switches[-1] is not Switch.OFF:
            self.switches[-1] = Switch.LOW
        self.shutoff.jammed = troubles.SHUTOFF_JAMS in self.troubles

    def load_anew(self) -> None:
        """Another load like the first, a new pack, and a new cone in the shut-off."""
        self.switches = [Switch.OFF] * len(self.switches)
        self.set_plugs("in")
        self.set_lid("closed")
        self.timer.wind(0.0)
        self.shutoff.arm(self.script.plan.shutoff_cone, self.script.seed)
        for cone in self.pack.values():
            cone.work = 0.0

    def step(self) -> None:
        """Go on by STEP_MS."""
        kiln, heat = self.description, self.heat
        utc = (self.start_utc_ms + self.ms) / 1000
        room = self.room_celsius
        watts = [0.0] * len(kiln.rings)
        volts = self.script.volts_at(utc, kiln.mains_volts)
        if self.live:
            share = share_of_watts(volts, kiln.mains_volts)
            for i, ring in enumerate(kiln.rings):
                watts[i] = ring.watts * kiln.switch.of(self.switches[i]) * share
            if troubles.RING_DIES in self.troubles:
                watts[self._middle] = 0.0
        self.amperes = [each / volts for each in watts]
        heat.step(STEP_SECONDS, watts, self._vents, room)
        self.timer.step(STEP_SECONDS, mains=self.mains)
        self.shutoff.step(STEP_SECONDS, (heat.loads[self._middle] + heat.walls[self._middle].celsius[0]) / 2)
        for cone in self.pack.values():
            cone.step(STEP_SECONDS, heat.loads[self.script.plan.reference_ring])
        for i, probe in self.probes.items():
            probe.step(STEP_SECONDS, self._around_probe(i))
        self.ms += STEP_MS

    def _around_probe(self, ring: int) -> float:
        """The tip stands a little way out of the wall: it sees load and brick, and an element from the side."""
        if self._pulled_out(ring):
            return self.room_celsius
        heat = self.heat
        return 0.5 * heat.loads[ring] + 0.4 * heat.walls[ring].celsius[0] + 0.1 * heat.elements[ring]

    def _pulled_out(self, ring: int) -> bool:
        return ring == self._top and troubles.PROBE_PULLED_OUT in self.troubles

    def probe_celsius(self, ring: int, at_ms: int) -> float:
        """What the wire of this ring's probe gives at this instant, from now to a step later."""
        return self.probes[ring].reads((at_ms - self.ms) / 1000, at_ms)

    def circuit(self, ring: int) -> Circuit:
        """How this ring's probe is wired now."""
        broken = troubles.PROBE_OPEN in self.troubles and ring == min(self.probes, key=self._from_middle)
        return Circuit.OPEN if broken else Circuit.SOUND

    def _from_middle(self, ring: int) -> int:
        return abs(ring - self._middle)

    def amplifier_celsius(self) -> float:
        """The amplifier's own temperature."""
        shell = self.heat.walls[self._middle].celsius[-1]
        return self.room_celsius + AMPLIFIER_WARMTH + AMPLIFIER_SHARE * (shell - self.room_celsius)

    def seen(self) -> list[float]:
        """What somebody in the room reads: the probes that are sound, in the order of the rings."""
        return [self.probe_celsius(i, self.ms) for i in self.probes if self.circuit(i) is Circuit.SOUND]

    def state(self) -> KilnState:
        """For the state file."""
        return {
            "ms": self.ms,
            "heat": self.heat.state(),
            "switches": [switch.value for switch in self.switches],
            "plugs": self.plugs,
            "lid": self.lid,
            "troubles": sorted(self.troubles),
            "mains_back_ms": self.mains_back_ms,
            "tripped": self.shutoff.tripped,
            "shutoff_work": self.shutoff.cone.work,
            "timer": self.timer.minutes_left,
            "pack": {name: cone.work for name, cone in self.pack.items()},
            "probes": {str(i): [probe.tip.celsius, probe.surroundings] for i, probe in self.probes.items()},
        }

    def restore(self, state: KilnState) -> None:
        """Take up what `state` gave; KeyError, TypeError or ValueError when it is something else."""
        self.ms = int(state["ms"])
        self.heat.restore(state["heat"])
        self.switches = [Switch(word) for word in state["switches"]]
        self.plugs = list(state["plugs"])
        self.set_lid(state["lid"])
        self.troubles = set(state["troubles"])
        self.mains_back_ms = int(state["mains_back_ms"])
        self.shutoff.tripped = bool(state["tripped"])
        self.shutoff.jammed = troubles.SHUTOFF_JAMS in self.troubles
        self.shutoff.cone.work = float(state["shutoff_work"])
        self.timer.minutes_left = float(state["timer"])
        for name, work in state["pack"].items():
            self.pack[name].work = float(work)
        for i, (tip, surroundings) in state["probes"].items():
            self.probes[int(i)].tip.celsius = float(tip)
            self.probes[int(i)].surroundings = float(surroundings)
