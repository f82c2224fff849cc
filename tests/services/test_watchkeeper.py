"""The watchkeeper tells the watch everything in order, keeps it, and passes on what it concludes, whatever breaks."""

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from spyhole.core import watch
from spyhole.core.journal import Acknowledgement, Clock, Reset, Settings, Undo
from spyhole.core.kiln import Kiln
from spyhole.core.outcome import Action, AlarmOutcome
from spyhole.core.plan import Plan
from spyhole.core.reading import Reading
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.conditions import LATE, Conditions
from spyhole.services.courier import Courier
from spyhole.services.keeping import Keeping
from spyhole.services.logbook import CLOCK_EVERY_MS
from spyhole.services.recovery import Codec
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import SqlArchive, open_archive

KILN = "Puffin"


class Room:
    """A watchkeeper with everything around it; `again` is the same room after a restart."""

    def __init__(self, tools: Any, studio: Studio, folder: Path, codec: Codec, clock: Any = None) -> None:
        self.tools, self.studio, self.folder, self.codec = tools, studio, folder, codec
        self.clock = clock or tools.clock()
        self.next: Room | None = None
        self.record: SqlArchive = open_archive(folder, seconds=time.monotonic, tell=lambda code, words: None)
        self.conditions = Conditions(lambda: self.clock.now().utc_ms)
        self.channel = tools.channel()
        couriers = [Courier("studio", self.channel, self.record, self.conditions)]
        self.telling = Telling(couriers, told=self.record.told_keys(1000))
        self.keeper = Watchkeeper(studio, self.clock, self.record, self.telling, self.conditions, codec)
        self.folded = self.keeper.recover()
        self.telling.start(self.record.pending_messages())

    def heat(self, minutes: float, celsius: float, per_minute: float = 0.0) -> float:
        """Readings each 10 s; returns the last temperature."""
        for _ in range(round(minutes * 6)):
            self.clock.ms += 10_000
            celsius += per_minute / 6
            self.keeper.take(Reading(self.tools.reading(round(celsius * 128) / 128).probes))
        return celsius

    def rows(self) -> list[Any]:
        assert self.record.flush(30.0)
        return list(self.record.rows_after(KILN, 0))

    def told(self) -> list[Any]:
        return [row.told for row in self.rows() if not isinstance(row.told, Reading)]

    def all_told(self) -> None:
        """Wait for the couriers: what is still on its way at a restart is rightly told after it."""
        deadline = time.monotonic() + 120
        while not self.record.flush(30.0) or self.record.pending_messages():
            assert time.monotonic() < deadline
            time.sleep(0.005)

    def close(self) -> None:
        if self.next is not None:
            self.next.close()
        self.telling.stop()
        self.record.close(30.0)

    def again(self, codec: Codec | None = None) -> "Room":
        self.close()
        self.next = Room(self.tools, self.studio, self.folder, codec or self.codec, self.clock)
        return self.next


@pytest.fixture
def codec() -> Codec:
    """The real one lives in app; the services need only something that gives back what it was given."""
    import pickle

    def thaw(blob: bytes) -> Keeping:
        try:
            kept: Keeping = pickle.loads(blob)
        except (pickle.UnpicklingError, EOFError) as error:
            raise ValueError(str(error)) from None
        return kept

    return Codec(1, pickle.dumps, thaw)


@pytest.fixture
def room(tools: Any, kiln: Kiln, plan: Plan, tmp_path: Path, codec: Codec) -> Iterator[Room]:
    opened = Room(tools, Studio(kiln, plan, "kiln text", "plan text", Manner(), 10.0), tmp_path / "record", codec)
    yield opened
    opened.close()


def overheat(room: Room) -> None:
    """A lit firing that climbs far above the ceiling of its first stage."""
    room.heat(2, 20.0)
    room.keeper.enter("start", "", "06", "Jo")
    room.heat(70, 20.0, 18.0)


def test_the_first_rows_say_the_time_and_the_settings(room: Room) -> None:
    clock, settings = room.told()
    assert clock == Clock(room.clock.now().utc_ms, synchronised=True)
    assert settings == Settings(room.studio.kiln, room.studio.plan)
    assert [row.sequence for row in room.rows()] == [1, 2]


def test_settings_are_told_again_only_when_they_changed(room: Room) -> None:
    room.clock.boot = "boot-2"
    second = room.again()
    assert [type(t) for t in second.told()] == [Clock, Settings, Clock]
    second.studio = replace(second.studio, plan=replace(second.studio.plan, cone="05"))
    third = second.again()
    assert [type(t) for t in third.told()] == [Clock, Settings, Clock, Clock, Settings]


def test_the_clock_is_told_every_ten_minutes(room: Room) -> None:
    room.heat(25, 20.0)
    clocks = [row.monotonic_ms for row in room.rows() if isinstance(row.told, Clock)]
    assert clocks == [0, CLOCK_EVERY_MS, 2 * CLOCK_EVERY_MS]


@pytest.mark.parametrize("step_ms", [-3_600_000, 3_600_000, 2_001])
def test_a_step_of_the_wall_clock_is_told_at_once(room: Room, step_ms: int) -> None:
    room.heat(1, 20.0)
    room.clock.utc_offset_ms += step_ms
    room.heat(1, 20.0)
    clocks = [(row.monotonic_ms, row.told.utc_ms) for row in room.rows() if isinstance(row.told, Clock)]
    assert clocks[1] == (70_000, 70_000 + room.clock.utc_offset_ms)
    assert len(clocks) == 2


def test_a_drifting_clock_is_no_step(room: Room) -> None:
    for _ in range(6):
        room.clock.utc_offset_ms += 300
        room.heat(1, 20.0)
    assert sum(isinstance(row.told, Clock) for row in room.rows()) == 1


def test_an_alarm_is_stored_with_its_row_and_told_once(room: Room) -> None:
    overheat(room)
    room.all_told()
    alarms = [
        (sequence, o)
        for sequence, o in room.record.outcomes_between(KILN, 1, 10_000)
        if isinstance(o, AlarmOutcome) and o.action is Action.RAISE
    ]
    told = [title.rpartition("(")[2] for title, _ in room.channel.sent]
    assert told.count("a1-0)") == sum(o.tell for _, o in alarms) == 1
    assert len(set(told)) == len(told), "what follows are the steps of its escalation, each once"
    title, text = room.channel.sent[0]
    first = alarms[0][1]
    assert f"({first.episode}-0)" in title
    assert title.startswith("Puffin: ")
    assert text


def test_after_a_restart_nothing_is_told_twice_and_the_state_is_the_same(room: Room) -> None:
    overheat(room)
    assert room.channel.arrived.wait(120)
    room.heat(0.5, 1280.0)
    room.all_told()
    before = room.keeper.keeping
    second = room.again()
    assert second.folded > 0
    assert second.keeper.keeping.state.alarms == before.state.alarms
    assert second.keeper.keeping.state.firing == before.state.firing
    second.heat(2, 1280.0)
    assert second.channel.sent == []


def test_checkpoint_and_tail_equal_the_full_fold(room: Room, codec: Codec) -> None:
    overheat(room)
    room.heat(0.5, 1280.0)
    second = room.again()
    assert 0 < second.folded <= 6 + 4
    from_checkpoint = second.keeper.keeping
    rows = second.rows()
    state = watch.begin()
    for row in rows:
        state, _ = watch.step(state, row)
    assert from_checkpoint.state == state
    third = second.again(replace(codec, version=2))
    assert third.folded == len(rows)


def test_a_checkpoint_that_cannot_be_read_is_passed_over(room: Room, codec: Codec) -> None:
    overheat(room)
    broken: list[bytes] = []

    def thaw(blob: bytes) -> Keeping:
        if not broken:
            broken.append(blob)
            raise ValueError("damaged")
        return codec.thaw(blob)

    before = room.keeper.keeping.state
    second = room.again(replace(codec, thaw=thaw))
    assert broken
    assert second.keeper.keeping.state.alarms == before.alarms


@pytest.mark.usefixtures("disk_in_time")
def test_acts_are_on_the_disk_when_they_are_done(room: Room) -> None:
    done = room.keeper.enter("start", "", "06", "Jo")
    assert done.stored
    assert [row.sequence for row in room.record.rows_after(KILN, 0)][-1] == done.sequence
    note = room.keeper.enter("note", "", "shelf posts level", "Jo")
    undone = room.keeper.undo(note.sequence, "Jo")
    assert room.told()[-1] == Undo(note.sequence, "Jo")
    assert undone.sequence == note.sequence + 1


def test_an_acknowledgement_names_an_alarm_that_stands(room: Room) -> None:
    with pytest.raises(Refusal, match="no alarm is called 'a9'"):
        room.keeper.acknowledge("a9", "Jo")
    overheat(room)
    episode = room.keeper.now().alarms[0].episode
    room.keeper.acknowledge(episode, "Jo")
    assert room.told()[-1] == Acknowledgement(episode, "Jo")
    assert room.keeper.now().alarms[0].acknowledged_by == "Jo"
    assert room.keeper.now().mood == "minded"


def test_a_latched_alarm_is_reset_once_it_is_over_and_seen(room: Room) -> None:
    overheat(room)
    episode = room.keeper.now().alarms[0].episode
    with pytest.raises(Refusal, match="waits for a reset"):
        room.keeper.reset(episode, "Jo")
    room.heat(60, 1200.0, -8.0)
    assert not room.keeper.now().alarms[0].acknowledged
    with pytest.raises(Refusal, match="waits for a reset"):
        room.keeper.reset(episode, "Jo")
    room.keeper.acknowledge(episode, "")
    alarm = room.keeper.now().alarms[0]
    assert (alarm.state, alarm.acknowledged) == ("latched", True), "a name is not needed"
    room.keeper.reset(episode, "Jo")
    assert room.told()[-1] == Reset(episode, "Jo")
    assert room.keeper.now().alarms == ()


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda desk: desk.enter("switch", "attic", "low", "Jo"), "no ring is called 'attic'"),
        (lambda desk: desk.enter("dance", "", "", "Jo"), "'dance' is no entry"),
        (lambda desk: desk.undo(99, "Jo"), "no entry that can be taken back has the number 99"),
        (lambda desk: desk.panel.throw("none"), "only a rehearsal has a panel"),
        (lambda desk: desk.panel.turn("top", "low"), "only a rehearsal has a panel"),
        (lambda desk: desk.panel.set_speed(60), "only a rehearsal has a panel"),
    ],
)
def test_what_cannot_be_taken_is_refused_and_leaves_no_row(
    room: Room, act: Callable[[Watchkeeper], object], words: str
) -> None:
    before = len(room.rows())
    with pytest.raises(Refusal, match=words):
        act(room.keeper)
    assert len(room.rows()) == before


def test_a_follower_that_fails_is_dropped_and_stops_nothing(room: Room) -> None:
    woken: list[int] = []

    def fails() -> None:
        woken.append(1)
        raise RuntimeError("a page went away")

    room.keeper.follow(fails)
    stop = room.keeper.follow(lambda: woken.append(2))
    room.heat(0.5, 20.0)
    assert woken == [1, 2, 2, 2]
    stop()
    room.heat(0.5, 20.0)
    assert woken == [1, 2, 2, 2]


def test_what_the_record_cannot_take_is_not_in_the_journal_and_the_next_row_is(room: Room) -> None:
    room.heat(0.5, 20.0)
    before = room.keeper.keeping
    with pytest.raises(ValueError, match="128"):
        room.keeper.take(room.tools.reading(20.001))
    assert room.keeper.keeping is before
    room.heat(0.5, 20.0)
    assert [row.sequence for row in room.rows()] == list(range(1, 9))


def test_an_alarm_goes_out_though_the_record_takes_nothing_to_the_disk(room: Room) -> None:
    room.record.flush = lambda timeout_seconds: False  # type: ignore[method-assign]
    overheat(room)
    assert room.channel.arrived.wait(120)


def test_a_snapshot_is_drawn_once_for_all_who_look_and_afresh_after_news(room: Room) -> None:
    room.heat(1, 20.0)
    first = room.keeper.now()
    assert room.keeper.now() is first
    assert first.rings[1].celsius == pytest.approx(20.0)
    assert first.rings[0].has_probe is False
    room.conditions.set(LATE)
    second = room.keeper.now()
    assert [c.code for c in second.conditions] == ["watch-late"]
    room.heat(0.2, 20.0)
    assert room.keeper.now().sequence == second.sequence + 1


def test_a_snapshot_does_not_pretend_to_be_young(room: Room) -> None:
    room.heat(1, 20.0)
    first = room.keeper.now()
    room.clock.ms += 60_000
    assert room.keeper.now().now_utc_ms == first.now_utc_ms + 60_000


def test_the_curve_and_the_kiln_book(room: Room) -> None:
    assert room.keeper.curve(None, 100) is None
    overheat(room)
    room.keeper.enter("note", "", "smells of steam", "Jo")
    assert room.record.flush(30.0)
    curve = room.keeper.curve(None, 2000)
    assert curve is not None
    assert list(curve.rings) == ["middle"]
    assert len(curve.utc_ms) == len(curve.rings["middle"]) == len(curve.ceiling) > 60
    assert curve.utc_ms == sorted(curve.utc_ms)
    believed = [c for c in curve.rings["middle"] if c is not None]
    assert max(believed) == pytest.approx(1280, abs=25)
    assert {mark.kind for mark in curve.marks} >= {"entry", "alarm"}
    (line,) = room.keeper.firings()
    assert (line.id, line.cone, line.ended_utc_ms, line.alarms) == (curve.firing, "06", None, 1)
    assert line.peak_celsius == pytest.approx(1280, abs=25)
    assert room.keeper.curve(12345, 100) is None


def test_rows_from_many_threads_are_in_one_order(room: Room) -> None:
    room.keeper.enter("start", "", "06", "Jo")

    def write(who: str) -> None:
        for n in range(20):
            room.keeper.enter("note", "", f"{n}", who)

    threads = [threading.Thread(target=write, args=(who,)) for who in ("Jo", "Sam", "Ash")]
    for thread in threads:
        thread.start()
    room.heat(5, 20.0)
    for thread in threads:
        thread.join()
    rows = room.rows()
    assert [row.sequence for row in rows] == list(range(1, len(rows) + 1))
    assert [row.monotonic_ms for row in rows] == sorted(row.monotonic_ms for row in rows)
    assert len(rows) == 3 + 60 + 30
