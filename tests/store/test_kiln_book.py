"""Firings, their curves and marks, checkpoints and messages, as the page and a recovery read them."""

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, Row, Undo
from spyhole.services.archive import (
    Batch,
    Checkpoint,
    CurvePoint,
    Firing,
    Mark,
    Message,
    Minute,
    PendingMessage,
    RingMinute,
    Step,
)
from spyhole.services.desk import FiringSummary

if TYPE_CHECKING:
    from conftest import Record


@pytest.fixture
def record(any_record: "Record") -> "Record":
    """On a file and on a server alike."""
    return any_record


UNDER_WAY = FiringSummary(1, "Bisque, cone 05", "05", 1_950_000_000_000, None, None, 812.5, 0.25, 1)


def minute(sequence: int, *means: float | None, firing: int = 1, boot: str = "first") -> Minute:
    rings = tuple(None if mean is None else RingMinute(mean - 1, mean, mean + 2) for mean in means)
    return Minute("Puffin", firing, sequence, boot, sequence * 60_000, "low", 120.0, rings)


def test_a_firing_is_put_again_as_it_goes(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(firings=(Firing("Puffin", UNDER_WAY, "plan", "kiln"),)))
    assert archive.flush(30)
    assert archive.firings("Puffin") == [UNDER_WAY]
    over = replace(UNDER_WAY, ended_utc_ms=1_950_080_000_000, tripped_utc_ms=1_950_060_000_000, peak_celsius=1041.25)
    next_one = replace(UNDER_WAY, id=90_000)
    archive.put(Batch(firings=(Firing("Puffin", over, "plan", "kiln"), Firing("Puffin", next_one, "plan 2", "kiln"))))
    assert archive.flush(30)
    assert archive.firings("Puffin") == [next_one, over], "newest first"
    assert archive.firing("Puffin", 90_000) == Firing("Puffin", next_one, "plan 2", "kiln")
    assert archive.firing("Puffin", 5) is None
    assert archive.firings("Wren") == []
    assert (archive.firing_count("Puffin"), archive.firing_count("Wren")) == (2, 0)
    assert archive.firings("Puffin", newest=1) == [next_one]
    assert archive.firings("Puffin", newest=1, before=next_one.id) == [over]
    assert archive.firings("Puffin", newest=5, before=over.id) == []


def test_the_curve_in_the_order_it_was_made(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(steps=(Step(record.reading(1, Clock(1_950_000_001_000, synchronised=True))),)))
    archive.put(Batch(minutes=(minute(2, 30, None), minute(3, 31.5, 25), minute(4, 99, firing=2))))
    assert archive.flush(30)
    assert archive.minutes("Puffin", 1) == [
        CurvePoint(1_950_000_120_000, "low", 120.0, (RingMinute(29, 30, 32), None)),
        CurvePoint(1_950_000_180_000, "low", 120.0, (RingMinute(30.5, 31.5, 33.5), RingMinute(24, 25, 27))),
    ]


def test_a_thinned_curve_keeps_lowest_and_highest(record: "Record") -> None:
    archive = record.open()
    spike = {7: 400.0}
    archive.put(Batch(minutes=tuple(minute(n, spike.get(n, 100.0 + n), None) for n in range(1, 11))))
    assert archive.flush(30)
    course = archive.course("Puffin", 1, points=3)
    assert course.utc_ms == [240_000, 480_000, 600_000]
    assert [column[1] for column in course.rings[0]] == [104.0, (105 + 106 + 400 + 108) / 4, 402.0]
    assert [len(archive.course("Puffin", 1, points).utc_ms) for points in (10, 1_000, 1)] == [10, 10, 1]
    assert archive.course("Puffin", 2, points=10) == ([], [], ())


def test_the_course_of_a_firing_is_its_minutes(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(minutes=(minute(2, 30, None), minute(3, 31.5, 25), minute(4, None, 26))))
    assert archive.flush(30)
    course = archive.course("Puffin", 1, points=100)
    for at, one in enumerate(archive.minutes("Puffin", 1)):
        assert (one.utc_ms, one.ceiling_celsius) == (course.utc_ms[at], course.ceiling_celsius[at])
        for ring, columns in zip(one.rings, course.rings, strict=True):
            assert tuple(column[at] for column in columns) == ((None,) * 3 if ring is None else ring)


def test_a_kiln_that_gains_a_ring_keeps_its_curve(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(minutes=(minute(1, 20), minute(2, 21, 22))))
    assert archive.flush(30)
    assert [len(point.rings) for point in archive.minutes("Puffin", 1)] == [2, 2]


def test_a_minute_with_more_rings_than_a_kiln_has_is_refused(record: "Record") -> None:
    with pytest.raises(ValueError, match="9 rings; a minute has at most 8"):
        record.open().put(Batch(minutes=(minute(1, *range(20, 29)),)))


def test_a_firing_begun_in_1970_is_shown_right_once_the_clock_is_set(record: "Record") -> None:
    archive = record.open()
    lit = Entry(EntryKind.START, "", "05")
    archive.put(
        Batch(
            steps=(
                Step(record.reading(1, Clock(9_000, synchronised=False))),
                Step(record.reading(2, lit), (record.alarm(),)),
            ),
            firings=(Firing("Puffin", replace(UNDER_WAY, id=2), "plan", "kiln"),),
            minutes=(minute(3, 20, firing=2),),
        )
    )
    assert archive.flush(30)
    before = list(archive.rows_after("Puffin", 0))
    assert [mark.utc_ms for mark in archive.marks("Puffin", 2)] == [10_000, 10_000]

    archive.put(Batch(steps=(Step(record.reading(3, Clock(1_950_000_003_000, synchronised=True))),)))
    archive.put(Batch(steps=(Step(record.reading(4, Clock(7_000, synchronised=False))),)))
    assert archive.flush(30)
    assert [mark.utc_ms for mark in archive.marks("Puffin", 2)] == [1_950_000_002_000] * 2
    assert [point.utc_ms for point in archive.minutes("Puffin", 2)] == [1_950_000_180_000]
    assert list(archive.rows_after("Puffin", 0))[:2] == before, "rows are never rewritten"


def test_a_boot_that_never_knew_the_time_stands_in_1970(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(minutes=(minute(3, 20),)))
    assert archive.flush(30)
    assert [point.utc_ms for point in archive.minutes("Puffin", 1)] == [180_000]


def test_the_marks_of_a_firing_go_on_to_the_start_of_the_next(record: "Record") -> None:
    archive = record.open()
    start = Entry(EntryKind.START, "", "05")
    wrong = Entry(EntryKind.SWITCH, "top", "high", "Ada")
    seen = Entry(EntryKind.CONE, "middle", "05:85", "Ada", happened_utc_ms=1_950_000_000_500)
    told = {1: Clock(1_950_000_001_000, synchronised=True), 2: start, 3: wrong, 4: Undo(3, "Ada"), 6: seen, 7: start}
    alarm = record.alarm()
    archive.put(
        Batch(
            steps=tuple(Step(record.reading(n, told.get(n)), (alarm,) if n == 5 else ()) for n in range(1, 9)),
            firings=tuple(Firing("Puffin", replace(UNDER_WAY, id=n), "plan", "kiln") for n in (2, 7)),
        )
    )
    assert archive.flush(30)
    assert archive.marks("Puffin", 2) == [
        Mark(1_950_000_002_000, 2, start),
        Mark(1_950_000_003_000, 3, wrong, undone=True),
        Mark(1_950_000_005_000, 5, alarm),
        Mark(1_950_000_000_500, 6, seen),
    ]
    assert archive.marks("Puffin", 7) == [Mark(1_950_000_007_000, 7, start)]


def test_the_last_three_checkpoints_are_kept_newest_first(record: "Record") -> None:
    archive = record.open()
    for sequence in (60, 120, 180, 240):
        archive.put(Batch(checkpoint=Checkpoint("Puffin", sequence, 7, b"state %d" % sequence)))
        assert archive.flush(30)
    archive.put(Batch(checkpoint=Checkpoint("Wren", 5, 7, b"")))
    assert archive.flush(30)
    assert archive.checkpoints("Puffin") == [
        Checkpoint("Puffin", sequence, 7, b"state %d" % sequence) for sequence in (240, 180, 120)
    ]
    assert len(archive.checkpoints("Wren")) == 1


def test_a_message_stays_pending_until_somebody_was_told(record: "Record") -> None:
    archive = record.open()
    first, second, third = (
        Message(f"Puffin/a1/{who}/0", who, "Stall", "Words", urgent=True, created_utc_ms=5)
        for who in ("ada", "bo", "cy")
    )
    archive.put(Batch(messages=(first, second, third)))
    archive.put(Batch(messages=(replace(first, text="The same again"),)))
    archive.message_failed(first.key, "no answer in 10 s")
    archive.message_sent(second.key)
    archive.message_failed(third.key, "401", give_up=True)
    assert archive.flush(30)
    assert archive.pending_messages() == [PendingMessage(first, 1, "no answer in 10 s")]
    archive.close(30)
    archive = record.open()
    assert archive.pending_messages() == [PendingMessage(first, 1, "no answer in 10 s")], "also after a restart"
    archive.message_sent(first.key)
    assert archive.flush(30)
    assert archive.pending_messages() == []


def test_boots_that_never_knew_the_time_hang_on_the_next_that_does(record: "Record") -> None:
    """Two cuts before the network answers. The first lasts a second by a clock that may be right; how long the last one
    is nobody knows, so it counts as nothing."""
    archive = record.open()
    start = Entry(EntryKind.START, "", "05")
    by = {"first": 0, "second": 4, "third": 8}
    told = {1: Clock(1_000, False), 2: start, 5: Clock(5_000, False), 6: start, 9: Clock(1_950_000_000_000, True)}
    ended = {"ended_utc_ms": 3_000, "tripped_utc_ms": None}
    archive.put(
        Batch(
            steps=tuple(
                Step(Row("Puffin", n, boot, (n - before) * 1000, told.get(n, record.reading(n).told)))
                for boot, before in by.items()
                for n in range(before + 1, before + 5)
                if n < 9
            ),
            minutes=tuple(
                replace(minute(n, 20, firing=firing, boot=boot), monotonic_ms=4000)
                for n, firing, boot in ((4, 2, "first"), (8, 6, "second"))
            ),
            firings=(
                Firing("Puffin", replace(UNDER_WAY, id=2, started_utc_ms=2_000, **ended), "plan", "kiln"),
                Firing("Puffin", replace(UNDER_WAY, id=6, started_utc_ms=6_000), "plan", "kiln"),
            ),
        )
    )
    assert archive.flush(30)
    archive.put(Batch(steps=(Step(Row("Puffin", 9, "third", 1_000, told[9])),)))
    assert archive.flush(30)
    at = 1_950_000_000_000
    assert [
        (line.started_utc_ms - at, line.ended_utc_ms and line.ended_utc_ms - at) for line in archive.firings("Puffin")
    ] == [
        (-2_000, None),
        (-6_000, -5_000),
    ]
    assert [point.utc_ms - at for n in (2, 6) for point in archive.minutes("Puffin", n)] == [-4_000, 0]
    archive.put(Batch(steps=(Step(Row("Puffin", 10, "third", 2_000, Clock(at + 1_000, True))),)))
    assert archive.flush(30)
    assert archive.firings("Puffin")[0].started_utc_ms == at - 2_000, "once is enough"


def test_a_sketch_is_a_few_moments_of_each_firing_evenly(record: "Record") -> None:
    archive = record.open()
    later = replace(UNDER_WAY, id=1000)
    rise = tuple(minute(at, 20.0 + at, None, 10.0 + at) for at in range(2, 902))
    after = tuple(minute(at, None, 600.0 + (at - 1000) / 2, firing=1000) for at in range(1001, 1101))
    archive.put(
        Batch(
            steps=(Step(Row("Puffin", 1, "first", 0, Clock(1_950_000_000_000, True))),),
            firings=(Firing("Puffin", UNDER_WAY, "", ""), Firing("Puffin", later, "", "")),
            minutes=rise + after,
        )
    )
    assert archive.flush(30)
    drawn = archive.sketches("Puffin", [1, 1000, 7], 10)
    assert drawn[7] == []
    assert len(drawn[1]) == len(drawn[1000]) == 10
    assert [celsius for _, celsius in drawn[1]] == [utc_ms / 60_000 - 32_500_000 + 20 for utc_ms, _ in drawn[1]]
    assert (drawn[1][0][1], drawn[1][-1][1]) == (22.0, 921.0), "from its first minute to its last, the hottest ring"
    apart = [later - earlier for (earlier, _), (later, _) in zip(drawn[1], drawn[1][1:], strict=False)]
    assert max(apart) - min(apart) <= 2 * 60_000
    assert archive.sketches("Wren", [1], 10) == {1: []}


def test_words_are_found_in_what_was_written_down(record: "Record") -> None:
    archive = record.open()
    said = ("Bowls by Ruth's Thursday class", "10% grog, café", "Nothing")
    rows = [Row("Puffin", at, "first", at * 1000, Entry(EntryKind.NOTE, "", words)) for at, words in enumerate(said, 1)]
    archive.put(Batch(steps=tuple(Step(row) for row in rows)))
    assert archive.flush(30)
    assert archive.noted("Puffin", "BOWLS") == [1]
    assert archive.noted("Puffin", "10% g") == [2]
    assert archive.noted("Puffin", "%") == [2], "a word, not a pattern"
    assert archive.noted("Puffin", "café") == [2]
    assert archive.noted("Wren", "bowls") == []
