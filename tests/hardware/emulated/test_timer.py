"""The backup timer: runs out and cuts; whether it stops in a power cut is the kiln's."""

import pytest

from spyhole_hardware.emulated.timer import BackupTimer


def test_it_runs_out_after_the_minutes_it_was_wound_to() -> None:
    timer = BackupTimer(720, stops_in_power_cut=True)
    assert not timer.closed
    timer.wind(45)
    for _ in range(45 * 12 - 1):
        timer.step(5, mains=True)
    assert timer.closed
    timer.step(5, mains=True)
    timer.step(5, mains=True)
    assert not timer.closed
    assert timer.minutes_left == 0


def test_its_dial_has_an_end() -> None:
    timer = BackupTimer(720, stops_in_power_cut=True)
    timer.wind(5000)
    assert timer.minutes_left == 720


@pytest.mark.parametrize(("stops", "left"), [(True, 60), (False, 20)])
def test_a_power_cut_of_forty_minutes(stops: bool, left: float) -> None:
    timer = BackupTimer(720, stops_in_power_cut=stops)
    timer.wind(60)
    for _ in range(40 * 12):
        timer.step(5, mains=False)
    assert timer.minutes_left == pytest.approx(left)
