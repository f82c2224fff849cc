"""Each trouble does what its sentence says, asked for at the start or thrown in."""

import pytest

from spyhole.core.reading import Fault
from spyhole_hardware.emulated.troubles import TROUBLES, named

BOTTOM, MIDDLE, TOP = range(3)


def test_each_has_a_sentence_for_the_panel() -> None:
    assert all(trouble.sentence.endswith(".") for trouble in TROUBLES)
    assert len({trouble.name for trouble in TROUBLES}) == len(TROUBLES)


def test_an_unknown_one_is_refused_with_those_there_are() -> None:
    with pytest.raises(ValueError, match="shutoff-jams"):
        named("gremlins")


def test_shutoff_jams_and_only_the_timer_ends_it(watch, well) -> None:
    jammed = watch(trouble="shutoff-jams").go(20)
    ended = jammed.hour_of("switch", "middle", "off")
    assert ended - well.hour_of("shutoff", "", "tripped") > 0.5
    assert not jammed.rehearsal.view().shutoff_tripped
    assert jammed.rehearsal.kiln.shutoff.cone.down
    assert jammed.rehearsal.view().timer_minutes_left == 0
    assert max(reading.probes[MIDDLE].celsius for _, reading in jammed.ticks) > 1031 + 55


def test_shutoff_jams_without_a_timer_passes_the_kilns_maximum(watch) -> None:
    watched = watch().go(15)
    watched.rehearsal.throw("shutoff-jams")
    for _ in range(8):
        watched.rehearsal.kiln.timer.wind(720)
        watched.go(1.5)
    assert max(reading.probes[MIDDLE].celsius for _, reading in watched.ticks) > 1290


def test_ring_dies_and_the_middle_falls_behind(watch, well) -> None:
    dead = watch(trouble="ring-dies").go(16)
    high = dead.hour_of("switch", "middle", "high")
    assert dead.celsius(MIDDLE, high + 0.6) == well.celsius(MIDDLE, high + 0.6)
    behind = dead.celsius(BOTTOM, high + 2) - dead.celsius(MIDDLE, high + 2)
    assert behind - (well.celsius(BOTTOM, high + 2) - well.celsius(MIDDLE, high + 2)) > 40
    assert dead.celsius(MIDDLE, high + 2) < well.celsius(MIDDLE, high + 2) - 60


def test_switch_left_low_though_the_keeper_says_otherwise(watch) -> None:
    left = watch(trouble="switch-left-low").go(15)
    assert left.hour_of("switch", "top", "high") == left.hour_of("switch", "middle", "high")
    assert dict(left.rehearsal.view().switches) == {"bottom": "high", "middle": "high", "top": "low"}
    assert left.celsius(MIDDLE, 15) - left.celsius(TOP, 15) > 40


def test_switch_left_low_thrown_on_high(watch) -> None:
    watched = watch().go(14)
    watched.rehearsal.throw("switch-left-low")
    assert dict(watched.rehearsal.view().switches)["top"] == "low"


def test_night_switch_high_overheats_the_bottom_while_candling(watch, well) -> None:
    night = watch(trouble="night-switch-high").go(9.5)
    assert night.hour_of("switch", "bottom", "low") < 0.1
    assert night.celsius(BOTTOM, 2) > well.celsius(BOTTOM, 2) + 150
    assert dict(night.rehearsal.view().switches)["bottom"] == "low"


def test_probe_open_has_no_number_and_the_others_have(watch) -> None:
    watched = watch(trouble="probe-open").go(15)
    onset = watched.hour_of("switch", "middle", "high") + 0.5
    for at, reading in watched.ticks:
        middle = reading.probes[MIDDLE]
        if at < onset:
            assert middle.fault is None
        elif at > onset + 0.02:
            assert (middle.celsius, middle.fault) == (None, Fault.OPEN)
        assert reading.probes[BOTTOM].celsius is not None
        assert reading.probes[TOP].celsius is not None


def test_probe_pulled_out_follows_the_room(watch) -> None:
    watched = watch(trouble="probe-pulled-out").go(15)
    assert watched.celsius(TOP, 14.8) == pytest.approx(watched.rehearsal.kiln.room_celsius, abs=4)
    assert watched.celsius(MIDDLE, 14.8) > 700


def test_power_cut_for_forty_minutes_and_then_heat_again(watch) -> None:
    watched = watch().go(14)
    rehearsal = watched.rehearsal
    left = rehearsal.view().timer_minutes_left
    rehearsal.throw("power-cut")
    watched.go(0.6)
    assert not rehearsal.view().power
    assert rehearsal.view().timer_minutes_left == pytest.approx(left, abs=0.1)
    assert dict(rehearsal.view().switches)["middle"] == "high"
    assert watched.celsius(MIDDLE, 14.55) < watched.celsius(MIDDLE, 14.0) - 50
    watched.go(0.4)
    assert rehearsal.view().power
    assert watched.celsius(MIDDLE, 14.95) > watched.celsius(MIDDLE, 14.7) + 20


def test_power_cut_at_night_comes_while_it_candles_and_lasts_into_the_small_hours(watch) -> None:
    night = watch(trouble="power-cut-night").go(3.2)
    assert night.rehearsal.view().power
    night.go(0.3)
    assert not night.rehearsal.view().power
    night.go(2.4)
    assert night.celsius(BOTTOM, 5.8) < night.celsius(BOTTOM, 3.3) - 25
    night.go(0.2)
    assert night.rehearsal.view().power


@pytest.mark.parametrize("trouble", [trouble.name for trouble in TROUBLES])
def test_none_mends_whatever_was_thrown(watch, trouble: str) -> None:
    watched = watch().go(13.2)
    watched.rehearsal.throw(trouble)
    watched.go(0.2)
    assert watched.rehearsal.view().trouble == trouble
    watched.rehearsal.throw("none")
    watched.go(0.1)
    assert watched.rehearsal.view().trouble == "none"
    assert watched.rehearsal.view().power
    assert all(probe.fault is None for probe in watched.ticks[-1][1].probes)
