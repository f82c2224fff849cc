"""The lines in the room through gpiod, with emulated lines behind its two calls. No Pi has run this."""

import sys
import threading
import time
from types import SimpleNamespace

import gpiod
import pytest
from gpiod.line import Bias, Direction, Edge, Value

from spyhole.core.ports import Wire
from spyhole.core.refusal import Refusal
from spyhole_hardware.emulated.gpio import EmulatedLines
from spyhole_hardware.outputs import LineRequest, RoomLines, RoomPins, open_room_lines

PINS = RoomPins(sounder=17, lamp=27, cut_out=23, button=22)


@pytest.fixture
def lines() -> EmulatedLines:
    return EmulatedLines(time.monotonic)


@pytest.fixture
def asked(lines, monkeypatch, tmp_path) -> list[tuple[str, dict, str]]:
    """A header with two GPIO chips, of which the second is the one; what was asked of it."""
    labels = {str(tmp_path / "gpiochip0"): "gpio-mockup", str(tmp_path / "gpiochip1"): "pinctrl-rp1"}
    for path in labels:
        (tmp_path / path).touch()
    asked: list[tuple[str, dict, str]] = []

    class Chip:
        def __init__(self, path: str) -> None:
            self.label = labels[path]

        def __enter__(self) -> "Chip":
            return self

        def __exit__(self, *_: object) -> None:
            pass

        def get_info(self) -> SimpleNamespace:
            return SimpleNamespace(label=self.label)

    def request_lines(path: str, config: dict, consumer: str) -> LineRequest:
        asked.append((path, config, consumer))
        return lines

    monkeypatch.setattr(gpiod, "Chip", Chip)
    monkeypatch.setattr(gpiod, "request_lines", request_lines)
    return asked


def test_all_lines_are_asked_for_at_once_and_every_output_is_low(asked, tmp_path):
    open_room_lines(PINS, devices=tmp_path)
    ((path, config, consumer),) = asked
    assert path.endswith("gpiochip1")
    assert consumer == "spyhole room"
    outputs, button = config[(17, 27, 23)], config[(22,)]
    assert len(config) == 2
    assert (outputs.direction, outputs.output_value) == (Direction.OUTPUT, Value.INACTIVE)
    assert (button.direction, button.bias, button.active_low) == (Direction.INPUT, Bias.PULL_UP, True)
    assert button.edge_detection is Edge.BOTH
    assert button.debounce_period.total_seconds() < 0.03, "the rest of the settling is ours, and the same everywhere"


def test_only_what_is_wired_is_asked_for(asked, tmp_path):
    open_room_lines(RoomPins(sounder=4), devices=tmp_path)
    assert set(asked[0][1]) == {(4,)}


def test_a_wire_is_driven_by_its_line(asked, lines, tmp_path):
    room = open_room_lines(PINS, devices=tmp_path)
    for wire, on in ((Wire.CUT_OUT, True), (Wire.SOUNDER, True), (Wire.CUT_OUT, False)):
        room.drive(wire, on)
    assert [(level.line, level.on) for level in lines.levels] == [(23, True), (17, True), (23, False)]


def test_a_wire_that_is_not_there_is_not_driven(lines):
    RoomLines(lines, RoomPins(lamp=27)).drive(Wire.CUT_OUT, True)
    assert not lines.levels


def test_the_button_is_waited_for_and_felt(lines):
    room = RoomLines(lines, PINS)
    assert not room.wait(0.01)
    threading.Timer(0.05, lines.move, (22, True)).start()
    began = time.monotonic()
    assert room.wait(90)
    assert time.monotonic() - began < 30, "it is told when the edge comes"
    assert room.pressed()
    assert not room.wait(0.01), "an edge is told once"
    lines.move(22, False)
    assert room.wait(0.0)
    assert not room.pressed()


def test_without_a_button_the_wait_only_passes(lines):
    room = RoomLines(lines, RoomPins(lamp=27))
    began = time.monotonic()
    assert not room.wait(0.05)
    assert time.monotonic() - began >= 0.04
    assert not room.pressed()


def test_closing_puts_everything_off_and_lets_go(lines):
    room = RoomLines(lines, PINS)
    room.drive(Wire.SOUNDER, True)
    room.close()
    assert [lines.of(pin)[-1].on for pin in (17, 27, 23)] == [False, False, False]
    assert lines.released


def test_lines_that_are_gone_are_let_go_all_the_same(lines):
    room = RoomLines(lines, PINS)
    lines.broken = OSError(19, "No such device")
    for act in (lambda: room.drive(Wire.LAMP, True), room.pressed, lambda: room.wait(0.0)):
        with pytest.raises(OSError, match="No such device"):
            act()
    room.close()
    assert lines.released


def test_the_emulated_lines_have_what_gpiod_has():
    for name in ("set_value", "get_value", "wait_edge_events", "read_edge_events", "release"):
        assert callable(getattr(gpiod.LineRequest, name))
        assert callable(getattr(EmulatedLines, name))


def test_without_gpiod(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "gpiod", None)
    with pytest.raises(Refusal, match=r"\[room\]: the Python package gpiod is not installed"):
        open_room_lines(PINS, devices=tmp_path)


def test_without_a_header(tmp_path):
    with pytest.raises(Refusal, match=r"no GPIO chip in .* belongs to a Raspberry Pi's header"):
        open_room_lines(PINS, devices=tmp_path)


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (PermissionError(13, "Permission denied"), "may not open the GPIO lines.*group gpio"),
        (
            OSError(16, "Device or resource busy"),
            "GPIO 17, 27, 23, 22 cannot be had .Device or resource busy.*gpioinfo",
        ),
    ],
)
def test_with_lines_that_are_not_given(asked, tmp_path, monkeypatch, error, sentence):
    def refuse(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(gpiod, "request_lines", refuse)
    with pytest.raises(Refusal, match=sentence):
        open_room_lines(PINS, devices=tmp_path)
