"""The kiln file: a kiln as its keeper describes it, read and written."""

from spyhole.core.cones.tolerance import CLASSES
from spyhole.core.forms.toml_fields import Fields, shown, table_from_toml, toml_lines
from spyhole.core.kiln import Chamber, Kiln, Probe, Ring, SwitchShares

MOST_RINGS = 8
LEAST_MAXIMUM_CELSIUS, MOST_MAXIMUM_CELSIUS = 100.0, 1400.0

_KEYS = (
    "name", "maximum_celsius", "mains_volts", "cone_shutoff", "timer_stops_in_power_cut", "switch", "chamber", "ring",
)  # fmt: skip


def kiln_from_toml(text: str, file: str) -> Kiln:
    """The kiln in this text; Refusal naming file and key. file: its name, for messages only.

    >>> kiln_from_toml('name = "Puffin"\\nmaximum_celsius = 1e9', "kiln.toml")
    Traceback (most recent call last):
    ...
    spyhole.core.refusal.Refusal: kiln.toml, maximum_celsius: 1000000000.0 is out of range; it is a number from 100 to \
1400 degC
    """
    fields = Fields(table_from_toml(text, file), file, "", _KEYS)
    return Kiln(
        name=fields.text("name", "Puffin"),
        maximum_celsius=fields.number("maximum_celsius", LEAST_MAXIMUM_CELSIUS, MOST_MAXIMUM_CELSIUS, "degC"),
        mains_volts=fields.number_or("mains_volts", 230.0, 90.0, 500.0, "V"),
        cone_shutoff=fields.flag("cone_shutoff", True),
        timer_stops_in_power_cut=fields.flag("timer_stops_in_power_cut", True),
        switch=_switch(fields),
        chamber=_chamber(fields) if fields.has("chamber") else None,
        rings=_rings(fields),
    )


def _switch(fields: Fields) -> SwitchShares:
    table = fields.table("switch", ("low", "medium", "high"))
    unit = "of a ring's watts"
    shares = SwitchShares(
        low=table.number_or("low", 0.25, 0.0, 1.0, unit),
        medium=table.number_or("medium", 0.5, 0.0, 1.0, unit),
        high=table.number_or("high", 1.0, 0.01, 1.0, unit),
    )
    if not shares.low <= shares.medium <= shares.high:
        raise fields.refuse("switch", "a higher setting gives fewer watts", "low, medium, high must not fall")
    return shares


def _chamber(fields: Fields) -> Chamber:
    table = fields.table("chamber", ("wall_millimetres", "inside_diameter_millimetres", "ring_height_millimetres"))
    return Chamber(
        wall_millimetres=table.number("wall_millimetres", 20.0, 400.0, "mm"),
        inside_diameter_millimetres=table.number("inside_diameter_millimetres", 80.0, 2000.0, "mm"),
        ring_height_millimetres=table.number("ring_height_millimetres", 20.0, 1000.0, "mm"),
    )


def _rings(fields: Fields) -> tuple[Ring, ...]:
    tables = fields.tables("ring", ("name", "watts", "probe"), MOST_RINGS)
    if not tables:
        raise fields.refuse("ring", "there is no ring", "one to eight [[ring]], from the bottom up")
    rings: list[Ring] = []
    for table in tables:
        name = table.text("name", "bottom")
        if name == "time" or name.endswith("_fault"):
            raise table.refuse("name", f"{name!r} is a column of its own in a readings file", "choose another name")
        if any(name == ring.name for ring in rings):
            raise table.refuse("name", f"two rings are called {name!r}", "each ring has a name of its own")
        watts = table.number("watts", 0.0, 30_000.0, "W")
        rings.append(Ring(name, watts, _probe(table) if table.has("probe") else None))
    if all(ring.watts == 0.0 for ring in rings):
        raise fields.refuse("ring", "no ring has any watts", "at least one ring heats")
    if all(ring.probe is None for ring in rings):
        raise fields.refuse("ring", "no ring has a probe", 'at least one has, for example probe = { type = "K" }')
    return tuple(rings)


def _probe(fields: Fields) -> Probe:
    table = fields.table("probe", ("type", "tolerance_class", "offset_celsius"))
    letter = table.text("type", "K") if table.has("type") else "K"
    if letter not in CLASSES:
        raise table.refuse("type", f"{shown(letter)} is no thermocouple", f"the types are {', '.join(CLASSES)}")
    tolerance_class = table.number_or("tolerance_class", 2.0, 1.0, 3.0, "")
    if tolerance_class not in CLASSES[letter]:
        classes = " and ".join(str(number) for number in CLASSES[letter])
        found = f"type {letter} has no class {tolerance_class:g} at kiln temperatures"
        raise table.refuse("tolerance_class", found, f"it comes in {classes} (IEC 60584-1)")
    return Probe(letter, int(tolerance_class), table.number_or("offset_celsius", 0.0, -50.0, 50.0, "degC"))


def kiln_to_toml(kiln: Kiln) -> str:
    """The kiln as its file: `kiln_from_toml` gives the same kiln back."""
    lines = toml_lines(
        {
            "name": kiln.name,
            "maximum_celsius": kiln.maximum_celsius,
            "mains_volts": kiln.mains_volts,
            "cone_shutoff": kiln.cone_shutoff,
            "timer_stops_in_power_cut": kiln.timer_stops_in_power_cut,
        }
    )
    shares = kiln.switch
    lines += ["", "[switch]", *toml_lines({"low": shares.low, "medium": shares.medium, "high": shares.high})]
    if kiln.chamber is not None:
        chamber = kiln.chamber
        sizes = {
            "wall_millimetres": chamber.wall_millimetres,
            "inside_diameter_millimetres": chamber.inside_diameter_millimetres,
            "ring_height_millimetres": chamber.ring_height_millimetres,
        }
        lines += ["", "[chamber]", *toml_lines(sizes)]
    for ring in kiln.rings:
        lines += ["", "[[ring]]", *toml_lines({"name": ring.name, "watts": ring.watts})]
        if ring.probe is not None:
            lines += toml_lines({"probe": _probe_table(ring.probe)})
    return "\n".join(lines) + "\n"


def _probe_table(probe: Probe) -> dict[str, str | float]:
    return {
        "type": probe.type,
        "tolerance_class": probe.tolerance_class,
        "offset_celsius": probe.offset_celsius,
    }
