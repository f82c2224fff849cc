"""What a person may do about the room: answer everything at the kiln, and arm the cut-out. With a real record."""

from collections.abc import Iterator
from typing import Any

import pytest

from spyhole.app.codec import codec
from spyhole.core.journal import Acknowledgement, InReach, Rearm
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.conditions import Conditions
from spyhole.services.cutout import CutOutSettings
from spyhole.services.room import AT_THE_KILN, Room
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole_hardware.emulated.gpio import EmulatedLines
from spyhole_hardware.outputs import RoomLines, RoomPins

PINS = RoomPins(sounder=17, lamp=27, cut_out=23, button=22)


class Kept:
    """A watch with a record and a room, on simulated time."""

    def __init__(self, tools: Any, kiln: Kiln, plan: Plan, record: Any) -> None:
        self.tools, self.record = tools, record
        self.clock = tools.clock()
        conditions = Conditions(lambda: self.clock.now().utc_ms)
        studio = Studio(kiln, plan, "kiln text", "plan text", Manner(), 1.0)
        self.keeper = Watchkeeper(studio, self.clock, record, Telling(()), conditions, codec())
        self.keeper.recover()
        self.lines = EmulatedLines(lambda: self.seconds)
        self.room = Room(
            lambda: RoomLines(self.lines, PINS),
            frozenset(PINS.driven),
            self.keeper,
            conditions,
            button=True,
            seconds=lambda: self.seconds,
            now=self.clock.now,
            tick_seconds=1.0,
            cut_out=CutOutSettings(),
        )

    @property
    def seconds(self) -> float:
        return float(self.clock.ms / 1000)

    def fit_out(self) -> "Kept":
        self.keeper.room = self.room
        return self

    def tick(self, celsius: float, seconds: int = 10) -> None:
        self.clock.ms += 1000 * seconds
        self.keeper.take(self.tools.reading(round(celsius * 128) / 128))
        self.room.fed()
        self.room.turn(self.seconds)

    def overheat(self) -> None:
        """Lit, and hotter and hotter until the kiln's own limit is passed."""
        self.keeper.enter("start", "", "06", "Jo")
        celsius = 20.0
        while "kiln-limit" not in {alarm.tag for alarm in self.keeper.state.alarms.alarms if alarm.active}:
            celsius = min(1310.0, celsius + 3)
            self.tick(celsius)
            assert self.seconds < 8 * 3600

    def rows(self) -> list[object]:
        assert self.record.flush(30)
        return [row.told for row in self.record.rows_after("Puffin", 0)]


@pytest.fixture
def kept(tools: Any, kiln: Kiln, plan: Plan, record: Any) -> Iterator[Kept]:
    made = Kept(tools, kiln, plan, record)
    yield made
    made.keeper.close()


def test_where_nothing_is_wired_there_is_nothing_to_see_or_to_arm(kept: Kept) -> None:
    assert kept.keeper.now().room is None
    with pytest.raises(Refusal, match="no cut-out is wired here"):
        kept.keeper.rearm("Jo")


def test_a_press_answers_every_alarm_and_says_that_somebody_is_in_reach(kept: Kept) -> None:
    kept.fit_out().overheat()
    before = {alarm.episode for alarm in kept.keeper.now().alarms if not alarm.acknowledged}
    assert before
    kept.keeper.answer_all(AT_THE_KILN)
    assert all(alarm.acknowledged for alarm in kept.keeper.now().alarms)
    assert kept.keeper.state.duty.reached_by == AT_THE_KILN
    told = kept.rows()
    assert {row.episode for row in told if isinstance(row, Acknowledgement) and row.who == AT_THE_KILN} == before
    assert InReach(AT_THE_KILN) in told


def test_a_press_when_nothing_calls_says_that_somebody_is_in_reach(kept: Kept) -> None:
    kept.fit_out().keeper.answer_all(AT_THE_KILN)
    assert kept.rows()[-1] == InReach(AT_THE_KILN)


def test_arming_is_a_row_and_is_refused_while_what_stopped_it_holds(kept: Kept) -> None:
    kept.fit_out().tick(20.0)
    kept.keeper.rearm("Jo")
    assert kept.rows()[-1] == Rearm("Jo")
    kept.tick(20.0, 1)
    view = kept.keeper.now().room
    assert view is not None
    assert view.cut_out is not None
    assert view.cut_out.running
    assert view.cut_out.words == "The cut-out heartbeat runs; armed by Jo."

    kept.overheat()
    kept.tick(1310.0, 1)
    view = kept.keeper.now().room
    assert view is not None
    assert view.cut_out is not None
    assert not view.cut_out.running
    assert view.cut_out.tag
    with pytest.raises(Refusal, match=r"it cannot be armed: .* still holds"):
        kept.keeper.rearm("Jo")
    assert kept.rows().count(Rearm("Jo")) == 1


def test_arming_is_refused_while_no_reading_is_completed(kept: Kept) -> None:
    kept.fit_out().tick(20.0)
    kept.clock.ms += 60_000
    with pytest.raises(Refusal, match="no reading is being completed"):
        kept.keeper.rearm("Jo")


def test_the_sounder_needs_no_record(kept: Kept) -> None:
    """The room asks for the state as it stands: a logbook that is held up for ever does not silence it.

    Were it asked for, this would stand still: whoever holds this lock does not get it twice.
    """
    kept.fit_out().overheat()
    with kept.keeper._logbook._lock:
        for _ in range(20):
            kept.clock.ms += 200
            kept.room.turn(kept.seconds)
    assert any(level.on for level in kept.lines.of(17))
