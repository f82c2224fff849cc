"""What the settings say of current transformers: the [current] table. None are read unless it is there."""

from spyhole.app.wiring import BUS_PINS
from spyhole.core.forms.toml_fields import Fields, shown
from spyhole.core.kiln import Kiln
from spyhole_hardware.mcp3208 import INPUTS, Clamp
from spyhole_hardware.probes import CurrentWires

KEYS = ("chip_select", "clamp")
CLAMP_KEYS = ("ring", "input", "amperes_per_volt")
MOST_AMPERES = 1000.0


def read_currents(fields: Fields, kiln: Kiln, taken: tuple[int, ...]) -> CurrentWires | None:
    """From the settings file; None where nothing is said of it. Refusal. taken: pins that have another use."""
    if not fields.has("current"):
        return None
    table = fields.table("current", KEYS)
    pin = table.whole("chip_select", 0, 27)
    if pin in BUS_PINS or pin in taken:
        raise table.refuse(
            "chip_select", f"GPIO {pin} is in use", "the converter has a pin of its own, and not 9 to 11"
        )
    clamps: list[Clamp] = []
    for one in table.tables("clamp", CLAMP_KEYS, min(INPUTS, len(kiln.rings))):
        clamp = _clamp(one, kiln)
        if any(clamp.ring == other.ring for other in clamps):
            raise one.refuse("ring", f"{kiln.rings[clamp.ring].name!r} is there twice", "one clamp for each ring")
        if any(clamp.input == other.input for other in clamps):
            raise one.refuse("input", f"input {clamp.input} is there twice", "each clamp has an input of its own")
        clamps.append(clamp)
    if not clamps:
        raise table.refuse("clamp", "no transformer is named", "one [[current.clamp]] for each ring that has one")
    return CurrentWires(pin, tuple(clamps), len(kiln.rings))


def _clamp(one: Fields, kiln: Kiln) -> Clamp:
    names = [ring.name for ring in kiln.rings]
    ring = one.text("ring", names[0])
    if ring not in names:
        raise one.refuse("ring", f"no ring is called {shown(ring)}", f"there are {', '.join(names)}")
    amperes_per_volt = one.number("amperes_per_volt", 1.0, MOST_AMPERES, "amperes for one volt")
    return Clamp(names.index(ring), one.whole("input", 0, INPUTS - 1), amperes_per_volt)
