"""One trouble, one episode, one message, at every sampling; and the trouble named is the trouble there is."""

from typing import Any

import pytest

MEDIUM, HIGH = 2, 3

TROUBLES = [
    # trouble, until (stage, hours), tags that must be there, the first of them, its ring
    ("shutoff-jams", (HIGH, 5.5), {"shutoff-overdue"}, "shutoff-overdue", None),
    ("ring-dies", (HIGH, 2.5), {"ring-behind"}, "ring-behind", "middle"),
    ("switch-left-low", (HIGH, 2.5), {"ring-behind"}, "ring-behind", "top"),
    ("night-switch-high", (0, 2.0), {"damp-hurry"}, "damp-hurry", None),
    ("probe-open", (HIGH, 2.0), {"probe-open"}, "probe-open", "middle"),
    ("probe-pulled-out", (HIGH, 2.0), {"probe-out"}, "probe-out", "top"),
    ("power-cut", (HIGH, 2.5), {"heat-lost", "power-back"}, "heat-lost", None),
    ("power-cut-night", (0, 5.0), {"heat-lost"}, "heat-lost", None),
]


@pytest.mark.parametrize("seconds", [1, 5, 30])
@pytest.mark.parametrize(("trouble", "until", "tags", "first", "ring"), TROUBLES, ids=[t[0] for t in TROUBLES])
def test_one_trouble_is_one_message(
    fire: Any, trouble: str, until: tuple[int, float], tags: set[str], first: str, ring: str | None, seconds: int
) -> None:
    firing = fire(trouble, seconds, until=until, fine_from_stage=MEDIUM if until[0] == HIGH else 0)
    assert tags <= set(firing.tags)
    assert (firing.raised[0].tag, firing.raised[0].ring) == (first, ring)
    assert len({alarm.episode for alarm in firing.raised}) == 1
    # That heat comes back asks for something else than that it went: it alone is told anew in its episode.
    assert [alarm.tag for alarm in firing.told if alarm.tag != "power-back"] == [first]


@pytest.mark.parametrize("seconds", [1, 5, 30])
def test_a_jammed_shutoff_goes_on_to_overfire_in_the_same_episode(fire: Any, seconds: int) -> None:
    firing = fire("shutoff-jams", seconds, until=(HIGH, 5.5), fine_from_stage=MEDIUM)
    first, *rest = firing.raised
    assert first.tag == "shutoff-overdue"
    assert {alarm.tag for alarm in rest} & {"guard-cone", "ceiling-passed"}
    assert all(alarm.episode == first.episode and not alarm.tell for alarm in rest)
