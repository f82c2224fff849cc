"""The automatic keeper follows the plan like a person and writes it down in the words of an entries file."""

from dataclasses import replace

import pytest

from spyhole.core.entry import EntryKind
from spyhole.core.kiln import Switch
from spyhole.core.plan import Plugs, Stage
from spyhole_hardware.emulated.puffin import TONIGHT

WORDS = {
    EntryKind.SWITCH: {"off", "low", "medium", "high"},
    EntryKind.PLUGS: {"in", "half", "out"},
    EntryKind.LID: {"cracked", "propped", "open"},
    EntryKind.SHUTOFF: {"tripped"},
    EntryKind.START: {"05"},
    EntryKind.NOTE: {"unloaded"},
}


def test_it_writes_only_words_that_an_entries_file_knows(well) -> None:
    for _, kind, subject, value in well.notes:
        word = EntryKind(kind)
        if word is EntryKind.TIMER:
            assert 0 < int(value) <= 720
        elif word is EntryKind.CONE:
            assert value.split(":")[0] in ("06", "05")
        else:
            assert value in WORDS[word]
        ring = word in (EntryKind.SWITCH, EntryKind.CONE)
        assert (subject in ("bottom", "middle", "top")) if ring else (subject == "")


def test_a_healthy_firing_in_its_order(well) -> None:
    kinds = [kind for _, kind, _, _ in well.notes]
    assert kinds[:4] == ["start", "switch", "plugs", "timer"]
    assert well.hour_of("switch", "middle", "low") == pytest.approx(9, abs=0.3)
    assert well.hour_of("switch", "middle", "medium") == pytest.approx(10.5, abs=0.5)
    assert well.hour_of("switch", "middle", "high") == pytest.approx(13, abs=0.7)
    ended = well.hour_of("shutoff", "", "tripped")
    assert well.hour_of("cone", "middle", "06:down") < ended
    assert {well.hour_of("switch", ring, "off") for ring in ("bottom", "middle", "top")} == {ended}
    lids = [well.hour_of("lid", "", lid) for lid in ("cracked", "propped", "open")]
    assert ended + 10 < lids[0] < lids[1] < lids[2] < well.hour_of("note", "", "unloaded")


def test_it_opens_and_unloads_only_when_the_plan_allows(well) -> None:
    for note, below in ((("lid", "", "cracked"), 150), (("lid", "", "open"), 100), (("note", "", "unloaded"), 50)):
        hour = well.hour_of(*note)
        assert max(well.celsius(ring, hour) for ring in range(3)) < below + 1


def test_it_sees_the_trip_within_minutes(well) -> None:
    stopped = next(
        at for at, reading in well.ticks if at > 15 and reading.probes[1].celsius < well.celsius(1, at - 0.02)
    )
    assert 0 <= well.hour_of("shutoff", "", "tripped") - stopped < 0.2


def test_it_winds_the_timer_on_at_every_turn_and_never_lets_it_run_out_early(well) -> None:
    winds = [at for at, kind, _, _ in well.notes if kind == "timer"]
    assert len(winds) >= 4
    ended = well.hour_of("shutoff", "", "tripped")
    minutes = [(at, int(value)) for at, kind, _, value in well.notes if kind == "timer"]
    for (at, wound), later in zip(minutes, [*winds[1:], ended], strict=True):
        assert at + wound / 60 > later


def test_another_seed_is_another_keeper(watch, well) -> None:
    other = watch(replace(TONIGHT, seed=99)).go(12)
    assert other.hour_of("switch", "middle", "low") != well.hour_of("switch", "middle", "low")


def test_a_touched_panel_keeps_it_off_the_switches_but_not_from_the_lid(watch) -> None:
    watched = watch().go(13.5)
    watched.rehearsal.turn("top", "off")
    watched.rehearsal.turn("bottom", "off")
    watched.rehearsal.turn("middle", "off")
    before = len(watched.notes)
    watched.go(30)
    later = watched.notes[before:]
    assert not [note for note in later if note[1] == "switch"]
    assert [note[3] for note in later if note[1] == "lid"][:1] == ["cracked"]


def test_a_stage_that_ends_at_a_temperature_is_turned_a_little_after_it(watch) -> None:
    stages = (
        Stage("warm", (Switch.LOW,) * 3, until_celsius=200, plugs=Plugs.OUT, soak_minutes=30),
        Stage("high", (Switch.HIGH,) * 3, until_cone=True, plugs=Plugs.IN),
    )
    watched = watch(replace(TONIGHT, plan=replace(TONIGHT.plan, stages=stages))).go(8)
    reached = next(at for at, reading in watched.ticks if max(p.celsius for p in reading.probes) >= 200)
    assert 0.5 < watched.hour_of("switch", "middle", "high") - reached < 0.7


def test_a_last_stage_that_ends_by_the_clock_is_switched_off_by_hand(watch) -> None:
    stages = (Stage("warm", (Switch.LOW,) * 3, hours=2, plugs=Plugs.OUT),)
    watched = watch(replace(TONIGHT, plan=replace(TONIGHT.plan, stages=stages))).go(4)
    assert watched.hour_of("switch", "middle", "off") == pytest.approx(2.03, abs=0.3)
    assert set(watched.rehearsal.kiln.switches) == {Switch.OFF}
