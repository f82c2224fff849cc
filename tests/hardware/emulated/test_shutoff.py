"""The mechanical shut-off: trips when its cone is down, unless it jams."""

import pytest

from spyhole_hardware.emulated.shutoff import Shutoff


def heat(shutoff: Shutoff, hours: float, *, to: float) -> float:
    """Climb at 100 degC/h until tripped or so hot; degC reached."""
    celsius = 800.0
    for _ in range(int(hours * 720)):
        if shutoff.tripped or celsius >= to:
            return celsius
        celsius += 100 / 720
        shutoff.step(5, celsius)
    return celsius


def test_it_trips_about_when_the_standing_cone_would_be_down() -> None:
    """Cone 05: 1031 at 60 and 1044 at 150 degC/h on the chart; habit and cone scatter by a few degrees."""
    trips = [heat(Shutoff("05", kiln, cone), 5, to=1300) for kiln in range(8) for cone in range(5)]
    assert min(trips) > 1025
    assert max(trips) < 1050
    assert max(trips) - min(trips) > 2


def test_the_same_seeds_trip_at_the_same_heat() -> None:
    assert heat(Shutoff("05", 1, 2), 5, to=1300) == heat(Shutoff("05", 1, 2), 5, to=1300)


def test_jammed_it_never_trips() -> None:
    shutoff = Shutoff("05", 1, 2)
    shutoff.jammed = True
    assert heat(shutoff, 30, to=1400) >= 1400
    assert not shutoff.tripped


def test_freed_with_its_cone_down_it_trips_at_once() -> None:
    shutoff = Shutoff("05", 1, 2)
    shutoff.jammed = True
    heat(shutoff, 5, to=1200)
    shutoff.jammed = False
    shutoff.step(5, 600)
    assert shutoff.tripped


def test_it_stays_tripped_until_armed_with_a_new_cone() -> None:
    shutoff = Shutoff("05", 1, 2)
    heat(shutoff, 5, to=1300)
    shutoff.step(5, 20)
    assert shutoff.tripped
    shutoff.arm("04", 3)
    assert not shutoff.tripped
    assert heat(shutoff, 5, to=1300) > 1060


def test_a_cone_that_is_not_made_small_is_refused() -> None:
    with pytest.raises(ValueError, match="no small cone '13'"):
        Shutoff("13", 1, 2)
