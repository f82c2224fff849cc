"""The [room] table: all off unless named, and nothing twice."""

from typing import Any

import pytest

from spyhole.app import checking
from spyhole.app.commands import main
from spyhole.app.settings import read_settings
from spyhole.app.wiring import RoomSettings, emulated_wiring, wiring_of
from spyhole.core.cutout import USUAL
from spyhole.core.ports import Wire
from spyhole.core.refusal import Refusal
from spyhole_hardware.emulated.gpio import Level
from spyhole_hardware.outputs import RoomPins

AMPLIFIERS = "".join(
    f'\n[[probe]]\nring = "{ring}"\nchip_select = {pin}\n' for ring, pin in (("bottom", 5), ("middle", 6), ("top", 7))
)


def room(files: Any, table: str, driver: str = "emulated") -> Any:
    text = files.settings.read_text().replace("emulated", driver)
    files.set(f"{text}{AMPLIFIERS if driver == 'max31856' else ''}\n{table}\n")
    return read_settings(files.settings).room


def test_nothing_is_wired_unless_the_settings_say_so(files: Any) -> None:
    settings = room(files, "")
    assert settings.pins == RoomPins()
    assert wiring_of(settings, emulated=True) is None
    assert wiring_of(settings, emulated=False) is None


def test_what_is_named_is_wired(files: Any) -> None:
    settings = room(files, "[room]\nsounder = 17\nbutton = 22\ncut_out = 23\nheartbeat_hertz = 2", "max31856")
    assert settings.pins == RoomPins(sounder=17, button=22, cut_out=23)
    assert settings.pins.driven == {Wire.SOUNDER: 17, Wire.CUT_OUT: 23}
    assert settings.cut_out.hertz == 2.0
    assert settings.cut_out.stops_on == USUAL


def test_the_alarms_that_stop_the_heartbeat_are_chosen(files: Any) -> None:
    settings = room(files, '[room]\ncut_out = 23\nstops_on = ["ceiling-passed", "blind"]')
    assert settings.cut_out.stops_on == {"ceiling-passed", "blind"}


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("[room]\nhorn = 4", "room, horn: there is no such key; the keys here are sounder, lamp, button, cut_out"),
        ("[room]\nlamp = 28", "room, lamp: 28 is out of range"),
        ("[room]\nlamp = 4.5", "room, lamp: 4.5 is not whole"),
        ("[room]\nlamp = 4\nsounder = 4", "GPIO 4 is in use"),
        ("[room]\nlamp = 10", "room, lamp: GPIO 10 is in use"),
        ("[room]\nlamp = 7", "room, lamp: GPIO 7 is in use"),
        ("[room]\ncut_out = 4\nheartbeat_hertz = 50", "room, heartbeat_hertz: 50 is out of range"),
        ("[room]\ncut_out = 4\nstops_on = []", "room, stops_on: these are not alarms that may stop it"),
        ('[room]\ncut_out = 4\nstops_on = ["probe-open"]', "a list of some of blind, ceiling-passed"),
    ],
)
def test_what_is_refused(files: Any, table: str, words: str) -> None:
    with pytest.raises(Refusal) as refused:
        room(files, table, "max31856" if "[room]" in table else "emulated")
    assert words in str(refused.value)


def test_check_tries_sounder_and_lamp_and_leaves_the_cut_out_alone(
    files: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    room(files, "[room]\nsounder = 17\nlamp = 27\nbutton = 22\ncut_out = 23")
    seen: list[Level] = []
    wiring = emulated_wiring(RoomSettings(RoomPins(sounder=17, lamp=27, button=22, cut_out=23)), seen.append)
    monkeypatch.setattr(checking, "wiring_of", lambda settings, emulated: wiring)
    main(["check", "--config", str(files.settings)])
    assert "ok       room: sounder, lamp, cut-out can be had; did you hear and see them?" in capsys.readouterr().out
    assert {level.line for level in seen if level.on} == {17, 27}


def test_check_says_that_nothing_is_wired(files: Any, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "--config", str(files.settings)])
    assert "ok       room: nothing is wired there" in capsys.readouterr().out


def test_in_a_rehearsal_everything_is_wired() -> None:
    assert set(emulated_wiring().settings.pins.driven) == set(Wire)
