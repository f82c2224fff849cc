"""What the lines in the room do, on simulated time; and with real threads where a thread is the point."""

import itertools
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import pytest

from spyhole.core.alarms.book import AlarmBook
from spyhole.core.alarms.life import Alarm, DeedKind, acknowledge, note
from spyhole.core.cutout import USUAL, Cause, CutOut, rearm
from spyhole.core.journal import Rearm
from spyhole.core.moment import Moment
from spyhole.core.outcome import Priority
from spyhole.core.refusal import Refusal
from spyhole.core.state import State
from spyhole.core.timeline import Timeline
from spyhole.core.watch import begin
from spyhole.services.conditions import BUTTON, ROOM, Conditions
from spyhole.services.cutout import GRACE_SECONDS, CutOutSettings
from spyhole.services.room import LOOK_SECONDS, RETRY_SECONDS, Room
from spyhole_hardware.emulated.gpio import EmulatedLines, Level
from spyhole_hardware.outputs import RoomLines, RoomPins

PINS = RoomPins(sounder=17, lamp=27, cut_out=23, button=22)
TICK_SECONDS = 1.0
UTC_MS = 1_951_155_600_000


@dataclass
class Watched:
    """A watch in memory. answered: who pressed; refused: who pressed in vain."""

    state: State = field(default_factory=lambda: replace(begin(), line=Timeline("b", 0, UTC_MS, 0, UTC_MS)))
    answered: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    stirred: int = 0
    refuse: Refusal | None = None

    def answer_all(self, who: str) -> None:
        if self.refuse is not None:
            self.refused.append(who)
            raise self.refuse
        self.answered.append(who)

    def stir(self) -> None:
        self.stirred += 1

    def stands(self, *alarms: Alarm) -> None:
        self.state = replace(self.state, alarms=AlarmBook(alarms))

    def stopped_by(self, tag: str, *, active: bool) -> None:
        alarm = raised(tag, Priority.HIGH)
        self.stands(replace(alarm, active=active))
        self.state = replace(self.state, cutout=CutOut((Cause(tag, None, "a1", 0),)))

    def rearmed(self) -> None:
        holding = frozenset((a.tag, a.ring) for a in self.state.alarms.alarms if a.active)
        self.state = replace(self.state, cutout=rearm(self.state.cutout, Rearm("Jo"), holding, 9, 0))


def raised(tag: str, priority: Priority) -> Alarm:
    alarm = Alarm(tag, None, holds=True, active=True, acknowledged=False, episode="a1", priority=priority)
    return note(alarm, 0, DeedKind.RAISED)


class Bench:
    """A room on simulated seconds. ticks: whether readings are being completed."""

    def __init__(self, *, hertz: float = 1.0, stops_on: frozenset[str] = USUAL) -> None:
        self.now = 0.0
        self.ticks = True
        self.watched = Watched()
        self.conditions = Conditions(lambda: UTC_MS)
        self.lines = EmulatedLines(lambda: self.now)
        self.opens = 0
        self.cannot_open: Exception | None = None
        self.room = Room(
            self.open,
            frozenset(PINS.driven),
            self.watched,
            self.conditions,
            button=True,
            seconds=lambda: self.now,
            now=lambda: Moment("b", round(self.now * 1000), UTC_MS + round(self.now * 1000)),
            tick_seconds=TICK_SECONDS,
            cut_out=CutOutSettings(hertz, stops_on),
        )

    def open(self) -> RoomLines:
        self.opens += 1
        if self.cannot_open is not None:
            raise self.cannot_open
        return RoomLines(self.lines, PINS)

    def run(self, seconds: float) -> None:
        """Turn when asked to, with a reading completed each second."""
        until, tick = self.now + seconds, self.now
        while self.now < until:
            if self.ticks and self.now >= tick:
                self.room.fed()
                tick += TICK_SECONDS
            due = self.room.turn(self.now)
            self.now = max(self.now + 1e-6, min(due, tick if self.ticks else due, until))

    def of(self, pin: int | None, since: float = 0.0) -> list[Level]:
        assert pin is not None
        return [level for level in self.lines.of(pin) if level.seconds >= since]

    def sounded(self, since: float) -> float:
        """Seconds the sounder was on since then."""
        levels = [*self.of(PINS.sounder), Level(self.now, 17, False)]
        spans = itertools.pairwise(levels)
        return sum(max(0.0, later.seconds - max(since, level.seconds)) for level, later in spans if level.on)

    def beats(self, since: float = 0.0) -> list[float]:
        return [level.seconds for level in self.of(PINS.cut_out, since)]

    def arm(self) -> None:
        self.watched.rearmed()
        self.room.arm()


@pytest.fixture
def bench() -> Bench:
    return Bench()


# sounder and lamp


def test_nothing_sounds_while_nothing_stands(bench: Bench) -> None:
    bench.run(60)
    assert bench.sounded(0) == 0
    assert len(bench.of(PINS.lamp)) > 20, "a short flash each five seconds says that the watch goes on"


@pytest.mark.parametrize(("priority", "seconds"), [(Priority.HIGH, 4.0), (Priority.MEDIUM, 30.0), (Priority.LOW, 60.0)])
def test_an_alarm_is_heard_at_once_and_again_and_again(bench: Bench, priority: Priority, seconds: float) -> None:
    bench.run(10)
    began = bench.now
    bench.watched.stands(raised("guard-cone", priority))
    bench.run(LOOK_SECONDS + 0.01)
    assert bench.sounded(began) > 0
    bench.run(seconds + LOOK_SECONDS)
    assert bench.of(PINS.sounder)[-1].seconds > began + seconds


def test_it_falls_silent_when_somebody_has_seen_it(bench: Bench) -> None:
    alarm = raised("guard-cone", Priority.HIGH)
    bench.watched.stands(alarm)
    bench.run(10)
    bench.watched.stands(acknowledge(alarm, "Jo", 10_000))
    bench.run(LOOK_SECONDS)
    answered = bench.now
    bench.run(600)
    assert bench.sounded(answered + 0.001) == 0
    assert bench.room.view().sounder == "silent"
    assert bench.room.view().lamp == "lit"


def test_the_longer_nobody_answers_the_denser_it_is(bench: Bench) -> None:
    bench.watched.stands(raised("guard-cone", Priority.HIGH))
    heard = []
    for _ in range(3):
        began = bench.now
        bench.run(30)
        heard.append(bench.sounded(began))
        bench.run(150)
    assert heard[0] < heard[1] < heard[2]


# the cut-out heartbeat


def test_it_does_not_beat_before_a_person_arms_it(bench: Bench) -> None:
    bench.run(30)
    assert bench.beats() == []
    view = bench.room.view().cut_out
    assert view is not None
    assert (view.running, view.may_arm) == (False, True)
    assert "nobody has armed" in view.words


@pytest.mark.parametrize("hertz", [0.5, 1.0, 5.0])
def test_armed_it_is_a_square_wave(hertz: float) -> None:
    bench = Bench(hertz=hertz)
    bench.run(5)
    bench.arm()
    bench.run(60)
    levels = bench.of(PINS.cut_out)
    assert all(one.on is not other.on for one, other in itertools.pairwise(levels))
    gaps = [other.seconds - one.seconds for one, other in itertools.pairwise(levels)]
    assert min(gaps) == pytest.approx(0.5 / hertz, abs=0.001)
    assert max(gaps) == pytest.approx(0.5 / hertz, abs=0.001)


def test_a_frozen_sampler_stops_it_within_the_time_that_is_stated(bench: Bench) -> None:
    bench.run(5)
    bench.arm()
    bench.run(20)
    bench.ticks = False
    frozen = bench.now
    bench.run(60)
    assert frozen < bench.beats()[-1] <= frozen + TICK_SECONDS + GRACE_SECONDS
    view = bench.room.view().cut_out
    assert view is not None
    assert "readings stopped" in view.words
    assert not view.may_arm
    assert bench.room.why_not_armed() == "no reading is being completed"


def test_readings_that_come_again_do_not_start_it_again(bench: Bench) -> None:
    bench.run(5)
    bench.arm()
    bench.run(5)
    bench.ticks = False
    bench.run(10)
    bench.ticks = True
    came = bench.now
    bench.run(60)
    assert bench.beats(came) == []
    bench.arm()
    bench.run(5)
    assert len(bench.beats(came)) == pytest.approx(10, abs=1)


def test_a_chosen_alarm_stops_it_and_only_a_person_starts_it(bench: Bench) -> None:
    bench.run(5)
    bench.arm()
    bench.run(5)
    bench.watched.stopped_by("kiln-limit", active=True)
    began = bench.now
    bench.run(30)
    assert bench.beats(began + LOOK_SECONDS) == []
    assert bench.room.why_not_armed() == "Above the kiln's own limit still holds"
    bench.watched.stopped_by("kiln-limit", active=False)
    bench.run(30)
    assert bench.beats(began + LOOK_SECONDS) == [], "over, but nobody has armed it"
    view = bench.room.view().cut_out
    assert view is not None
    assert (view.tag, view.may_arm) == ("kiln-limit", True)
    bench.arm()
    bench.run(5)
    assert len(bench.beats(began + LOOK_SECONDS)) == pytest.approx(10, abs=1)


def test_armed_while_the_cause_holds_it_stays_stopped(bench: Bench) -> None:
    bench.run(5)
    bench.watched.stopped_by("kiln-limit", active=True)
    bench.arm()
    bench.run(30)
    assert bench.beats() == []


def test_an_alarm_that_is_not_chosen_does_not_stop_it(bench: Bench) -> None:
    bench.run(5)
    bench.arm()
    bench.watched.stands(raised("heat-lost", Priority.HIGH))
    bench.watched.state = replace(bench.watched.state, cutout=CutOut((Cause("heat-lost", None, "a1", 0),)))
    began = bench.now
    bench.run(30)
    assert len(bench.beats(began)) == pytest.approx(60, abs=1)


def test_a_room_that_was_held_up_does_not_make_up_for_beats(bench: Bench) -> None:
    bench.run(5)
    bench.arm()
    bench.run(5)
    bench.now += 2.2
    bench.run(5)
    gaps = [b - a for a, b in zip(bench.beats(), bench.beats()[1:], strict=False)]
    assert min(gaps) >= 0.5 - 0.001


# wires that fail


def test_a_line_that_fails_is_tried_again_and_the_heartbeat_waits_for_a_person(bench: Bench) -> None:
    bench.run(5)
    bench.arm()
    bench.run(5)
    bench.lines.broken = OSError(19, "No such device")
    bench.run(10)
    opened = bench.opens
    bench.lines.broken = None
    mended = bench.now
    bench.watched.stands(raised("guard-cone", Priority.HIGH))
    bench.run(RETRY_SECONDS + 5)
    assert bench.opens > opened
    assert bench.sounded(mended) > 0
    assert bench.beats(mended) == []
    view = bench.room.view().cut_out
    assert view is not None
    assert "its wire" in view.words


def test_lines_that_cannot_be_had_at_the_start_are_had_later(bench: Bench) -> None:
    bench.cannot_open = Refusal("[room]", "GPIO 17 cannot be had (Device or resource busy)")
    bench.watched.stands(raised("guard-cone", Priority.HIGH))
    bench.run(12)
    assert bench.opens == 3
    bench.cannot_open = None
    bench.run(RETRY_SECONDS + 1)
    assert bench.sounded(0) > 0


# real threads


class Steady:
    """The seconds of the real world, but for those in which this machine stood still; asked often while they count."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._asked = time.monotonic()
        self._now = 0.0

    def __call__(self) -> float:
        with self._lock:
            asked, self._asked = self._asked, time.monotonic()
            self._now += min(self._asked - asked, 0.05)
            return self._now


@pytest.fixture
def alive(bench: Bench) -> Iterator[Bench]:
    """The room as the daemon runs it, on real time."""
    room = Room(
        bench.open,
        frozenset(PINS.driven),
        bench.watched,
        bench.conditions,
        button=True,
        seconds=Steady(),
        now=lambda: Moment("b", 0, UTC_MS),
        tick_seconds=TICK_SECONDS,
        cut_out=CutOutSettings(),
    )
    bench.room = room
    room.start()
    yield bench
    room.stop()


def soon(bench: Bench, what: Callable[[], object], seconds: float = 120.0) -> bool:
    until = time.monotonic() + seconds
    while not what() and time.monotonic() < until:
        bench.room.view()  # which asks for the time
        time.sleep(0.01)
    return bool(what())


def press(bench: Bench, seconds: float) -> None:
    """A hand, that holds for so long and until it is felt: a contact that bounces as it closes and as it opens."""
    bounce(bench, down=True)
    began = bench.room._seconds()
    assert soon(bench, lambda: bench.room._button.down and bench.room._seconds() >= began + seconds)
    bounce(bench, down=False)
    assert soon(bench, lambda: not bench.room._button.down)


def bounce(bench: Bench, *, down: bool) -> None:
    assert PINS.button is not None
    for closed in (down, not down, down):
        bench.lines.move(PINS.button, closed)
        time.sleep(0.002)


def test_a_press_answers_once_however_the_contact_bounces(alive: Bench) -> None:
    press(alive, 0.15)
    assert soon(alive, lambda: alive.watched.answered)
    time.sleep(0.2)
    assert alive.watched.answered == ["at the kiln"]


def test_held_down_it_sounds_a_test_and_answers_nothing(alive: Bench) -> None:
    assert soon(alive, lambda: alive.lines.of(17))
    holding = threading.Thread(target=press, args=(alive, 2.3))
    holding.start()
    assert soon(alive, lambda: alive.room.view().sounder == "testing")
    assert soon(alive, lambda: any(level.on for level in alive.lines.of(17)))
    assert soon(alive, lambda: alive.room.view().sounder == "silent")
    holding.join()
    assert alive.watched.answered == []


def test_a_press_that_is_refused_stops_nothing(alive: Bench) -> None:
    alive.watched.refuse = Refusal("record", "spyhole has just started and still reads its record")
    press(alive, 0.1)
    assert soon(alive, lambda: alive.watched.refused)
    alive.watched.refuse = None
    press(alive, 0.1)
    assert soon(alive, lambda: alive.watched.answered)


def test_an_answer_that_hangs_does_not_silence_the_sounder(alive: Bench) -> None:
    held, asked = threading.Event(), threading.Event()
    alive.watched.answer_all = lambda who: asked.set() or held.wait(400)  # type: ignore[method-assign]
    press(alive, 0.1)
    assert soon(alive, asked.is_set)
    alive.watched.stands(raised("guard-cone", Priority.HIGH))
    assert soon(alive, lambda: any(level.on for level in alive.lines.of(17)))
    assert not held.is_set(), "which is what it waits for"
    held.set()


def test_a_line_that_fails_is_a_condition_until_it_works_again(bench: Bench) -> None:
    bench.cannot_open = Refusal("[room]", "GPIO 17 cannot be had (Device or resource busy)")
    bench.room.start()
    assert soon(bench, lambda: bench.conditions.holds(ROOM))
    bench.cannot_open = None
    bench.now += RETRY_SECONDS + 1
    assert soon(bench, lambda: not bench.conditions.holds(ROOM))
    bench.room.stop()


def test_a_button_that_is_stuck_is_a_condition_until_it_is_free(bench: Bench) -> None:
    assert PINS.button is not None

    def a_second_later(so: bool) -> bool:
        bench.now += 1.0
        return so

    bench.room.start()
    assert soon(bench, lambda: bench.opens)
    bench.lines.move(PINS.button, True)
    assert soon(bench, lambda: a_second_later(bench.conditions.holds(BUTTON)))
    assert bench.now > 60, "nobody holds a button so long"
    bench.lines.move(PINS.button, False)
    assert soon(bench, lambda: a_second_later(not bench.conditions.holds(BUTTON)))
    bench.room.stop()
    assert bench.watched.answered == []


def test_stopped_every_line_is_off_and_let_go(alive: Bench) -> None:
    alive.watched.stands(raised("guard-cone", Priority.HIGH))
    assert soon(alive, lambda: alive.lines.of(17))
    alive.room.stop(30)
    assert alive.lines.released
    assert [alive.lines.of(pin)[-1].on for pin in PINS.driven.values()] == [False, False, False]
