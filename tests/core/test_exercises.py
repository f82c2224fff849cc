"""Exercises: what was right, what was missed and why, from what was really done."""

import pytest

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.exercise_book import EXERCISES, HANDING, JAMMED, LOST, POWER, PROBE, RING, named
from spyhole.core.exercises import Act, Handled, Scene, Verdict, judge
from spyhole.core.journal import Acknowledgement, InReach, OutOfService, Shelving, Told, WatchTaken

ON = (("bottom", "high"), ("middle", "high"), ("top", "high"))
SCENE = Scene(1_000_000, ON, ("a4",), "Mina", "middle")
ALL_OFF = tuple(Handled("switch", ring, "off") for ring in ("top", "middle", "bottom"))
SEEN = Acknowledgement("a4", "Jo")
LOOK = Handled("look", "", "glasses")
NOTE = Entry(EntryKind.NOTE, "", "Cone 05 is down", "Jo")


def after(exercise: object, *deeds: Told | Handled, apart_seconds: int = 20) -> Verdict:
    acts = [Act(SCENE.at_ms + (number + 1) * apart_seconds * 1000, deed) for number, deed in enumerate(deeds)]
    return judge(exercise, SCENE, acts)  # type: ignore[arg-type]


GOOD = {
    JAMMED.name: (*ALL_OFF, SEEN, LOOK, NOTE),
    PROBE.name: (SEEN, LOOK, OutOfService("middle", True, "Its lead is loose", "Jo"), NOTE),
    RING.name: (Handled("look", "middle", "switches"), SEEN, LOOK, NOTE),
    POWER.name: (*ALL_OFF, SEEN, LOOK, Entry(EntryKind.POWER, "", "back", "Jo")),
    LOST.name: (*ALL_OFF, SEEN, Handled("look", "", "switches"), NOTE),
    HANDING.name: (
        LOOK,
        Entry(EntryKind.TIMER, "", "90", "Mina"),
        WatchTaken("Jo", "Guide cone is down, 04 next"),
        InReach("Jo"),
    ),
}


@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda each: each.name)
def test_a_good_keeper_is_told_so(exercise) -> None:
    verdict = after(exercise, *GOOD[exercise.name])
    assert verdict.whole, verdict
    assert len(verdict.right) == len(exercise.steps)


@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda each: each.name)
def test_who_does_nothing_hears_everything_and_why(exercise) -> None:
    verdict = after(exercise)
    assert [finding.words for finding in verdict.missed] == [step.words for step in exercise.steps]
    assert all(finding.why.endswith(".") for finding in verdict.missed)
    assert not verdict.right


def test_a_jammed_shutoff_waits_for_nobody() -> None:
    verdict = after(JAMMED, SEEN, LOOK, NOTE, *ALL_OFF, apart_seconds=90)
    assert [finding.words for finding in verdict.late] == ["Every switch off."]
    assert "Within 5 minutes" in verdict.late[0].why
    assert verdict.late[0].seconds == 6 * 90


def test_two_switches_of_three_are_not_off() -> None:
    assert "Every switch off." in [finding.words for finding in after(JAMMED, *ALL_OFF[:2]).missed]
    assert "Every switch off." not in [finding.words for finding in after(JAMMED, Handled("isolate")).missed]


def test_power_back_is_switches_first_and_looking_after() -> None:
    verdict = after(POWER, LOOK, *ALL_OFF, SEEN, NOTE)
    assert [finding.words[:9] for finding in verdict.early] == ["Then look"]
    assert verdict.early[0].why.startswith("First: Every switch off")


def test_what_is_better_left_is_named_with_its_reason() -> None:
    slips = after(
        PROBE,
        Handled("look", "", "bare"),
        Handled("lid", "", "cracked"),
        Handled("switch", "top", "off"),
        Handled("trouble", "", "none"),
    ).slips
    assert len(slips) == 4
    assert all(finding.why for finding in slips)
    assert [finding.words for finding in after(JAMMED, Shelving("shutoff-overdue", None, 10, "later", "Jo")).slips] == [
        "The alarm was put aside."
    ]


def test_turning_off_the_dead_ring_itself_is_no_slip() -> None:
    assert after(RING, Handled("switch", "middle", "off")).slips == ()
    assert len(after(RING, Handled("switch", "top", "off")).slips) == 1


def test_damp_ware_is_not_hurried_after_a_power_cut() -> None:
    on_low = Scene(SCENE.at_ms, (("bottom", "low"), ("middle", "off"), ("top", "off")), ("a4",), "Mina")

    def slips(*deeds: Handled) -> list[str]:
        return [slip.words for slip in judge(LOST, on_low, [Act(SCENE.at_ms + 1000, deed) for deed in deeds]).slips]

    assert slips(Handled("switch", "bottom", "off")) == []
    assert slips(Handled("switch", "bottom", "off"), Handled("switch", "bottom", "low")) == []
    hurried = ["A switch was turned up, to make up for what was lost."]
    assert slips(Handled("switch", "bottom", "medium")) == slips(Handled("switch", "top", "low")) == hurried


def test_a_watch_given_without_a_word_or_an_answer_is_half_given() -> None:
    verdict = after(HANDING, LOOK, InReach("Mina"), WatchTaken("Jo"))
    assert [finding.words.split()[0] for finding in verdict.missed] == ["Wind", "Say", "Let"]


def test_each_can_be_asked_for_by_its_name_and_none_blames() -> None:
    assert {named(exercise.name) for exercise in EXERCISES} == set(EXERCISES)
    assert named("ghosts") is None
    for exercise in EXERCISES:
        said = [exercise.story, exercise.closing, *(s.words + s.why for s in (*exercise.steps, *exercise.slips))]
        assert not any("!" in words or "you forgot" in words.lower() for words in said)
