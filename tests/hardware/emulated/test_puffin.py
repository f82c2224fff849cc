"""Puffin fires like a real kiln; the figures are common practice, no source, unless said."""

from dataclasses import replace

import pytest

from spyhole_hardware.emulated.firing import read_directly
from spyhole_hardware.emulated.puffin import EARLIER, LAST_BISQUE_05, TONIGHT


def climb(well, ring: int, hour: float) -> float:
    """degC/h over the next twenty minutes."""
    return 3 * (well.celsius(ring, hour + 1 / 3) - well.celsius(ring, hour))


def test_each_stage_of_tonight_ends_where_such_stages_end(well) -> None:
    low, medium, high = (well.hour_of("switch", "middle", word) for word in ("low", "medium", "high"))
    assert 120 < well.celsius(0, low - 0.05) < 175
    assert 70 < well.celsius(1, low - 0.05) < 100
    assert all(200 < well.celsius(ring, medium - 0.05) < 350 for ring in range(3))
    assert all(500 < well.celsius(ring, high - 0.05) < 700 for ring in range(3))


def test_it_climbs_fast_at_first_on_high_and_slower_near_the_cone(well) -> None:
    high, ended = well.hour_of("switch", "middle", "high"), well.hour_of("shutoff", "", "tripped")
    assert 150 < climb(well, 1, high + 0.1) < 260
    assert 60 < climb(well, 1, ended - 0.5) < 125


def test_damp_ware_is_never_hurried_in_the_night(well) -> None:
    low = well.hour_of("switch", "middle", "low")
    for tick in range(int(low * 12) - 6):
        hour = tick / 12
        if 80 < well.celsius(0, hour) < 150:
            assert climb(well, 0, hour) < 50


def test_the_rings_are_even_on_high_and_not_too_even(well) -> None:
    for hour in (14.0, 15.0, 15.9):
        shown = [well.celsius(ring, hour) for ring in range(3)]
        assert 3 < max(shown) - min(shown) < 25


def test_it_falls_fast_after_the_trip_and_then_slower(well) -> None:
    ended = well.hour_of("shutoff", "", "tripped")
    assert -450 < climb(well, 1, ended) < -200
    assert -150 < climb(well, 1, ended + 4) < -40
    assert 20 < well.hour_of("note", "", "unloaded") - ended < 30


def test_it_trips_within_minutes_of_the_cone(watch) -> None:
    for seed in range(5):
        watched = watch(replace(TONIGHT, seed=seed)).go(13)
        kiln = watched.rehearsal.kiln
        hours = {}
        for tick in range(13 * 120, 19 * 120):
            watched.rehearsal.wait_until(tick * 30_000)
            if kiln.shutoff.tripped:
                hours.setdefault("trip", tick / 2)
            if kiln.pack["05"].down:
                hours.setdefault("cone", tick / 2)
        assert abs(hours["trip"] - hours["cone"]) < 12


def test_what_the_plan_expects_is_what_the_last_firing_did(watch) -> None:
    watched = watch(EARLIER[-1][1]).go(20)
    turns = [0.03, *(watched.hour_of("switch", "middle", word) for word in ("low", "medium", "high"))]
    ended = max(watched.ticks, key=lambda tick: tick[1].probes[1].celsius)[0]
    for begins, ends, (hours, celsius) in zip(turns, [*turns[1:], ended], LAST_BISQUE_05, strict=True):
        assert ends - begins == pytest.approx(hours, abs=0.1)
        assert [watched.celsius(ring, ends - 0.01) for ring in range(3)] == pytest.approx(celsius, abs=4)
    assert [stage.expected_end_celsius for stage in TONIGHT.plan.stages] == [celsius for _, celsius in LAST_BISQUE_05]


@pytest.mark.parametrize("earlier", [script for _, script in EARLIER], ids=lambda script: script.plan.name)
def test_each_firing_of_the_kiln_book_ends_well(watch, earlier) -> None:
    watched = watch(earlier).go(60)
    assert watched.rehearsal.keeper.progress.unloaded
    assert watched.rehearsal.kiln.shutoff.tripped
    fired = watched.rehearsal.kiln.pack[earlier.plan.cone]
    assert fired.work > 0.85


def test_cold_amplifier_stays_within_what_its_box_bears(well) -> None:
    warm = [reading.probes[0].cold_junction_celsius for _, reading in well.ticks]
    assert min(warm) > 15
    assert max(warm) < 50


def test_the_same_seed_is_the_same_firing_and_another_is_not(watch, well) -> None:
    again = watch().go(3)
    assert again.ticks == well.ticks[: len(again.ticks)]
    assert watch(replace(TONIGHT, seed=32, room_celsius=15)).go(1).ticks != again.ticks[:121]


@pytest.mark.parametrize("every_seconds", [1, 5])
def test_the_kiln_is_the_same_however_often_it_is_read(watch, every_seconds: int) -> None:
    often, seldom = watch().go(1, every_seconds), watch().go(1, 30)
    assert often.rehearsal.kiln.state() == seldom.rehearsal.kiln.state()
    assert read_directly(often.rehearsal) == read_directly(seldom.rehearsal)
