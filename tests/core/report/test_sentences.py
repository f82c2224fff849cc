"""What a report says and asks: nothing it does not know, and every question only where it is open."""

from dataclasses import replace
from typing import Any

import pytest

from spyhole.core.entry import EntryKind
from spyhole.core.report import sentences
from spyhole.core.report.report import Report, report_of
from spyhole.core.words import Manner

MANNER = Manner()


def tags(report: Report) -> list[str]:
    return [question.tag for question in report.questions]


def test_the_headline_says_when_how_and_where_the_cone_stood(tell: Any) -> None:
    said = sentences.headline(report_of(tell()), MANNER)
    assert said.startswith("The shut-off dropped at ")
    assert said.endswith("peak 1039 degC. Cone 05 down at the bottom ring, by heat work.")


def test_a_firing_under_way_says_so(tell: Any, climbs: Any, logged: Any) -> None:
    half = climbs((0.0, 20.0), (9.0, 580.0))
    report = report_of(tell(half, half, tripped=None, happenings=logged[:-1]))
    assert sentences.headline(report, MANNER).startswith("This firing is under way")
    assert report.differences == ()


def test_everything_open_is_asked(tell: Any, raised: Any, prompt: Any, note: Any, lit: int) -> None:
    happened = [
        note(0.0, EntryKind.START, "", "05", who=""),
        raised(7.0, "probe-noisy", "top"),
        raised(8.0, "probe-noisy", "top"),
        prompt(14.1, "shut-off-seen", off_utc_ms=lit + 14 * 3_600_000),
    ]
    report = report_of(tell(tripped=None, happenings=happened))
    assert sorted(tags(report)) == ["ended-how", "lit-by", "probe", "switched-off", "turn", "witness"]
    said = [sentences.question(question, MANNER) for question in report.questions]
    assert said[0] == "What do the witness cones at bottom and top show? None is entered there."
    assert all(one.endswith(("?", "there.", "down.", "yet.")) for one in said)


def test_nothing_is_asked_that_was_written_down(tell: Any, note: Any, logged: Any) -> None:
    more = [note(14.3, EntryKind.SWITCH, ring, "off") for ring in ("bottom", "top")]
    more += [note(25.0, EntryKind.CONE, ring, "05:down") for ring in ("bottom", "top")]
    assert tags(report_of(tell(happenings=[*logged, *more]))) == []


def test_a_cone_that_cannot_be_is_asked_about(tell: Any, note: Any, logged: Any) -> None:
    report = report_of(tell(happenings=[*logged, note(25.0, EntryKind.CONE, "bottom", "6:down")]))
    assert "cone-doubted" in tags(report)


def test_what_cannot_be_known_is_said(tell: Any, note: Any) -> None:
    report = report_of(tell(happenings=[note(0.0, EntryKind.START, "", "05")]))
    said = " ".join(sentences.unknown(report))
    assert "No switch was written down" in said
    assert "nothing here measures the current" in said
    assert "No cone was seen beside a probe" in said


def test_what_was_different_from_last_time(tell: Any, climbs: Any) -> None:
    before = report_of(tell())
    slow = climbs((0.0, 20.0), (5.0, 120.0), (15.0, 1060.0), (25.0, 40.0))
    now = report_of(replace(tell(slow, slow), id=2, tripped_utc_ms=before.story.started_utc_ms + 15 * 3_600_000),
                    before=before)  # fmt: skip
    found = {one.what: one for one in now.differences if one.what != "stage"}
    assert found["peak"].matters
    assert found["energy"].matters
    assert not found["end"].matters
    assert sentences.difference(found["heating"], MANNER) == ("Heating, in all", "14 h 00", "15 h 00", "+1 h 00")
    same = report_of(tell(), before=before)
    assert [one for one in same.differences if one.matters] == []


@pytest.mark.parametrize(("unit", "said"), [("degC", "1040"), ("degF", "1904")])
def test_degrees_are_in_the_studios_unit(unit: str, said: str) -> None:
    assert sentences.degrees(1040.0, Manner(unit=unit)) == said
    assert sentences.degrees(None, Manner(unit=unit)) == "-"
