"""A rehearsal: the emulated kiln with its keeper, its clock, its panel, and a state that outlives the daemon.

The clock is the kiln's. It moves only inside `wait_until`, so it waits for whoever has not finished a
tick, and stands still while no daemon runs. The panel is called from the web's threads; one lock guards
the kiln. The state is saved after every wait and every act, in one small file, written aside and renamed.
"""

import json
import os
import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypedDict

from spyhole.core.kiln import Kiln, Switch
from spyhole.core.moment import Moment
from spyhole.core.refusal import Refusal
from spyhole_hardware.emulated.junction import Circuit, Junction
from spyhole_hardware.emulated.keeper import Keeper, Log, Progress
from spyhole_hardware.emulated.kiln import STEP_MS, EmulatedKiln, KilnState
from spyhole_hardware.emulated.script import Script
from spyhole_hardware.emulated.thermal import Build
from spyhole_hardware.emulated.troubles import NONE, TROUBLES, named

STATE_VERSION = 1
SLOWEST, FASTEST = 1.0, 3600.0
LONGEST_NAP_SECONDS = 0.5  # so that a turn at the panel or a new speed is felt at once
LID_WORDS = ("closed", "cracked", "propped", "open")
PLUG_WORDS = ("in", "half", "out")
FOR_GOOD_MS = 10 * 365 * 86_400_000
CATCH_UP_SECONDS = 0.05  # what a late wake-up may make good; more than that is let go


@dataclass(frozen=True, slots=True)
class View:
    """How the emulated kiln stands, for its panel. over: its keeper has done with heating."""

    speed: float
    switches: tuple[tuple[str, str], ...]
    trouble: str
    keeper: bool
    shutoff_tripped: bool
    power: bool
    lid: str
    timer_minutes_left: float
    plugs: str = "in"
    over: bool = False
    unloaded: bool = False


class _State(TypedDict):
    """The state file, whole."""

    version: int
    plan: str
    seed: int
    start_utc_ms: int
    ms: int
    trouble: str
    waiting_trouble: str
    kiln: KilnState
    keeper: dict[str, float | bool | None]


def _load(state_file: Path, script: Script) -> _State:
    """Read a state file; Refusal when it cannot be one of this script's."""
    advice = "move the file away to begin a new rehearsal"
    try:
        state: _State = json.loads(state_file.read_text())
        theirs = (state["version"], state["plan"], state["seed"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise Refusal(str(state_file), f"this is not the state of a rehearsal ({error})", advice) from error
    if theirs != (STATE_VERSION, script.plan.name, script.seed):
        raise Refusal(str(state_file), f"this is another rehearsal's state ({theirs[1]}, form {theirs[0]})", advice)
    return state


def _nobody(kind: str, subject: str, value: str) -> None:
    """The keeper's notes are not wanted."""


class Rehearsal:
    """Clock and panel of one rehearsal (`core.ports.ClockPort` and `RehearsalPort`).

    start_utc_ms: where the kiln's wall clock begins. state_file: taken up if it is there, and then its
    start counts, not the argument's. log: where the keeper writes, called by the thread that waits,
    without the lock held. trouble: comes when it hurts (`troubles.Trouble`); `throw` comes at once.
    Headless until `keep_pace`: waits return as soon as the physics has caught up.
    Refusal for a state file that is not this rehearsal's; ValueError for an unknown trouble.
    """

    def __init__(
        self,
        kiln: Kiln,
        build: Build,
        script: Script,
        *,
        start_utc_ms: int,
        state_file: Path | None = None,
        trouble: str = NONE,
        log: Log = _nobody,
    ) -> None:
        self._lock = threading.RLock()
        self._stopped = threading.Event()
        self._state_file = state_file
        self._log = log
        self._written: list[tuple[str, str, str]] = []
        self._real_seconds: Callable[[], float] | None = None
        self._nap: Callable[[float], object] = self._stopped.wait
        self._speed = FASTEST
        self._due = 0.0
        self._waiting_trouble = named(trouble).name
        self._trouble = NONE
        self.save_error: str | None = None
        saved = _load(state_file, script) if state_file is not None and state_file.exists() else None
        self._start_utc_ms = int(saved["start_utc_ms"]) if saved else start_utc_ms
        self.kiln = EmulatedKiln(kiln, build, script, self._start_utc_ms)
        self.keeper = Keeper(self.kiln, self._write)
        self._ms = 0
        if saved:
            self._take_up(saved)
        self.junctions: tuple[Junction, ...] = tuple(_ProbeEnd(self, ring) for ring in kiln.probe_rings)
        if named(self._waiting_trouble).minutes_into_stage is None:
            self._throw_waiting()

    # --- the clock

    def now(self) -> Moment:
        """This instant on the kiln's clock."""
        ms = self._ms
        return Moment(f"rehearsal-{self._start_utc_ms // 1000}", ms, self._start_utc_ms + ms)

    def wait_until(self, monotonic_ms: int) -> None:
        """Let the kiln go on to this instant, no faster than the speed; at once when stopped."""
        while self._ms < monotonic_ms and not self._stopped.is_set():
            with self._lock:
                target = min(monotonic_ms, self.kiln.ms + STEP_MS)
                if self._real_seconds is not None:
                    target = min(target, self._ms + max(1, int(LONGEST_NAP_SECONDS * self._speed * 1000)))
                pause = self._pause(target - self._ms)
            if pause > 0:
                self._nap(pause)
                if self._stopped.is_set():
                    break
            with self._lock:
                self._ms = target
                if target == self.kiln.ms + STEP_MS:
                    self._step()
                written, self._written = self._written, []
            for note in written:
                self._log(*note)
            if written:
                self._save()
        self._save()

    def keep_pace(
        self,
        real_seconds: Callable[[], float],
        speed: float,
        nap: Callable[[float], object] | None = None,
    ) -> None:
        """From now on at most `speed` kiln seconds a second of this clock; ValueError for a speed out of range.

        nap: waits for so many of its seconds; without it, really, and ended by `stop`.
        """
        with self._lock:
            self.set_speed(speed)
            self._real_seconds = real_seconds
            self._nap = nap or self._stopped.wait
            self._due = real_seconds()

    def stop(self) -> None:
        """Let every wait return, now and from now on."""
        self._stopped.set()

    def _pause(self, kiln_ms: int) -> float:
        """Real seconds to sleep before the kiln may have gone on by so much."""
        if self._real_seconds is None:
            return 0.0
        real = self._real_seconds()
        self._due = max(self._due, real - CATCH_UP_SECONDS) + kiln_ms / 1000 / self._speed
        return self._due - real

    def _step(self) -> None:
        self.kiln.step()
        self.keeper.step()
        stage, minutes = self.keeper.stage_minutes
        waiting = named(self._waiting_trouble)
        onset, wanted = waiting.minutes_into_stage, self.kiln.script.plan.stages[waiting.stage]
        if onset is not None and stage is wanted and minutes >= onset:
            self._throw_waiting()

    def _throw_waiting(self) -> None:
        if self._waiting_trouble != NONE:
            self.kiln.throw(self._waiting_trouble)
            self._trouble, self._waiting_trouble = self._waiting_trouble, NONE

    def _write(self, kind: str, subject: str, value: str) -> None:
        self._written.append((kind, subject, value))

    # --- the panel

    def troubles(self) -> tuple[str, ...]:
        """Names of the troubles that may be thrown in (sentences: `troubles.TROUBLES`)."""
        return tuple(trouble.name for trouble in TROUBLES)

    def throw(self, trouble: str) -> None:
        """Throw one in now; `none` mends. ValueError naming those there are."""
        name = named(trouble).name
        with self._lock:
            self.kiln.throw(name)
            self._trouble, self._waiting_trouble = name, NONE
        self._save()

    def turn(self, ring: str, setting: str) -> None:
        """Turn a switch by hand; from then on the keeper keeps off the switches. ValueError for unknown words."""
        index = self.kiln.description.ring_index(ring)
        if setting not in list(Switch):
            raise ValueError(f"a switch has no setting {setting!r}; it has {', '.join(Switch)}")
        with self._lock:
            self.kiln.turn(index, Switch(setting))
            self.keeper.progress.hands_off = True
        self._save()

    def set_lid(self, lid: str) -> None:
        """Put the lid so; ValueError for another word."""
        self._among("the lid", lid, LID_WORDS)
        with self._lock:
            self.kiln.set_lid(lid)
        self._save()

    def set_plugs(self, plugs: str) -> None:
        """Put all plugs so; ValueError for another word."""
        self._among("a plug", plugs, PLUG_WORDS)
        with self._lock:
            self.kiln.set_plugs(plugs)
        self._save()

    def wind(self, minutes: float) -> None:
        """Wind the timer to so many minutes, as far as its dial goes."""
        with self._lock:
            self.kiln.timer.wind(minutes)
        self._save()

    def isolate(self) -> None:
        """No mains at all, until everything is mended."""
        with self._lock:
            self.kiln.mains_back_ms = self.kiln.ms + FOR_GOOD_MS
        self._save()

    def look(self) -> tuple[tuple[str, float], ...]:
        """(cone, how far it is bent [degrees]) of the pack behind the spyhole, as it is and not as it is thought."""
        with self._lock:
            return tuple((name, cone.bend_degrees) for name, cone in self.kiln.pack.items())

    def hand_back(self) -> None:
        """The switches are the keeper's again, who sets them as the stage under way wants."""
        with self._lock:
            self.keeper.take_back()
        self._save()

    def expect(self, trouble: str) -> None:
        """Throw this in when it hurts; ValueError naming those there are."""
        name = named(trouble).name
        with self._lock:
            self._waiting_trouble = name
            if named(name).minutes_into_stage is None:
                self._throw_waiting()
        self._save()

    def fire_again(self) -> None:
        """Load anew, with new cones, all mended, and let the keeper light it; ValueError before it is unloaded."""
        with self._lock:
            if not self.keeper.progress.unloaded:
                raise ValueError("it is not unloaded yet")
            self.kiln.throw(NONE)
            self._trouble = self._waiting_trouble = NONE
            self.kiln.load_anew()
            self.keeper.progress = Progress()
        self._save()

    @staticmethod
    def _among(what: str, word: str, words: tuple[str, ...]) -> None:
        if word not in words:
            raise ValueError(f"{what} is not put {word!r}; it is {', '.join(words)}")

    def set_speed(self, speed: float) -> None:
        """Kiln seconds a second at most; ValueError outside 1 to 3600."""
        if not SLOWEST <= speed <= FASTEST:
            raise ValueError(f"speed {speed:g} cannot be kept; it goes from {SLOWEST:g} to {FASTEST:g}")
        with self._lock:
            self._speed = speed

    def view(self) -> View:
        """How the emulated kiln stands."""
        with self._lock:
            kiln = self.kiln
            rings = zip(kiln.description.rings, kiln.switches, strict=True)
            return View(
                speed=self._speed,
                switches=tuple((ring.name, switch.value) for ring, switch in rings),
                trouble=self._trouble,
                keeper=not self.keeper.progress.hands_off,
                shutoff_tripped=kiln.shutoff.tripped,
                power=kiln.mains,
                lid=kiln.lid,
                timer_minutes_left=kiln.timer.minutes_left,
                plugs=kiln.plugs[0],
                over=self.keeper.progress.stage >= len(self.kiln.script.plan.stages),
                unloaded=self.keeper.progress.unloaded,
            )

    # --- probes

    def probe_celsius(self, ring: int) -> float:
        """What the wire of this ring's probe gives now."""
        with self._lock:
            return self.kiln.probe_celsius(ring, self._ms)

    def circuit(self, ring: int) -> Circuit:
        """How this ring's probe is wired now."""
        with self._lock:
            return self.kiln.circuit(ring)

    def amplifier_celsius(self) -> float:
        """How warm the amplifiers are now."""
        with self._lock:
            return self.kiln.amplifier_celsius()

    def amperes(self, ring: int) -> float:
        """What this ring draws now, root mean square."""
        with self._lock:
            return self.kiln.amperes[ring]

    # --- the state that outlives the daemon

    def _save(self) -> None:
        """Write the state aside and rename it. A disk that refuses is noted and never stops the clock."""
        if self._state_file is None:
            return
        with self._lock:
            state: _State = {
                "version": STATE_VERSION,
                "plan": self.kiln.script.plan.name,
                "seed": self.kiln.script.seed,
                "start_utc_ms": self._start_utc_ms,
                "ms": self._ms,
                "trouble": self._trouble,
                "waiting_trouble": self._waiting_trouble,
                "kiln": self.kiln.state(),
                "keeper": self.keeper.state(),
            }
            aside = self._state_file.with_suffix(".writing")
            try:
                aside.write_text(json.dumps(state))
                os.replace(aside, self._state_file)
                self.save_error = None
            except OSError as error:
                self.save_error = str(error)

    def _take_up(self, saved: _State) -> None:
        """Go on where the state file stands; a trouble asked for anew is kept, one that came already is not."""
        try:
            self.kiln.restore(saved["kiln"])
            self.keeper.restore(saved["keeper"])
            self._ms = int(saved["ms"])
            self._trouble = named(saved["trouble"]).name
            if self._waiting_trouble in (NONE, self._trouble):
                self._waiting_trouble = named(saved["waiting_trouble"]).name
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            raise Refusal(
                "the rehearsal's state file",
                f"it is damaged ({error})",
                "move the file away to begin a new rehearsal",
            ) from error


class _ProbeEnd:
    """The far end of one probe, as the emulated amplifier meets it (`junction.Junction`)."""

    __slots__ = ("_rehearsal", "_ring", "type")

    def __init__(self, rehearsal: Rehearsal, ring: int) -> None:
        probe = rehearsal.kiln.description.rings[ring].probe
        self._rehearsal = rehearsal
        self._ring = ring
        self.type = probe.type if probe is not None else "K"

    @property
    def hot_celsius(self) -> float:
        return self._rehearsal.probe_celsius(self._ring)

    @property
    def cold_celsius(self) -> float:
        return self._rehearsal.amplifier_celsius()

    @property
    def circuit(self) -> Circuit:
        return self._rehearsal.circuit(self._ring)
