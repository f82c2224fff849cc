"""A changed value is the one that dataclasses.replace makes."""

from dataclasses import fields, replace

import pytest

from spyhole.core import watch
from spyhole.core.curve.track import Track
from spyhole.core.quick import changed


def test_it_makes_the_value_that_replace_makes() -> None:
    state, track = watch.begin(), Track(at_ms=5, celsius=20.0)
    assert changed(state, sequence=7, minute=3) == replace(state, sequence=7, minute=3)
    for one in fields(Track):
        assert changed(track, **{one.name: 1}) == replace(track, **{one.name: 1})
    assert track == Track(at_ms=5, celsius=20.0)


def test_a_value_with_nothing_changed_is_itself() -> None:
    track = Track(at_ms=5, celsius=20.0, broke=())
    assert changed(track, at_ms=5, broke=(), jump=None) is track
    assert changed(track, at_ms=5, celsius=20.5) == Track(at_ms=5, celsius=20.5)


def test_a_field_that_is_not_there_is_refused() -> None:
    with pytest.raises(KeyError):
        changed(Track(), degrees=1.0)
