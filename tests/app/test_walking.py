"""The walk from probe to probe: somebody's hands at emulated amplifiers, and the sheet that comes of it."""

import re
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest

from spyhole.app import checking, walking
from spyhole.app.commands import main
from spyhole.app.walking import Bench, Sheet, walk
from spyhole.core.boiling import boiling_celsius
from spyhole.core.refusal import Refusal
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.junction import BenchJunction, Circuit
from spyhole_hardware.probes import open_emulated

RINGS = ("bottom", "middle", "top")
UP_THE_HILL = 1500.0


class Hands:
    """Does what is asked, right away; `blunder` maps a ring to the one somebody really touches."""

    def __init__(self, *, types: str = "KKK", blunder: dict[str, str] | None = None) -> None:
        self.types = types
        self.junctions = {ring: BenchJunction(20.0, 25.0, type=each) for ring, each in zip(RINGS, types, strict=True)}
        self.blunder = blunder or {}
        self.off: dict[str, float] = {}
        self.word = "isolated"
        self.asked: list[str] = []

    def ask(self, words: str) -> str:
        self.asked.append(words)
        ring = next((each for each in RINGS if words.startswith(f"{each}:")), None)
        if ring is None:
            return self.word if "Type: isolated" in words else ""
        for name, junction in self.junctions.items():
            junction.hot_celsius = 20.0 + self.off.get(name, 0.0)
        touched = self.junctions[self.blunder.get(ring, ring)]
        touched.circuit = Circuit.OPEN if "pull one" in words else touched.circuit
        if "put it back" in words:
            touched.circuit = Circuit.SOUND
        off = self.off.get(ring, 0.0)
        if "between two fingers" in words:
            touched.hot_celsius = 31.0
        elif "crushed ice" in words:
            touched.hot_celsius = off
        elif "water that boils" in words:
            touched.hot_celsius = boiling_celsius(UP_THE_HILL) + off
        return "dry" if "Type: dry" in words else ""

    def walk(self, altitude: float | None = UP_THE_HILL) -> dict[str, tuple[str, str]]:
        """Part -> state and words of the sheet."""
        channels = [Channel(ring, 5 + n, self.types[n]) for n, ring in enumerate(RINGS)]
        probes, _ = open_emulated(channels, list(self.junctions.values()), mains_hertz=50, averaging=4)
        still = SimpleNamespace(now=lambda: SimpleNamespace(monotonic_ms=0), wait_until=lambda ms: None)
        self.sheet = Sheet("Puffin", datetime(2031, 10, 30, 19, 40, tzinfo=UTC))
        walk(Bench(probes, still, RINGS, self.ask, altitude), self.sheet)
        return {part: (state, words) for state, part, words in self.sheet.lines}


def test_a_sound_kiln_has_a_sheet_without_a_wrong_line() -> None:
    hands = Hands(types="KNS")
    found = hands.walk()
    assert hands.sheet.wrong == 0
    assert {part.partition(", ")[2] for part in found} == {"warm hand", "ice and boiling", "dried", "a lead pulled"}
    assert len(found) == 4 * len(RINGS)


def test_nothing_is_read_before_the_kiln_is_said_to_be_isolated() -> None:
    hands = Hands()
    hands.word = "yes"
    with pytest.raises(Refusal, match="isolate it at the wall"):
        hands.walk()
    assert len(hands.asked) == 1


def test_two_probes_changed_over_are_named() -> None:
    found = Hands(blunder={"bottom": "top", "top": "bottom"}).walk(altitude=None)
    assert found["bottom, warm hand"] == ("WRONG", "top rose instead, by 11.0: these two probes are changed over")
    assert found["middle, warm hand"][0] == "ok"
    assert found["bottom, a lead pulled"][0] == "WRONG"


def test_wires_the_wrong_way_round_are_named() -> None:
    hands = Hands()
    hands.junctions["middle"].circuit = Circuit.REVERSED
    assert hands.walk(altitude=None)["middle, warm hand"][1].endswith("its two wires are the wrong way round")


def test_an_offset_at_both_ends_is_an_offset_for_the_kilns_file() -> None:
    hands = Hands()
    hands.off = {"top": 4.0}
    state, words = hands.walk()["top, ice and boiling"]
    assert state == "ok"
    assert re.search(r"off by \+4\.0 at both; offset_celsius = -4\.0", words)


def test_wire_of_another_type_is_off_at_one_end_only() -> None:
    """A type J probe read as K is right near nought and far off where water boils."""
    hands = Hands()
    hands.junctions["bottom"].type = "J"
    state, words = hands.walk()["bottom, ice and boiling"]
    assert state == "WRONG"
    assert "another type" in words


def test_the_command_walks_on_the_emulated_kiln_and_keeps_the_sheet(files, monkeypatch, capsys) -> None:
    """Nobody touches Puffin's probes here, so it must say so, and leave with 1."""
    answers = {"Type: isolated": "isolated", "Type: dry": "dry", "yes or no": "yes"}
    monkeypatch.setattr(
        "builtins.input", lambda words: next((said for asked, said in answers.items() if asked in words), "")
    )
    monkeypatch.setattr(walking, "BETWEEN_MS", 20)  # Puffin's clock runs as fast as the wall's
    sheet = files.folder / "sheet.txt"
    assert main(["check", "--config", str(files.settings), "--walk", "--altitude", "35", "--sheet", str(sheet)]) == 1
    text = sheet.read_text()
    assert text in capsys.readouterr().out
    for part in ("record", "disk", "clock", "probes", "bottom, warm hand", "top, a lead pulled"):
        assert re.search(rf"^(ok|WRONG|not done) +{part}", text, re.MULTILINE), part
    assert "isolated at the wall by: ____" in text


def test_of_each_message_that_a_service_took_it_is_asked_whether_it_arrived() -> None:
    sheet = Sheet("Puffin", datetime(2031, 10, 30, 19, 40, tzinfo=UTC))
    sheet.note("message", True, "accepted; look whether it really arrived")
    sheet.note("message to Ruth, phone", True, "accepted; look whether it really arrived")
    sheet.note("message to Ruth, board", True, "goes by the studio's broker")
    sheet.note("message to Wren, mail", False, "Wren, mail: the message was not accepted")
    assert checking._arrivals(sheet, message=True) == [
        ("message, arrived", "Has the trial message arrived?"),
        ("message to Ruth, phone, arrived", "Has the trial message to Ruth, phone arrived?"),
    ]
    assert checking._arrivals(sheet, message=False) == []
