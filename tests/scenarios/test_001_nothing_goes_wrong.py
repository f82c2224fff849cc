"""A healthy firing, lit to unloaded: the cone goes down, the shut-off drops, and nobody is alarmed."""

from typing import Any

import pytest


@pytest.mark.parametrize("seconds", [1, 5, 30])
def test_a_healthy_firing_raises_nothing(fire: Any, seconds: int) -> None:
    firing = fire("none", seconds)
    assert firing.tags == []
    assert firing.prompts == ["steam-past", "turn-due", "cone-down", "shut-off-seen", "crack-lid", "open-lid", "unload"]
    assert 30 < firing.hours < 48
    off = next(e for e in firing.estimates if not e.heating and e.stage == "cooling")
    assert off.cone_progress is not None
    assert off.cone_progress >= 1.0
    assert firing.estimates[-1].stage == "cooling"
