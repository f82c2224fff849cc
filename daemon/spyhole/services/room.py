"""In the room: sounder, lamp, the button at the kiln, and the cut-out heartbeat, from what the watch has in memory.

One thread owns the lines. It asks no disk, no network and no lock of the record: it reads the watch's state as it
stands, so it sounds when everything else is dead. What may have to wait (an acknowledgement, a condition) is done
by a second thread. A line that fails is said and tried again; it never stops the watch.
"""

import logging
import queue
import threading
from collections.abc import Callable
from typing import Protocol

from spyhole.core.moment import Moment
from spyhole.core.ports import RoomPort, Wire
from spyhole.core.refusal import Refusal
from spyhole.core.state import State
from spyhole.services.button import Button, Press, look_again, sense
from spyhole.services.conditions import BUTTON, ROOM, Conditions
from spyhole.services.cutout import CutOut, CutOutSettings
from spyhole.services.signals import LAMPS, SILENCE, TEST, TEST_SECONDS, Call, Lamp, Pattern, call, lamp, sound
from spyhole.services.snapshot import RoomView

log = logging.getLogger(__name__)

AT_THE_KILN = "at the kiln"
LOOK_SECONDS = 1.0
"""How late an alarm may be heard, and an answer."""

RETRY_SECONDS = 5.0
"""Between tries to have lines that failed."""

AWAKE_SECONDS = 5.0


class Watched(Protocol):
    """What the room needs of the watchkeeper."""

    @property
    def state(self) -> State:
        """As of the last row. Never waits."""
        ...

    def answer_all(self, who: str) -> object:
        """Somebody has seen all that calls, and is in reach. May wait; Refusal."""
        ...

    def stir(self) -> None:
        """There is something else to see."""
        ...


class _Shown:
    """A pattern on a wire, from when it began."""

    def __init__(self, wire: Wire) -> None:
        self.wire = wire
        self.pattern = SILENCE
        self.began = 0.0
        self.level: bool | None = None

    def show(self, pattern: Pattern, now: float) -> bool:
        """Whether it is another than before."""
        if pattern is self.pattern:
            return False
        self.pattern, self.began = pattern, now
        return True


class Room:
    """open_lines: asks for the lines, again after each failure; Refusal or OSError when they cannot be had.

    wired: those that are there. seconds: a monotonic clock of the real world. now: of the kiln's.
    tick_seconds: real seconds between readings that are in time. cut_out: None where there is none.
    """

    def __init__(
        self,
        open_lines: Callable[[], RoomPort],
        wired: frozenset[Wire],
        watched: Watched,
        conditions: Conditions,
        *,
        button: bool,
        seconds: Callable[[], float],
        now: Callable[[], Moment],
        tick_seconds: float,
        cut_out: CutOutSettings | None = None,
    ) -> None:
        self._open_lines = open_lines
        self._wired = wired
        self._watched = watched
        self._conditions = conditions
        self._has_button = button
        self._seconds = seconds
        self._now = now
        self._awake_seconds = tick_seconds + AWAKE_SECONDS
        started = seconds()
        self.cut_out = None
        if cut_out is not None and Wire.CUT_OUT in wired:
            self.cut_out = CutOut(cut_out, tick_seconds, started, now().utc_ms)
        self._fed = started
        self._lines: RoomPort | None = None
        self._retry = started
        self._sounder, self._lamp = _Shown(Wire.SOUNDER), _Shown(Wire.LAMP)
        self._called: Call | None = None
        self._lamp_says = Lamp.AWAKE
        self._button = Button()
        self._moved = False
        self._test_until = started
        self._stopping = threading.Event()
        self._deeds: queue.SimpleQueue[Callable[[], object] | None] = queue.SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="room", daemon=True)
        self._doer = threading.Thread(target=self._do, name="room, deeds", daemon=True)

    # from other threads

    def start(self) -> None:
        """Begin."""
        self._thread.start()
        self._doer.start()

    def stop(self, seconds: float = 2.0) -> None:
        """Stop, with every line off; may be called again."""
        self._stopping.set()
        self._deeds.put(None)
        for thread in (self._thread, self._doer):
            if thread.is_alive():
                thread.join(seconds)

    def fed(self) -> None:
        """A reading was completed. Called by the sampling thread and by nothing else; never waits."""
        self._fed = self._seconds()
        if self.cut_out is not None:
            self.cut_out.fed(self._fed)

    def why_not_armed(self) -> str:
        """Why the cut-out cannot be armed now; "" when it can."""
        if self.cut_out is None:
            return "no cut-out is wired here"
        return self.cut_out.refuses(self._watched.state, self._seconds())

    def arm(self) -> None:
        """The watch knows that somebody has armed the cut-out."""
        if self.cut_out is not None:
            self.cut_out.arm()

    def view(self) -> RoomView:
        """How it stands, for a page."""
        cut_out = self.cut_out
        sounder = "" if Wire.SOUNDER not in self._wired else "silent" if self._called is None else "sounding"
        if sounder and self._seconds() < self._test_until:
            sounder = "testing"
        return RoomView(
            sounder=sounder,
            lamp=self._lamp_says.value if Wire.LAMP in self._wired else "",
            button=self._has_button,
            cut_out=None if cut_out is None else cut_out.view(self._watched.state, self._seconds()),
        )

    # the thread that owns the lines

    def turn(self, now: float) -> float:
        """Bring every line to where it belongs at this instant; returns when to come again."""
        state = self._watched.state
        utc_ms = self._now().utc_ms
        may_beat = self.cut_out is not None and self._look_at_cut_out(state, now, utc_ms)
        self._decide(state, now)
        lines = self._lines_there(now)
        if lines is None:
            if self.cut_out is not None:
                self.cut_out.unwired(utc_ms)
            return min(self._retry, now + LOOK_SECONDS)
        try:
            due = min(self._show(lines, self._sounder, now), self._show(lines, self._lamp, now), now + LOOK_SECONDS)
            if may_beat and self.cut_out is not None:
                level = self.cut_out.beat(now)
                if level is not None:
                    lines.drive(Wire.CUT_OUT, level)
                due = min(due, self.cut_out.due())
            return min(due, self._feel(lines, now)) if self._has_button else due
        except OSError as error:
            self._lost(lines, error, now)
            if self.cut_out is not None:
                self.cut_out.unwired(utc_ms)
            return now + LOOK_SECONDS

    def _look_at_cut_out(self, state: State, now: float, utc_ms: int) -> bool:
        assert self.cut_out is not None
        before = self.cut_out.running
        runs = self.cut_out.look(state, now, utc_ms)
        if runs != before:
            log.warning("the cut-out heartbeat %s", "runs" if runs else "stands still")
            self._deeds.put(self._watched.stir)
        return runs

    def _decide(self, state: State, now: float) -> None:
        moment = self._now()
        line = state.line
        now_ms = moment.monotonic_ms + line.axis_offset_ms if moment.boot == line.boot else line.now_ms
        self._called = call(state.alarms.alarms, now_ms)
        self._lamp_says = lamp(state.alarms.alarms, self._called, awake=now - self._fed < self._awake_seconds)
        testing = now < self._test_until
        sounds = self._sounder.show(TEST if testing else sound(self._called), now)
        if self._lamp.show(LAMPS[Lamp.FAST if testing else self._lamp_says], now) or sounds:
            self._deeds.put(self._watched.stir)

    def _show(self, lines: RoomPort, shown: _Shown, now: float) -> float:
        if shown.wire not in self._wired:
            return now + LOOK_SECONDS
        level = shown.pattern.at(now - shown.began)
        if level is not shown.level:
            lines.drive(shown.wire, level)
            shown.level = level
        return shown.began + shown.pattern.next_change(now - shown.began)

    def _feel(self, lines: RoomPort, now: float) -> float:
        self._button, press = sense(self._button, lines.pressed(), self._moved, now)
        self._moved = False
        if press is Press.SHORT:
            self._deeds.put(self._answer)
        elif press is Press.LONG:
            log.info("the button at the kiln was held: a test sounds")
            self._test_until = now + TEST_SECONDS
        elif press is Press.STUCK:
            self._deeds.put(lambda: self._conditions.set(BUTTON))
        elif press is Press.FREE:
            self._deeds.put(lambda: self._conditions.clear(BUTTON))
        again = look_again(self._button)
        return now + LOOK_SECONDS if again is None else again

    def _lines_there(self, now: float) -> RoomPort | None:
        if self._lines is None and now >= self._retry:
            try:
                self._lines = self._open_lines()
            except (Refusal, OSError) as error:
                self._retry = now + RETRY_SECONDS
                self._say_lost(error)
            else:
                self._sounder.level = self._lamp.level = None
                self._button = Button()
                self._deeds.put(lambda: self._conditions.clear(ROOM))
        return self._lines

    def _lost(self, lines: RoomPort, error: OSError, now: float) -> None:
        self._lines, self._retry = None, now + RETRY_SECONDS
        self._say_lost(error)
        try:
            lines.close()
        except OSError:
            log.debug("the lines were not let go", exc_info=True)

    def _say_lost(self, error: Exception) -> None:
        detail = str(error)
        self._deeds.put(lambda: self._conditions.set(ROOM, detail))

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                due = self.turn(self._seconds())
                self._wait(max(0.0, due - self._seconds()))
            except Exception:
                log.exception("the room was not looked after once")
                self._stopping.wait(LOOK_SECONDS)
        if self._lines is not None:
            self._lines.close()

    def _wait(self, seconds: float) -> None:
        if self._lines is None or not self._has_button:
            self._stopping.wait(seconds)
            return
        try:
            self._moved = self._lines.wait(seconds)
        except OSError as error:
            self._lost(self._lines, error, self._seconds())

    # the thread that may have to wait

    def _do(self) -> None:
        while (deed := self._deeds.get()) is not None:
            try:
                deed()
            except Exception:
                log.exception("something asked for in the room was not done")

    def _answer(self) -> None:
        try:
            self._watched.answer_all(AT_THE_KILN)
        except Refusal as refusal:
            log.warning("the press at the kiln was not taken: %s", refusal)
