"""How many alarms come in how short a time: the targets of ISA-18.2 and EEMUA 191 (from memory), and our own.

At most one in ten minutes is what a person can mind; more than ten in ten minutes is a flood; three of the same in a
minute is chattering. Ours are none in a normal firing, no flood and no chattering in a troubled one.
"""

from collections import Counter
from collections.abc import Iterable
from typing import Any

import pytest

from spyhole.core.outcome import AlarmOutcome
from spyhole_hardware.emulated.puffin import TONIGHT

MINUTE = 60_000
HIGH = 3


def most_within(raised: Iterable[AlarmOutcome], ms: int) -> int:
    """The most that came within so long."""
    times = sorted(alarm.utc_ms for alarm in raised)
    return max((sum(1 for other in times if 0 <= other - at < ms) for at in times), default=0)


def chatter(raised: list[AlarmOutcome]) -> int:
    """The most that one alarm came within a minute."""
    each = Counter((alarm.tag, alarm.ring) for alarm in raised)
    return max((most_within([a for a in raised if (a.tag, a.ring) == key], MINUTE) for key in each), default=0)


def test_the_counting_counts() -> None:
    def at(minute: float, tag: str) -> Any:
        return type("Raised", (), {"utc_ms": int(minute * MINUTE), "tag": tag, "ring": None})()

    assert most_within([at(0, "a"), at(9, "b"), at(10.5, "c")], 10 * MINUTE) == 2
    assert chatter([at(0, "a"), at(0.3, "a"), at(0.6, "a"), at(0.7, "b")]) == 3


def test_a_normal_firing_has_at_most_one_in_ten_minutes(fire: Any) -> None:
    firing = fire("none", 5, holder="Wren")
    assert most_within(firing.raised, 10 * MINUTE) <= 1
    assert chatter(firing.raised) <= 1
    # Of messages, to the one who holds the watch and answers: one a turn, and at most five more, each once.
    titles = [message.title for message in firing.messages]
    turns = [title for title in titles if "turn" in title]
    assert len(turns) == len(TONIGHT.plan.stages) - 1
    assert 0 < len(titles) - len(turns) <= 5, titles
    assert firing.told_of("a") == []


@pytest.mark.parametrize("trouble", ["shutoff-jams", "ring-dies", "probe-open", "probe-pulled-out", "power-cut"])
def test_a_troubled_firing_neither_floods_nor_chatters(fire: Any, trouble: str) -> None:
    firing = fire(trouble, 10, until=(HIGH, 5.5), fine_from_stage=HIGH)
    assert firing.raised
    assert most_within(firing.raised, 10 * MINUTE) <= 10
    assert chatter(firing.raised) < 3
    assert most_within(firing.told, 10 * MINUTE) <= 2
    # One message for one trouble; what follows it is the ladder, as nobody acknowledges here.
    (told,) = firing.told_of("a")
    assert told.endswith("-0)")
