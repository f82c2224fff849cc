"""The automatic keeper of a rehearsal: follows the plan like a person, a little late, and writes down what was done.

It knows what a person in the room would know: the clock, what the probes show, and what can be seen of
the shut-off and through the spyhole. At night, while the first stage candles, nobody is there.
"""

import random
from collections.abc import Callable
from dataclasses import asdict, dataclass

from spyhole.core.kiln import Switch
from spyhole.core.plan import Stage
from spyhole_hardware.emulated import troubles
from spyhole_hardware.emulated.cone import cooler
from spyhole_hardware.emulated.kiln import EmulatedKiln

Log = Callable[[str, str, str], None]
"""Where the keeper writes: kind, subject, value, in the words of the entries file."""

LOOKS_EVERY_MS = 15_000
MINUTE_MS = 60_000
HOUR_MS = 3_600_000
UNKNOWN_STAGE_HOURS = 3.5  # what a person allows for a stage nobody has timed; common practice, no source
DIAL_MINUTES = 15  # the timer's dial is marked in quarters of an hour
REWOUND_MINUTES = 45
GENEROUS_MINUTES = 30  # over the plan's margin: this keeper would rather not lose a firing to the timer
NEARLY_OUT_MINUTES = 12
HOT_ONCE_CELSIUS = 300.0
BEFORE_LIGHTING = -1


@dataclass(slots=True)
class Progress:
    """How far the keeper has come; all of it survives in the state file.

    stage: -1 before lighting, an index of the plan's stages, or their number while cooling.
    due_ms: when the next act will be done, None while nothing calls for one.
    """

    stage: int = BEFORE_LIGHTING
    began_ms: int = 0
    due_ms: int | None = None
    hands_off: bool = False
    hottest: float = 0.0
    guide_seen: bool = False
    look_ms: int | None = None
    trip_seen: bool = False
    unloaded: bool = False


class Keeper:
    """Minds one firing of one emulated kiln. hands_off: somebody touched the panel, so the switches are theirs."""

    def __init__(self, kiln: EmulatedKiln, log: Log) -> None:
        self._kiln = kiln
        self._log = log
        self._plan = kiln.script.plan
        self.progress = Progress()

    def state(self) -> dict[str, float | bool | None]:
        return asdict(self.progress)

    def restore(self, state: dict[str, float | bool | None]) -> None:
        """Take up what `state` gave; TypeError when it is something else."""
        self.progress = Progress(**state)  # type: ignore[arg-type]

    @property
    def stage_minutes(self) -> tuple[Stage | None, float]:
        """The stage under way (None outside the plan) and the minutes since it began."""
        here = self.progress
        stage = self._plan.stages[here.stage] if 0 <= here.stage < len(self._plan.stages) else None
        return stage, (self._kiln.ms - here.began_ms) / MINUTE_MS

    def take_back(self) -> None:
        """The switches are the keeper's again: as the stage under way wants them."""
        self.progress.hands_off = False
        stage, _ = self.stage_minutes
        if stage is not None:
            self._set_switches(stage.switches)

    def step(self) -> None:
        """Look, and act if something is due. Call after each step of the kiln."""
        kiln, here = self._kiln, self.progress
        if kiln.ms % LOOKS_EVERY_MS or here.unloaded:
            return
        if here.stage == BEFORE_LIGHTING:
            if kiln.ms >= kiln.script.lit_after_seconds * 1000:
                self._light()
        elif here.stage < len(self._plan.stages):
            self._mind_heating(self._plan.stages[here.stage])
        else:
            self._mind_cooling()

    # --- heating

    def _light(self) -> None:
        self._log("start", "", self._plan.cone)
        self._begin(0)

    def _begin(self, stage: int) -> None:
        here = self.progress
        here.stage, here.began_ms, here.due_ms = stage, self._kiln.ms, None
        plugs = self._plan.stages[stage].plugs
        self._set_switches(self._plan.stages[stage].switches)
        if plugs is not None and plugs.value != self._kiln.plugs[0]:
            self._kiln.set_plugs(plugs.value)
            self._log("plugs", "", plugs.value)
        self._wind(self._hours_from(stage) * 60 + self._plan.timer_margin_minutes + GENEROUS_MINUTES)

    def _set_switches(self, switches: tuple[Switch, ...]) -> None:
        """Turn what has to be turned. A trouble may make the hand slip; the log says what was meant."""
        kiln = self._kiln
        if self.progress.hands_off:
            return
        for ring, wanted in enumerate(switches):
            meant = wanted
            if wanted is Switch.LOW and self.progress.stage == 0 and troubles.NIGHT_SWITCH_HIGH in kiln.troubles:
                wanted = Switch.HIGH
            left = ring == len(switches) - 1 and troubles.SWITCH_LEFT_LOW in kiln.troubles
            if left and wanted in (Switch.MEDIUM, Switch.HIGH):
                wanted = Switch.LOW
            if kiln.switches[ring] is not wanted or meant is not wanted:
                kiln.turn(ring, wanted)
                self._log("switch", kiln.description.rings[ring].name, meant.value)

    def _hours_from(self, stage: int) -> float:
        return sum(s.expected_hours or s.hours or UNKNOWN_STAGE_HOURS for s in self._plan.stages[stage:])

    def _wind(self, minutes: float) -> None:
        """Wind the timer to the next mark of the dial, as far as it goes."""
        whole = -(-int(minutes) // DIAL_MINUTES) * DIAL_MINUTES
        self._kiln.timer.wind(whole)
        self._log("timer", "", f"{self._kiln.timer.minutes_left:.0f}")

    def _mind_heating(self, stage: Stage) -> None:
        kiln, here = self._kiln, self.progress
        seen = kiln.seen()
        here.hottest = max([here.hottest, *seen])
        if self._someone_there and self._mind_end():
            return
        if here.due_ms is None and not stage.until_cone:
            here.due_ms = self._when_due(stage, seen)
        if here.due_ms is not None and kiln.ms >= here.due_ms:
            if here.stage + 1 < len(self._plan.stages):
                self._begin(here.stage + 1)
            else:
                self._end("")
        elif self._someone_there:
            self._mind_timer()
            if stage.until_cone:
                self._look_through_spyhole()

    @property
    def _someone_there(self) -> bool:
        return self.progress.stage > 0 or len(self._plan.stages) == 1

    def _when_due(self, stage: Stage, seen: list[float]) -> int | None:
        """When this stage's turn will be made; None while its temperature is not reached."""
        if stage.hours is not None:
            late = max(-4.0, min(14.0, self._chance("turn").gauss(4, 4)))
            return self.progress.began_ms + int(stage.hours * HOUR_MS + late * MINUTE_MS)
        if stage.until_celsius is None or not seen or max(seen) < stage.until_celsius:
            return None
        return self._kiln.ms + int((stage.soak_minutes + self._chance("turn").uniform(2, 8)) * MINUTE_MS)

    def _mind_end(self) -> bool:
        """Whether the firing is over for the keeper, who needs some minutes to see it and to act."""
        kiln, here = self._kiln, self.progress
        all_off = all(switch is Switch.OFF for switch in kiln.switches)
        ran_out = not kiln.timer.closed and self._firing_cone_down
        if not (kiln.shutoff.tripped or ran_out or (all_off and here.hottest > HOT_ONCE_CELSIUS)):
            return False
        if not here.trip_seen:
            here.trip_seen = True
            here.due_ms = kiln.ms + int(self._chance("end").uniform(2, 7) * MINUTE_MS)
        if here.due_ms is not None and kiln.ms >= here.due_ms:
            self._end("tripped" if kiln.shutoff.tripped else "")
        return True

    def _end(self, shutoff: str) -> None:
        here = self.progress
        if shutoff:
            self._log("shutoff", "", shutoff)
        self._set_switches(tuple(Switch.OFF for _ in self._kiln.switches))
        here.stage, here.began_ms, here.due_ms = len(self._plan.stages), self._kiln.ms, None

    @property
    def _firing_cone_down(self) -> bool:
        return self._kiln.pack[self._plan.cone].down

    def _mind_timer(self) -> None:
        """Wind it on before it runs out, until the firing cone is seen down; after that the end is left to it.

        A keeper who trusts the shut-off looks no further: the jammed one is for the watch to find.
        """
        kiln = self._kiln
        if kiln.mains and kiln.timer.minutes_left < NEARLY_OUT_MINUTES and not self._firing_cone_down:
            self._wind(REWOUND_MINUTES)

    def _look_through_spyhole(self) -> None:
        kiln, here = self._kiln, self.progress
        guide = cooler(self._plan.cone)
        if here.guide_seen or guide is None or not kiln.pack[guide].down:
            return
        if here.look_ms is None:
            here.look_ms = kiln.ms + int(self._chance("look").uniform(1, 8) * MINUTE_MS)
        if kiln.ms >= here.look_ms:
            here.guide_seen = True
            self._log("cone", self._reference, f"{guide}:down")

    @property
    def _reference(self) -> str:
        return self._kiln.description.rings[self._plan.reference_ring].name

    # --- cooling

    def _mind_cooling(self) -> None:
        """Crack, prop and open the lid as it gets cold enough, some time after it could be; then unload."""
        kiln, here, cooling = self._kiln, self.progress, self._plan.cooling
        crack, wide = cooling.crack_below_celsius, cooling.open_below_celsius
        steps = {
            "closed": ("cracked", crack),
            "cracked": ("propped", (crack + wide) / 2),
            "propped": ("open", wide),
            "open": ("", cooling.unload_below_celsius),
        }
        act, below = steps[kiln.lid]
        seen = kiln.seen()
        if here.due_ms is None:
            if seen and max(seen) < below:
                here.due_ms = kiln.ms + int(self._chance(f"lid {act}").uniform(5, 25) * MINUTE_MS)
        elif kiln.ms >= here.due_ms:
            here.due_ms = None
            if act:
                kiln.set_lid(act)
                self._log("lid", "", act)
            else:
                self._unload()

    def _unload(self) -> None:
        cone = self._plan.cone
        fired = self._kiln.pack[cone]
        bend = "down" if fired.down else f"{fired.bend_degrees:.0f}"
        self._log("cone", self._reference, f"{cone}:{bend}")
        self._log("note", "", "unloaded")
        self.progress.unloaded = True

    def _chance(self, what: str) -> random.Random:
        """Chance without a state of its own: drawn from the script's seed, what is decided, and the stage."""
        return random.Random(f"keeper {self._kiln.script.seed} {what} {self.progress.stage}")
