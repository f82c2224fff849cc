"""What is said aloud: plain, short, in the studio's own unit and zone."""

from dataclasses import replace
from datetime import timedelta, timezone

import pytest

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.outcome import Action, AlarmOutcome, Facts, Forecast, Priority, PromptOutcome
from spyhole.core.words import Manner, mark, sentence, title

WHEN = 1_951_216_740_000  # 2031-10-31 12:39 UTC
ALL: Facts = (
    ("hottest", "middle"), ("celsius", 1072.4), ("limit", 1071.2), ("cone", "05"), ("bend", 60.0), ("climb", 7.0),
    ("expected", 95.0), ("since_utc_ms", WHEN), ("off_utc_ms", WHEN), ("peak", 1041.3), ("alpha", 1.4), ("from", 640.0),
    ("stage", "high"), ("turns", "bottom high, middle high"), ("below", 150.0), ("stands", "down"),
    ("minutes", 44), ("who", "Wren"), ("why", "the cone should be down soon"), ("apart", 61.0), ("coolest", "top"),
    ("ends_utc_ms", WHEN), ("down_utc_ms", WHEN), ("one", "bottom"), ("other", "top"), ("stepped", 1),
    ("rings", "bottom, middle and top"),
)  # fmt: skip
PROMPTS = (
    "turn-due",
    "cone-down",
    "shut-off-seen",
    "cone-doubted",
    "crack-lid",
    "open-lid",
    "unload",
    "in-reach",
    "steam-past",
)


def alarm(tag: str, ring: str | None = None, action: Action = Action.RAISE) -> AlarmOutcome:
    return AlarmOutcome(WHEN, "a1", tag, ring, Priority.HIGH, action, True, ALL)


@pytest.mark.parametrize("tag", CATALOGUE)
def test_an_alarm_is_at_most_a_few_sentences_and_ends_with_the_first_thing_to_do(tag: str) -> None:
    said = sentence(alarm(tag, "top"))
    assert said.endswith(CATALOGUE[tag].first)
    assert "!" not in said
    assert "None" not in said
    first = said.split(". ")[0]
    assert len(first) <= 120, "the first sentence fits a lock screen"


@pytest.mark.parametrize("tag", PROMPTS)
def test_a_prompt_is_said_whole(tag: str) -> None:
    said = sentence(PromptOutcome(WHEN, tag, ALL))
    assert said.endswith(".")
    assert "None" not in said
    assert title(PromptOutcome(WHEN, tag, ALL))


def test_the_studios_unit_and_zone_are_used_everywhere() -> None:
    there = Manner(timezone(timedelta(hours=1)), "degF")
    said = sentence(PromptOutcome(WHEN, "shut-off-seen", ALL), there)
    assert said.startswith("Stopped heating 13:39, peak 1906 degF, cone 05 down.")
    assert "degC" not in said
    assert sentence(alarm("stall"), there).startswith(
        "The kiln climbs 13 per hour at 1962 degF; 171 was to be expected."
    )


def test_a_ring_that_falls_behind_says_by_how_much() -> None:
    behind = AlarmOutcome(
        WHEN, "a1", "ring-behind", "top", Priority.MEDIUM, Action.RAISE, True, (*ALL[5:6], ("behind", 46.2))
    )
    assert sentence(behind).startswith("The top ring is 46 behind the others and climbs 7 per hour.")
    falling = replace(behind, facts=(("climb", -42.0), ("behind", 61.0)))
    assert sentence(falling).startswith("The top ring is 61 behind the others and falls 42 per hour.")


def test_an_alarm_that_is_over_says_so() -> None:
    assert sentence(alarm("stall", action=Action.CLEAR)) == "Over: hardly climbing."


def test_a_forecast_is_the_clock_first() -> None:
    assert Manner().between(Forecast(WHEN - 60_000, WHEN, WHEN + 300_000)) == "12:39, between 12:38 and 12:44"


@pytest.mark.parametrize(
    ("kind", "subject", "value", "words"),
    [
        (EntryKind.START, "", "05", "Lit, for cone 05"),
        (EntryKind.SWITCH, "top", "high", "Top to high"),
        (EntryKind.PLUGS, "", "out", "Plugs out"),
        (EntryKind.PLUGS, "top", "half", "Top plug half"),
        (EntryKind.TIMER, "", "240", "Timer wound, 240 minutes"),
        (EntryKind.CONE, "middle", "06:down", "Seen at the middle ring: cone 06 down"),
        (EntryKind.CONE, "middle", "05:85", "Seen at the middle ring: cone 05 bent 85 degrees"),
        (EntryKind.NOTE, "", "clean firing", "clean firing"),
    ],
)
def test_an_entry_reads_as_its_keeper_would_say_it(kind: EntryKind, subject: str, value: str, words: str) -> None:
    assert mark(Entry(kind, subject, value)) == words
