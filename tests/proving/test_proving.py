"""The family itself is honest, and the watch holds on a handful of it; `make prove` runs the whole."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import family
import score

SOME = ("plain", "nothing-logged", "unequal-rings", "cycling-switches")
CLEAR = ("probe-open", "chip-silent", "power-lost", "blind")


@pytest.mark.parametrize("kind", ["wet-with-care", "cycling-switches"])
def test_energy_closes(kind: str) -> None:
    _, fired = family.fire(3, kind, 600)
    assert abs(fired.balance) < 1e-9 < fired.bought


def test_draws_differ_and_seeds_repeat() -> None:
    assert len({family.draw(seed, "plain").build for seed in range(20)}) == 20
    assert family.draw(5, "plain") == family.draw(5, "plain")


def test_there_are_enough_kinds() -> None:
    assert len(family.HEALTHY) >= 25
    assert len(family.TROUBLES) >= 25


@pytest.mark.parametrize("kind", family.TROUBLES)
def test_every_trouble_begins_within_its_firing(kind: str) -> None:
    _, fired = family.fire(70, kind, 600)
    assert fired.onset is not None
    assert 0 < fired.onset < fired.readings[-1][0]


def test_some_healthy_firings_reach_their_cone_and_are_forecast() -> None:
    """Loose: at most three false alarms in four firings, and an hour of error an hour before."""
    results = [score.prove(kind, 500 + i, 30)[0] for i, kind in enumerate(SOME)]
    assert sum(len(r["false"]) for r in results) <= 3
    errors = [e for r in results if (e := r["down"]["60"]["error"]) is not None]
    assert errors
    assert all(abs(error) < 60 for error in errors)


@pytest.mark.parametrize("kind", CLEAR)
def test_clear_troubles_are_found(kind: str) -> None:
    assert score.prove(kind, 600, 30)[0]["delay"] is not None
