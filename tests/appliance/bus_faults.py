"""Put into the environment of the installed service by the proof: troubles of bus and chip, on wish.

They stand where the wires are: the driver, the watch and the service above them are the installed ones. The wish is a
word in a file that the service may read.
"""

import time
from pathlib import Path

from spyhole_hardware.emulated.chip import DataLine
from spyhole_hardware.emulated.junction import Circuit, Junction
from spyhole_hardware.emulated.spi import EmulatedBus

WISH = Path("/srv/bus")
LINES = {"zeros": DataLine.STUCK_LOW, "ones": DataLine.STUCK_HIGH, "random": DataLine.GARBAGE}
_read = EmulatedBus.readinto


class Wired:
    """A probe whose two wires stand otherwise."""

    def __init__(self, junction: Junction, circuit: Circuit) -> None:
        self._junction = junction
        self.circuit = circuit

    def __getattr__(self, name: str) -> object:
        return getattr(self._junction, name)


def readinto(self: EmulatedBus, buf: bytearray, start: int = 0, end: int | None = None) -> None:
    """As ever, with what was wished for."""
    try:
        wish = WISH.read_text().strip()
    except OSError:
        wish = ""
    if wish == "hang":
        time.sleep(3600)
    for number, chip in enumerate(self.chips):
        chip.line = LINES.get(wish, DataLine.SOUND)
        chip.converts = wish != "converts-not"
        if isinstance(chip.junction, Wired):
            chip.junction = chip.junction._junction
        if wish in ("open", "shorted", "reversed"):
            chip.junction = Wired(chip.junction, Circuit(wish))
        if wish == "one-open" and number == 0:
            chip.junction = Wired(chip.junction, Circuit.OPEN)
    if wish == "forgets" and wish != getattr(self, "wished", ""):
        self.chips[0].forget()
    self.wished = wish  # type: ignore[attr-defined]
    _read(self, buf, start, end)


EmulatedBus.readinto = readinto  # type: ignore[method-assign, assignment]
