"""An exercise is brought to its moment, asks, and judges what was really done: by the journal and the panel's hands."""

import pickle
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

import pytest

from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.reading import Reading
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.conditions import Conditions
from spyhole.services.exercising import NOTHING, ExerciseView, Stage, Tutor
from spyhole.services.recovery import Codec
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper

RINGS = ("bottom", "middle", "top")
ITSELF = "the keeper"


@dataclass(frozen=True)
class Shown:
    """How the bench stands."""

    over: bool = False
    unloaded: bool = False
    speed: float = 1.0
    trouble: str = "none"
    keeper: bool = True
    shutoff_tripped: bool = False
    power: bool = True
    lid: str = "closed"
    timer_minutes_left: float = 200.0
    plugs: str = "in"
    switches: tuple[tuple[str, str], ...] = tuple((ring, "high") for ring in RINGS)


@dataclass
class Bench:
    """Stands where the emulated kiln does: nothing heats, and what is asked of it is written down."""

    shown: Shown = field(default_factory=Shown)
    asked: list[tuple[str, object]] = field(default_factory=list)

    def troubles(self) -> tuple[str, ...]:
        return ("none", "shutoff-jams")

    def throw(self, trouble: str) -> None:
        self.asked.append(("throw", trouble))

    def expect(self, trouble: str) -> None:
        self.asked.append(("expect", trouble))

    def hand_back(self) -> None:
        self.asked.append(("hand_back", None))

    def set_speed(self, speed: float) -> None:
        self.asked.append(("speed", speed))

    def look(self) -> tuple[tuple[str, float], ...]:
        return (("06", 20.0),)

    def view(self) -> Shown:
        return self.shown


class Classroom:
    """A real watch over a bench, and the tutor."""

    def __init__(self, tools: Any, record: Any, kiln: Kiln, plan: Plan) -> None:
        self.clock, self.bench = tools.clock(), Bench()
        studio = Studio(kiln, plan, "kiln text", "plan text", Manner(), 10.0, emulated=True)
        codec = Codec(1, pickle.dumps, pickle.loads)
        telling, conditions = Telling(), Conditions(lambda: 0)
        rehearsal: Any = self.bench
        self.watch = Watchkeeper(studio, self.clock, record, telling, conditions, codec, rehearsal)
        self.watch.recover()
        self.tutor = Tutor(
            self.watch.panel,
            self.watch,
            record,
            lambda: self.clock.ms,
            alarms=list,
            keepers=frozenset({ITSELF}),
        )
        self.tick = lambda: self.watch.take(Reading(tools.reading(600.0).probes))

    def light(self) -> None:
        """A firing in its last stage."""
        self.later(1)
        self.watch.enter("start", "", "06", ITSELF)
        for ring in RINGS:
            self.watch.enter("switch", ring, "high", ITSELF)
        self.later(2)

    def later(self, minutes: float) -> None:
        for _ in range(round(minutes * 6)):
            self.clock.ms += 10_000
            self.tick()

    def until(self, stage: Stage) -> ExerciseView:
        """The tutor works in a thread of its own; red when it never comes there."""
        end = time.monotonic() + 240
        while self.tutor.view().stage is not stage:
            assert time.monotonic() < end, self.tutor.view()
            time.sleep(0.01)
        return self.tutor.view()


@pytest.fixture
def room(tools: Any, record: Any, kiln: Kiln, plan: Plan) -> Iterator[Classroom]:
    made = Classroom(tools, record, kiln, plan)
    yield made
    made.tutor.stop()
    made.watch.close()


def test_it_asks_at_its_moment_and_judges_what_was_done_since(room: Classroom) -> None:
    room.light()
    room.tutor.begin("handing-over")
    asked = room.until(Stage.ASKING)
    assert (asked.words, asked.verdict) == ("What now?", None)
    assert room.bench.asked[-1] == ("speed", 1.0), "at a kiln's own pace while somebody thinks"
    room.later(1)
    room.watch.panel.look("glasses")
    room.watch.enter("timer", "", "90", ITSELF)  # the emulated keeper's, and no answer
    room.later(1)
    room.watch.take_watch("Jo", "Guide cone is down, 06 next")
    seen = room.tutor.finish()
    assert seen.verdict is not None
    assert seen.stage is Stage.OVER
    right, missed = ([each.words for each in found] for found in (seen.verdict.right, seen.verdict.missed))
    assert "Look in at the cones, with glasses." in right
    assert "Give the watch to your colleague by name." in right
    assert "Wind the timer, and write down for how long." in missed
    assert seen.closing


def test_a_probe_that_the_last_exercise_took_out_of_service_is_back_for_the_next(room: Classroom) -> None:
    room.light()
    room.watch.take_out_of_service("middle", "the wire is loose", "Jo")
    assert room.watch.now().out_of_service
    room.tutor.begin("handing-over")
    room.until(Stage.ASKING)
    assert not room.watch.now().out_of_service


def test_until_its_moment_there_is_no_question_and_leaving_mends_the_kiln(room: Classroom) -> None:
    room.tutor.begin("handing-over")
    assert room.tutor.view().stage is Stage.SETTING
    for act in (room.tutor.finish, lambda: room.tutor.begin("ring-dead")):
        with pytest.raises(Refusal):
            act()
    assert room.tutor.leave() == NOTHING
    assert room.bench.asked[-2:] == [("throw", "none"), ("speed", 1.0)]


def test_a_name_that_no_exercise_has_is_refused_with_those_there_are(room: Classroom) -> None:
    with pytest.raises(Refusal, match="shut-off-jammed"):
        room.tutor.begin("juggling")
    assert {line.name for line in room.tutor.exercises()} >= {"shut-off-jammed", "power-back", "handing-over"}


def test_a_firing_that_ends_before_the_moment_is_followed_by_another(room: Classroom) -> None:
    """It is unloaded and lit again; here it never heats, and whoever waits may leave."""
    room.bench.shown = replace(room.bench.shown, over=True)
    room.tutor.begin("shut-off-jammed")
    wait_for(lambda: "cools, is unloaded" in room.tutor.view().words)
    assert ("expect", "shutoff-jams") not in room.bench.asked
    room.tutor.leave()
    assert room.tutor.view() == NOTHING


def wait_for(holds: Callable[[], bool]) -> None:
    end = time.monotonic() + 240
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.01)
