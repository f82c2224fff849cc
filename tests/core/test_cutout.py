"""What stops the cut-out heartbeat, and that only a person lets it run again. The rule is ours, no source."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core import watch
from spyhole.core.alarms.book import AlarmBook
from spyhole.core.alarms.life import Alarm
from spyhole.core.cutout import MAY_STOP, USUAL, CutOut, follow, rearm
from spyhole.core.journal import Clock, Rearm, Row
from spyhole.core.outcome import Action, AlarmOutcome, Priority

TAGS = sorted(MAY_STOP)


def raised(tag: str, ring: str | None = None, *facts: tuple[str, str]) -> AlarmOutcome:
    return AlarmOutcome(0, "a1", tag, ring, Priority.HIGH, Action.RAISE, True, facts)


def test_the_usual_ones_are_those_that_may_be_chosen() -> None:
    assert USUAL <= MAY_STOP
    assert "probe-open" not in MAY_STOP


def test_an_alarm_that_was_not_chosen_does_not_stop_it() -> None:
    cutout = follow(CutOut(), (raised("heat-lost"),), 5)
    assert cutout.stopped_by(USUAL) is None
    assert cutout.stopped_by(frozenset({"heat-lost"})) is not None


def test_it_stays_stopped_when_the_alarm_is_over() -> None:
    cutout = follow(CutOut(), (raised("kiln-limit"),), 5)
    over = AlarmOutcome(0, "a1", "kiln-limit", None, Priority.HIGH, Action.CLEAR, False, ())
    assert follow(cutout, (over,), 9) == cutout


def test_the_first_cause_is_the_one_that_is_named() -> None:
    cutout = follow(CutOut(), (raised("shutoff-overdue"),), 5)
    cutout = follow(cutout, (raised("guard-cone"), raised("shutoff-overdue")), 9)
    assert cutout.stopped_by(USUAL) == cutout.causes[0]
    assert [(cause.tag, cause.at_ms) for cause in cutout.causes] == [("shutoff-overdue", 5), ("guard-cone", 9)]


def test_a_shelf_holds_back_the_message_and_not_this() -> None:
    assert follow(CutOut(), (raised("kiln-limit", None, ("overlay", "shelved")),), 5).causes


def test_a_probe_out_of_service_decides_nothing() -> None:
    assert not follow(CutOut(), (raised("kiln-limit", "top", ("overlay", "out of service")),), 5).causes


def test_rearming_forgets_what_is_over_and_keeps_what_holds() -> None:
    cutout = follow(CutOut(), (raised("kiln-limit", "top"), raised("shutoff-overdue")), 5)
    again = rearm(cutout, Rearm("Jo"), frozenset({("shutoff-overdue", None)}), 77, 9)
    assert [cause.tag for cause in again.causes] == ["shutoff-overdue"]
    assert (again.rearmed, again.rearmed_by, again.rearmed_ms) == (77, "Jo", 9)


def test_the_watch_keeps_it() -> None:
    state, _ = watch.step(watch.begin(), Row("Puffin", 1, "b", 0, Clock(1_951_155_600_000, True)))
    standing = AlarmBook((Alarm("guard-cone", None, holds=True, active=True),))
    causes = follow(CutOut(), (raised("guard-cone"), raised("kiln-limit")), 5)
    state = replace(state, alarms=standing, cutout=causes)
    state, outcomes = watch.step(state, Row("Puffin", 2, "b", 1000, Rearm("Jo")))
    assert outcomes == ()
    assert [cause.tag for cause in state.cutout.causes] == ["guard-cone"]
    assert state.cutout.rearmed == 2


@given(st.lists(st.tuples(st.sampled_from([*TAGS, "probe-open"]), st.sampled_from(list(Action)))))
def test_nothing_but_a_person_takes_a_cause_away(acts: list[tuple[str, Action]]) -> None:
    cutout = CutOut()
    for tag, action in acts:
        before = cutout.causes
        cutout = follow(cutout, (replace(raised(tag), action=action),), 1)
        assert cutout.causes[: len(before)] == before
    tags = {tag for tag, action in acts if action is Action.RAISE and tag in MAY_STOP}
    assert {cause.tag for cause in cutout.causes} == tags
