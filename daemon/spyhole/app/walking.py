"""`spyhole check --walk`: goes with whoever stands at the bench from probe to probe, and leaves a sheet to sign.

It asks, waits for Enter, reads, and judges. Nothing here touches the kiln: a person does, with the kiln isolated.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from statistics import median_high

from spyhole.core.ports import ClockPort, ProbesPort
from spyhole.core.refusal import Refusal
from spyhole.core.trial import Numbers, by_hand, by_water

READINGS = 5
BETWEEN_MS = 1000
SKIP = "s"

BEFORE = (
    "Isolate the kiln at the wall, and see that it is cold. spyhole cannot see either. "
    "Stop the watch of this kiln first: two programs cannot have one bus."
)
OUT_OF_TUBE = (
    "Ice and boiling water only with the kiln isolated, the probe cold and OUT of its ceramic tube: a wet tube is "
    "steam with nowhere to go, and a cold tube in boiling water breaks. Steam scalds. Dry the probe well before it "
    "goes back."
)


@dataclass(slots=True)
class Sheet:
    """What was found, line by line, to be signed."""

    kiln: str
    begun: datetime
    lines: list[tuple[str, str, str]] = field(default_factory=list)

    def note(self, part: str, right: bool | None, words: str) -> None:
        """right: None where it was left out."""
        self.lines.append(({True: "ok", False: "WRONG", None: "not done"}[right], part, words))

    @property
    def wrong(self) -> int:
        """How many lines say so."""
        return sum(state == "WRONG" for state, _, _ in self.lines)

    def text(self) -> str:
        """For a printer."""
        head = [f"spyhole check, {self.kiln}, {self.begun:%Y-%m-%d %H:%M}", ""]
        rows = [f"{state:<9}{part:<26}{words}" for state, part, words in self.lines]
        told = "spyhole is an aid. This sheet says what was tried on one day, and no more."
        lines = [
            "",
            "isolated at the wall by: ____________________",
            "",
            "tried by, date: ____________________",
            "",
            told,
        ]
        return "\n".join([*head, *rows, *lines]) + "\n"


@dataclass(frozen=True, slots=True)
class Bench:
    """Where the walk is done. ask: shows words, waits, returns what was typed. altitude_metres: None if unknown."""

    probes: ProbesPort
    clock: ClockPort
    rings: tuple[str, ...]
    ask: Callable[[str], str]
    altitude_metres: float | None


def walk(bench: Bench, sheet: Sheet) -> None:
    """Each probe by hand, by water and by a pulled lead. Refusal where the kiln is not said to be isolated."""
    if bench.ask(f"{BEFORE}\nType: isolated\n> ").strip().lower() != "isolated":
        raise Refusal("walk", "the kiln is not isolated", "isolate it at the wall first")
    for ring in bench.rings:
        _hand(bench, sheet, ring)
    if bench.altitude_metres is None:
        for ring in bench.rings:
            sheet.note(f"{ring}, ice and boiling", None, "no --altitude was given")
    elif bench.ask(f"{OUT_OF_TUBE}\nEnter to go on, {SKIP} to leave this out > ").strip() != SKIP:
        for ring in bench.rings:
            _water(bench, sheet, ring, bench.altitude_metres)
    else:
        for ring in bench.rings:
            sheet.note(f"{ring}, ice and boiling", None, "left out")
    for ring in bench.rings:
        _lead(bench, sheet, ring)


def _hand(bench: Bench, sheet: Sheet, ring: str) -> None:
    bench.ask(f"{ring}: nobody touches any probe. Enter > ")
    before = _numbers(bench)
    bench.ask(f"{ring}: hold its bare tip between two fingers for a minute, then Enter > ")
    right, words = by_hand(ring, before, _numbers(bench))
    sheet.note(f"{ring}, warm hand", right, words)


def _water(bench: Bench, sheet: Sheet, ring: str, altitude_metres: float) -> None:
    bench.ask(f"{ring}: in crushed ice with a little water, stirred, two minutes; then Enter > ")
    ice = _numbers(bench)[ring]
    bench.ask(f"{ring}: in water that boils, the tip clear of the bottom, two minutes; then Enter > ")
    right, words = by_water(ice, _numbers(bench)[ring], altitude_metres)
    sheet.note(f"{ring}, ice and boiling", right, words)
    dry = bench.ask(f"{ring}: dry it well, in warm air, before it goes back. Type: dry > ").strip().lower() == "dry"
    sheet.note(f"{ring}, dried", dry, "said to be dry" if dry else "dry it before it goes back into its tube")


def _lead(bench: Bench, sheet: Sheet, ring: str) -> None:
    if (
        bench.ask(f"{ring}: pull one of its leads at the amplifier, then Enter ({SKIP} leaves it out) > ").strip()
        == SKIP
    ):
        sheet.note(f"{ring}, a lead pulled", None, "left out")
        return
    seen = _numbers(bench)[ring]
    bench.ask(f"{ring}: put it back, and pull at it gently, then Enter > ")
    back = _numbers(bench)[ring]
    if seen is not None:
        sheet.note(f"{ring}, a lead pulled", False, f"it went on showing {seen:.1f}: was it this ring's lead?")
    elif back is None:
        sheet.note(f"{ring}, a lead pulled", False, "no number after it was put back: look at the screw")
    else:
        sheet.note(f"{ring}, a lead pulled", True, f"no number without it, {back:.1f} with it")


def _numbers(bench: Bench) -> Numbers:
    """The middle of a few readings; None for a ring that had a fault in the last of them."""
    seen = list(_readings(bench))
    return {
        ring: None if seen[-1][number] is None else _middle([each[number] for each in seen])
        for number, ring in enumerate(bench.rings)
    }


def _readings(bench: Bench) -> Iterator[tuple[float | None, ...]]:
    for _ in range(READINGS):
        bench.clock.wait_until(bench.clock.now().monotonic_ms + BETWEEN_MS)
        yield tuple(probe.celsius for probe in bench.probes.read().probes)


def _middle(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return median_high(known) if known else None
