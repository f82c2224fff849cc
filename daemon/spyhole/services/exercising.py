"""Runs an exercise on the emulated kiln: brings it to the moment, asks, and hears out of the journal what was done.

One thread does the bringing, as fast as the kiln's clock goes. What was done is never guessed from the page: it is
what the panel's hands did and what stands in the journal since the question.
"""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum

from spyhole.core.exercise_book import EXERCISES, named
from spyhole.core.exercises import Act, Exercise, Handled, Scene, Verdict, judge
from spyhole.core.journal import Clock, Model, Settings, WatchFault
from spyhole.core.reading import Reading
from spyhole.core.refusal import Refusal
from spyhole.services.archive import Archive
from spyhole.services.desk import Desk
from spyhole.services.panel import Panel
from spyhole.services.snapshot import Snapshot

log = logging.getLogger(__name__)

TUTOR = "the exercise"
FASTEST = 3600.0
LOOK_SECONDS = 0.05
DISK_SECONDS = 5.0
PATIENCE_SECONDS = 600.0
"""For setting up: a whole night, a firing and a cooling, on a slow machine."""

FIRINGS_AT_MOST = 3
"""One under way may end before its moment comes."""

NO_ACTS = (Reading, Clock, Settings, Model, WatchFault)
NO_TROUBLE = "none"


Alarms = Callable[[], list[tuple[str, str | None]]]


class Stage(StrEnum):
    """Where an exercise stands."""

    NONE = "none"
    SETTING = "setting"
    ASKING = "asking"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class ExerciseLine:
    """One that can be begun."""

    name: str
    title: str
    story: str


@dataclass(frozen=True, slots=True)
class ExerciseView:
    """The one under way. words: how far it has come. asked_utc_ms: when the question was asked, None before.

    verdict, closing: once it is over.
    """

    stage: Stage
    name: str
    title: str
    story: str
    words: str
    asked_utc_ms: int | None
    verdict: Verdict | None
    closing: str


NOTHING = ExerciseView(Stage.NONE, "", "", "", "", None, None, "")


class Tutor:
    """alarms: (tag, ring) of those that are on and nobody has seen. Thread-safe.

    keepers: who writes by themselves in a rehearsal, and is not the one who exercises.
    """

    def __init__(
        self,
        panel: Panel,
        desk: Desk,
        archive: Archive,
        now_ms: Callable[[], int],
        alarms: Alarms,
        keepers: frozenset[str],
    ) -> None:
        self._panel = panel
        self._desk = desk
        self._archive = archive
        self._alarms = alarms
        self._now_ms = now_ms
        self._others = keepers | {TUTOR}
        self._lock = threading.Lock()
        self._leaving = threading.Event()
        self._thread: threading.Thread | None = None
        self._exercise: Exercise | None = None
        self._view = NOTHING
        self._scene: Scene | None = None
        self._from = 0

    def exercises(self) -> tuple[ExerciseLine, ...]:
        """All there are."""
        return tuple(ExerciseLine(each.name, each.title, each.story) for each in EXERCISES)

    def view(self) -> ExerciseView:
        """The one under way."""
        return self._view

    def begin(self, name: str) -> ExerciseView:
        """Bring the kiln to the moment; Refusal for another name, or while one is being set up."""
        exercise = named(name)
        if exercise is None:
            there = ", ".join(each.name for each in EXERCISES)
            raise Refusal("name", "there is no exercise of this name", f"there are {there}")
        with self._lock:
            if self._view.stage is Stage.SETTING:
                raise Refusal("name", "an exercise is being set up", "wait for its question, or leave it")
            self._leaving.clear()
            self._exercise, self._scene = exercise, None
            self._view = ExerciseView(
                Stage.SETTING, exercise.name, exercise.title, exercise.story, "Making the kiln ready.", None, None, ""
            )
            self._thread = threading.Thread(target=self._run, args=(exercise,), name="exercise", daemon=True)
            self._thread.start()
        return self._view

    def finish(self) -> ExerciseView:
        """The colleague says that this is all they would do: what was right, what was missed, and why. Refusal."""
        with self._lock:
            if self._view.stage is not Stage.ASKING or self._exercise is None or self._scene is None:
                raise Refusal("exercise", "no question has been asked yet", "begin one first")
            verdict = judge(self._exercise, self._scene, self._acts())
            words = "All of it was right." if verdict.whole else "Here is what was right, and what is better next time."
            self._view = replace(
                self._view, stage=Stage.OVER, words=words, verdict=verdict, closing=self._exercise.closing
            )
        return self._view

    def leave(self) -> ExerciseView:
        """Leave it, and mend the kiln."""
        self.stop()
        self._panel.rehearsal.throw(NO_TROUBLE)
        self._panel.set_speed(1.0)
        self._view = NOTHING
        return self._view

    def stop(self) -> None:
        """End the setting up, if there is one."""
        self._leaving.set()
        thread = self._thread
        if thread is not None and thread is not threading.current_thread():
            thread.join(5.0)

    # setting up, in a thread of its own

    def _run(self, exercise: Exercise) -> None:
        try:
            self._set_up(exercise)
        except Exception as error:
            log.exception("the exercise could not be set up")
            said = str(error) if isinstance(error, Refusal) else "the log of this machine says why"
            self._view = replace(self._view, stage=Stage.NONE, words=f"It could not be set up: {said}.")
        finally:
            if self._view.stage is not Stage.ASKING:
                self._panel.set_speed(1.0)

    def _set_up(self, exercise: Exercise) -> None:
        kiln = self._panel.rehearsal
        kiln.throw(NO_TROUBLE)
        kiln.hand_back()
        for out in self._desk.now().out_of_service:
            self._desk.put_back(out.ring, TUTOR)
        self._panel.set_speed(FASTEST)
        for _ in range(FIRINGS_AT_MOST):
            if kiln.view().over and not self._light_again():
                return
            self._say("What stood before is minded, in fast time.")
            if not self._wait(lambda seen: self._calm(seen) or kiln.view().over):
                return
            self._say("The firing goes on, in fast time, until the moment comes.")
            if not kiln.view().over:
                kiln.expect(exercise.trouble)
            if not self._wait(lambda seen: self._is_moment(exercise, seen) or kiln.view().over):
                return
            if not kiln.view().over:
                self._panel.set_speed(1.0)
                self._ask(exercise)
                return
            kiln.throw(NO_TROUBLE)
        raise Refusal("exercise", "the firing was over before the moment came")

    def _light_again(self) -> bool:
        """Whether another firing is on; not when the exercise was left."""
        kiln = self._panel.rehearsal
        self._settle()
        self._say("The kiln cools, is unloaded and loaded again, in fast time.")
        if not self._wait(lambda _: kiln.view().unloaded):
            return False
        self._settle()
        kiln.fire_again()
        return self._wait(lambda _: not kiln.view().over and self._heats())

    def _calm(self, now: Snapshot) -> bool:
        """Nothing of the kiln's calls or stands any more. What does is minded, which is why this is asked again."""
        if all(alarm.tag.startswith("watch-") for alarm in now.alarms):
            return True
        self._settle()
        return False

    def _ask(self, exercise: Exercise) -> None:
        now = self._desk.now()
        open_now = tuple(alarm.episode for alarm in now.alarms if not alarm.acknowledged)
        ring = next((ring for tag, ring in self._alarms() if tag == exercise.until), None)
        with self._lock:
            self._from = now.sequence + 1
            self._scene = Scene(self._now_ms(), self._panel.rehearsal.view().switches, open_now, now.duty.holder, ring)
            self._view = replace(self._view, stage=Stage.ASKING, words="What now?", asked_utc_ms=now.now_utc_ms)

    def _settle(self) -> None:
        """What an earlier exercise left is minded by the exercise, so that what comes is the colleague's own."""
        for alarm in self._desk.now().alarms:
            if not alarm.acknowledged:
                self._desk.acknowledge(alarm.episode, TUTOR)
            elif alarm.state == "latched":
                self._desk.reset(alarm.episode, TUTOR)
        now = self._desk.now()
        if now.duty.asked is not None:
            self._desk.in_reach(TUTOR)
        if self._panel.rehearsal.view().over and now.firing is not None and now.firing.heating:
            for ring in now.rings:
                self._desk.enter("switch", ring.name, "off", TUTOR)

    def _heats(self) -> bool:
        firing = self._desk.now().firing
        return firing is not None and firing.heating

    def _is_moment(self, exercise: Exercise, now: Snapshot) -> bool:
        """The alarm is on; or, where nothing is wrong, the last stage has begun."""
        if now.duty.asked is not None:
            self._desk.in_reach(TUTOR)  # nobody can answer in fast time
        if exercise.until:
            return any(tag == exercise.until for tag, _ in self._alarms())
        firing = now.firing
        return firing is not None and firing.heating and firing.stage_number == len(firing.stages)

    def _wait(self, holds: Callable[[Snapshot], bool]) -> bool:
        """Until it does; False when the exercise is left. Refusal when it takes too long."""
        for _ in range(round(PATIENCE_SECONDS / LOOK_SECONDS)):
            if holds(self._desk.now()):
                return True
            if self._leaving.wait(LOOK_SECONDS):
                return False
        raise Refusal("exercise", "the moment never came")

    def _say(self, words: str) -> None:
        self._view = replace(self._view, words=words)

    def _acts(self) -> list[Act]:
        """What was done since the question, in order."""
        scene = self._scene
        if scene is None:
            return []
        now = self._desk.now()
        self._archive.flush(DISK_SECONDS)
        told = [
            Act(row.monotonic_ms, row.told)
            for row in self._archive.rows_between(now.kiln, self._from, now.sequence)
            if not isinstance(row.told, NO_ACTS) and getattr(row.told, "who", "") not in self._others
        ]
        hands = [act for act in list(self._panel.acts) if act.at_ms >= scene.at_ms and isinstance(act.deed, Handled)]
        return sorted(told + hands, key=lambda act: act.at_ms)
