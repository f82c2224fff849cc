"""Faults of the watch itself: said once, dated from their beginning, unsaid when they are over."""

import logging

import pytest

from spyhole.services.conditions import ALL, LATE, PAGE, Conditions


def test_a_condition_is_dated_from_its_beginning() -> None:
    now = [1000]
    changes = []
    conditions = Conditions(lambda: now[0])
    conditions.changed = lambda: changes.append(now[0])
    conditions.set(LATE)
    now[0] = 2000
    conditions.set(LATE)
    conditions.set(PAGE)
    assert [(v.code, v.since_utc_ms) for v in conditions.views()] == [("watch-late", 1000), ("watch-page", 2000)]
    conditions.clear(LATE)
    conditions.clear(LATE)
    assert [v.code for v in conditions.views()] == ["watch-page"]
    assert changes == [1000, 2000, 2000]


def test_a_part_that_declares_its_own_changes_its_words_in_place() -> None:
    now = [1000]
    conditions = Conditions(lambda: now[0])
    conditions.told("watch-disk", "Little room.")
    now[0] = 2000
    conditions.told("watch-disk", "No room.")
    assert [(v.code, v.since_utc_ms, v.words) for v in conditions.views()] == [("watch-disk", 1000, "No room.")]
    conditions.told("watch-disk", None)
    assert conditions.views() == ()


def test_changes_are_logged_and_repetitions_are_not(caplog: pytest.LogCaptureFixture) -> None:
    conditions = Conditions(lambda: 0)
    with caplog.at_level(logging.INFO):
        for _ in range(100):
            conditions.set(LATE)
    assert len(caplog.records) == 1


@pytest.mark.parametrize("condition", ALL, ids=lambda c: c.code)
def test_each_says_what_it_means_in_sentences(condition: object) -> None:
    words = getattr(condition, "words")  # noqa: B009
    assert words.endswith(".")
    assert "!" not in words
    assert 40 < len(words) < 200


def test_codes_are_unique() -> None:
    assert len({c.code for c in ALL}) == len(ALL)
