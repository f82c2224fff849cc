"""The one sentence of Now, in each situation a keeper meets."""

import re
from collections.abc import Callable

import pytest

from spyhole.core import watch
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Acknowledgement, Clock, Row, Settings, Told
from spyhole.core.moment import Moment
from spyhole.core.state import State
from spyhole.core.words import Manner
from spyhole.services.portray import portray
from spyhole.services.sayings import sentence
from spyhole.services.snapshot import AlarmView, Snapshot
from spyhole_hardware.emulated import puffin
from spyhole_hardware.emulated.firing import fire
from spyhole_hardware.emulated.rehearsal import Rehearsal

LIT_UTC_MS = 1_951_155_660_000  # 2031-10-30 19:41 UTC


def firing(
    trouble: str = "none",
    until: Callable[[State], bool] | None = None,
    after_minutes: int = 0,
    cut: Callable[[State], bool] = lambda state: False,
) -> State:
    """Puffin's night, followed until something is so and then some minutes more. cut: when its shut-off drops early."""
    notes: list[tuple[str, str, str]] = []
    rehearsal = Rehearsal(
        puffin.KILN,
        puffin.BUILD,
        puffin.TONIGHT,
        start_utc_ms=LIT_UTC_MS,
        trouble=trouble,
        log=lambda kind, subject, value: notes.append((kind, subject, value)),
    )
    state, sequence, found_ms = watch.begin(), 0, None

    def tell(told: Told) -> None:
        nonlocal state, sequence
        sequence += 1
        moment = rehearsal.now()
        state, _ = watch.step(state, Row("Puffin", sequence, moment.boot, moment.monotonic_ms, told))

    tell(Clock(LIT_UTC_MS, True))
    tell(Settings(puffin.KILN, puffin.TONIGHT.plan))
    for moment, reading in fire(rehearsal, 30):
        for kind, subject, value in notes:
            tell(Entry(EntryKind(kind), subject, value, "Wren"))
        notes.clear()
        tell(reading)
        if cut(state):
            rehearsal.kiln.shutoff.tripped = True
        if until is None:
            continue
        if found_ms is None and until(state):
            found_ms = moment.monotonic_ms
        if found_ms is not None and moment.monotonic_ms - found_ms >= after_minutes * 60_000:
            break
    return state


def shown(state: State) -> Snapshot:
    now = Moment("rehearsal", 0, state.line.utc_ms)
    return portray(state, now, speed=1.0, tick_seconds=30.0, emulated=True, manner=Manner())


def hours(count: float) -> Callable[[State], bool]:
    return lambda state: state.line.now_ms - LIT_UTC_MS >= count * 3_600_000


def stage(name: str) -> Callable[[State], bool]:
    return lambda state: state.firing is not None and state.firing.now_stage.name == name


def off(state: State) -> bool:
    return state.firing is not None and state.firing.off


def alarmed(state: State) -> bool:
    return bool(any(a.active for a in state.alarms.alarms))


def test_before_the_first_row_there_is_no_kiln_and_no_firing() -> None:
    snapshot = shown(watch.begin())
    assert (snapshot.sentence, snapshot.mood, snapshot.rings) == ("No firing.", "idle", ())


def colder(celsius: float) -> Callable[[State], bool]:
    return lambda state: off(state) and all((track.celsius or 1e3) < celsius for track in state.tracks)


def down(state: State) -> bool:
    return state.firing is not None and state.firing.cone_down_ms is not None and not off(state)


def off_minutes(minutes: int) -> Callable[[State], bool]:
    def so(state: State) -> bool:
        firing = state.firing
        return (
            firing is not None and firing.off_ms is not None and state.line.now_ms - firing.off_ms >= minutes * 60_000
        )

    return so


# What a keeper meets in one night, in its order: until when it is followed, what is said, and in which mood.
NIGHT: tuple[tuple[str, Callable[[State], bool], str, str], ...] = (
    ("drying at night", hours(6), r"Nothing to do until 04:43\. Bottom 1\d\d °C, on low\.", "well"),
    ("climbing", hours(12), r"Nothing to do until 08:40\. \w+ \d{3} °C, on medium\.", "well"),
    ("turn due", hours(12 + 59 / 60 + 0.02), r"All well\. Time to turn: high\.", "well"),
    (
        "on high near the cone",
        lambda state: stage("high")(state) and state.line.now_ms - LIT_UTC_MS > 15.2 * 3_600_000,
        r"All well\. On high since 08:4\d\. Cone 05 should drop at 11:\d\d, between 11:\d\d and 1[12]:\d\d\.",
        "well",
    ),
    ("cone down, not tripped", down, r"Cone 05 should be down\. Stay with the kiln until the shut-off drops\.", "well"),
    (
        "tripped",
        off_minutes(5),
        r"Stopped heating 11:\d\d, peak 10\d\d °C, cone 05 down\. Every switch off; lid and plugs stay shut\. .*",
        "well",
    ),
    (
        "cooling, shut",
        off_minutes(120),
        r".* lid and plugs stay shut\. Below 200 °C about \d\d:\d\d( tomorrow| on Saturday)?\.",
        "well",
    ),
    ("cooling, may be cracked", colder(140), r"Stopped heating .*, cone 05 down\. The lid may be cracked\.", "well"),
    ("open", colder(90), r"Stopped heating .*, cone 05 down\. The lid may be opened\.", "well"),
    (
        "nothing on",
        lambda state: state.firing is not None and state.firing.ended,
        r"No firing\. The kiln is at \d\d °C\.",
        "idle",
    ),
)


@pytest.fixture(scope="module")
def night() -> dict[str, Snapshot]:
    """One good firing, followed once, with what is shown in each situation."""
    found: dict[str, Snapshot] = {}
    waiting = list(NIGHT)

    def until(state: State) -> bool:
        if waiting and waiting[0][1](state):
            found[waiting.pop(0)[0]] = shown(state)
        return not waiting

    firing(until=until)
    return found


@pytest.mark.parametrize(("situation", "pattern", "mood"), [(name, said, mood) for name, _, said, mood in NIGHT])
def test_the_sentence_of_a_good_night(night: dict[str, Snapshot], situation: str, pattern: str, mood: str) -> None:
    assert re.fullmatch(pattern, night[situation].sentence)
    assert night[situation].mood == mood


def test_what_may_be_done_now_has_no_time_and_says_when_the_next_mark_comes(night: dict[str, Snapshot]) -> None:
    shut, crack, opened = (night[name].next for name in ("cooling, shut", "cooling, may be cracked", "open"))
    assert shut is not None
    assert shut.at is not None
    assert shut.why.startswith("Then it should be below 200 °C.")
    for following, words, mark in ((crack, "The lid may be cracked", 100), (opened, "The lid may be opened", 50)):
        assert following is not None
        assert (following.words, following.at) == (words, None)
        assert f" Below {mark} °C about " in following.why


def test_the_sentence_when_it_tripped_short_of_the_cone() -> None:
    """The rod was set too near: it drops an hour before the cone."""
    snapshot = shown(firing(until=off, after_minutes=5, cut=hours(15.0)))
    said = r"Look now\. Stopped short of the cone\. Stopped heating 10:4\d, peak 9\d\d °C, cone 05 upright\."
    assert re.fullmatch(said, snapshot.sentence)
    assert (snapshot.mood, [alarm.tag for alarm in snapshot.alarms]) == ("look", ["fell-short"])


# With these, and that old news is said by the page (tests/web), they are more than twelve.
@pytest.mark.parametrize(
    ("trouble", "pattern"),
    [
        ("shutoff-jams", r"Look now\. The shut-off has not dropped\. Cone 05 in the shut-off should be down, and .*"),
        ("probe-open", r"Look now\. Probe broken or loose, middle ring\. The middle probe has no circuit\."),
    ],
)
def test_the_sentence_in_trouble(trouble: str, pattern: str) -> None:
    snapshot = shown(firing(trouble, until=alarmed))
    assert re.fullmatch(pattern, snapshot.sentence)
    assert snapshot.mood == "look"


def test_on_high_it_names_the_cone_and_when_with_its_interval() -> None:
    said = shown(firing(until=stage("high"), after_minutes=120)).sentence
    assert "Cone 05 should drop at 11:" in said
    assert ", between " in said


def test_a_finished_firing_leaves_no_firing() -> None:
    snapshot = shown(firing())
    assert snapshot.sentence.startswith("No firing. The kiln is at ")
    assert snapshot.mood == "idle"
    assert snapshot.firing is None


def test_an_alarm_is_what_is_said_with_the_first_thing_to_do_beside_it() -> None:
    state = firing("shutoff-jams", until=alarmed)
    snapshot = shown(state)
    assert snapshot.mood == "look"
    assert snapshot.sentence.startswith(
        "Look now. The shut-off has not dropped. Cone 05 in the shut-off should be down"
    )
    assert snapshot.alarms[0].first_action.startswith("All switches off")
    monotonic_ms = state.line.now_ms - state.line.axis_offset_ms
    row = Row("Puffin", 10**6, state.line.boot, monotonic_ms, Acknowledgement("a1", "Wren"))
    acknowledged, _ = watch.step(state, row)
    snapshot = shown(acknowledged)
    assert snapshot.mood == "minded"
    assert snapshot.sentence.startswith("Still so: ")
    assert snapshot.sentence.endswith("Wren has seen it.")


def test_consequences_stand_under_their_cause() -> None:
    def two(state: State) -> bool:
        return sum(a.active for a in state.alarms.alarms) >= 2

    snapshot = shown(firing("shutoff-jams", until=two))
    assert len(snapshot.alarms) == 1
    assert snapshot.alarms[0].tag == "shutoff-overdue"
    assert len(snapshot.alarms[0].joined) == 1


def test_a_ring_that_cannot_be_believed_has_no_number_but_its_fault() -> None:
    snapshot = shown(firing("probe-pulled-out", until=alarmed, after_minutes=5))
    top = snapshot.rings[2]
    assert (top.celsius, top.climb, top.fault) == (None, None, "reads the room")
    assert snapshot.rings[0].celsius is not None


def test_a_latched_alarm_that_is_over_still_asks_for_a_look() -> None:
    def over(state: State) -> bool:
        return off(state) and not alarmed(state)

    snapshot = shown(firing("shutoff-jams", until=over, after_minutes=10))
    said = r"It is over now; look all the same\. At 1[12]:\d\d: the shut-off has not dropped\."
    assert re.fullmatch(said, snapshot.sentence)


def test_what_ails_the_watch_alone_is_not_taken_for_the_kiln() -> None:
    def alarm(tag: str, priority: str, seen: str) -> AlarmView:
        return AlarmView("a1", tag, None, priority, "unacknowledged", 0, seen, "", (), False, None, 60.0, ())

    disk = alarm("watch-disk", "medium", "The disk is in trouble. It has little or no room.")
    stalled = alarm("stall", "medium", "Hardly climbing. The kiln climbs 9 per hour.")
    said = [sentence(watch.begin(), None, None, there, (), Manner()) for there in ((disk,), (stalled, disk))]
    assert said == [
        f"Look at spyhole itself; it raises no alarm of the kiln. {disk.seen}",
        f"Look now. {stalled.seen}",
    ]


def test_the_timer_is_set_against_the_cone_in_words() -> None:
    timer = shown(firing(until=stage("high"), after_minutes=100)).timer
    assert timer is not None
    assert timer.gap.startswith("The timer ends ")
    assert timer.advised_minutes is not None


def test_what_to_do_next_is_the_plans_next_turn_and_what_it_logs() -> None:
    following = shown(firing(until=hours(6))).next
    assert following is not None
    assert following.words == "Turn middle to low, top to low; plugs half"
    assert following.turn == (("middle", "low"), ("top", "low"))
    assert following.at is not None


def test_without_a_firing_the_next_thing_is_to_light_it_by_the_plan() -> None:
    state = watch.begin()
    state, _ = watch.step(state, Row("Puffin", 1, "boot", 0, Clock(LIT_UTC_MS, True)))
    state, _ = watch.step(state, Row("Puffin", 2, "boot", 0, Settings(puffin.KILN, puffin.TONIGHT.plan)))
    following = shown(state).next
    assert following is not None
    assert following.words == "Light Puffin for cone 05"
    assert (following.start, following.turn) == ("05", (("bottom", "low"),))


@pytest.mark.parametrize("trouble", ["power-cut", "shutoff-jams"])
def test_while_a_high_alarm_holds_it_alone_says_what_to_do(trouble: str) -> None:
    assert shown(firing(trouble, until=alarmed)).next is None
