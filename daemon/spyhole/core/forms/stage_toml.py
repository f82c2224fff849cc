"""One stage of a plan file, read against the kiln's rings, and written."""

from spyhole.core.forms.kiln_toml import MOST_MAXIMUM_CELSIUS
from spyhole.core.forms.toml_fields import Fields, shown, toml_lines
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.plan import Plugs, Stage

STAGE_KEYS = (
    "name", "switches", "hours", "until_celsius", "until", "plugs", "ceiling_celsius", "climb_limit", "soak_minutes",
    "expected_hours", "expected_end_celsius",
)  # fmt: skip

MOST_HOURS = 100.0
_ENDS = ("hours", "until_celsius", "until")


def stage_from_fields(fields: Fields, kiln: Kiln) -> Stage:
    """The stage in this table; Refusal naming file and key."""
    until_cone = _until_cone(fields)
    top = kiln.maximum_celsius
    hours = fields.number_or("hours", None, 0.0, MOST_HOURS, "hours")
    until_celsius = fields.number_or("until_celsius", None, 0.0, top, "degC, this kiln's maximum")
    ceiling = fields.number_or("ceiling_celsius", None, 0.0, top, "degC, this kiln's maximum")
    switches = _switches(fields, kiln)
    if hours == 0.0:
        raise fields.refuse("hours", "the stage has no length", f"more than 0, at most {MOST_HOURS:g} hours")
    if until_cone and all(switch is Switch.OFF for switch in switches):
        raise fields.refuse("switches", "every switch is off, and the cone would never go down", "set one at least")
    if ceiling is not None and until_celsius is not None and ceiling < until_celsius:
        raise fields.refuse("ceiling_celsius", "it lies below until_celsius", "the stage must be able to reach its end")
    return Stage(
        name=fields.text("name", "candling"),
        switches=switches,
        hours=hours,
        until_celsius=until_celsius,
        until_cone=until_cone,
        plugs=fields.word_or("plugs", Plugs, None),
        ceiling_celsius=ceiling,
        climb_limit=fields.number_or("climb_limit", None, 1.0, 1000.0, "degC an hour"),
        soak_minutes=fields.number_or("soak_minutes", 0.0, 0.0, 1440.0, "minutes"),
        expected_hours=fields.number_or("expected_hours", None, 0.0, MOST_HOURS, "hours"),
        expected_end_celsius=_expected_end(fields, kiln) if fields.has("expected_end_celsius") else None,
    )


def _until_cone(fields: Fields) -> bool:
    """Whether the cone ends it; refuses a stage with no end or several."""
    ends = [key for key in _ENDS if fields.has(key)]
    if len(ends) != 1:
        found = f"it has two ends, {' and '.join(ends)}" if ends else "nothing says when it ends"
        raise fields.refuse(ends[-1] if ends else "hours", found, 'one of hours, until_celsius, until = "cone"')
    if ends == ["until"]:
        value = fields.raw("until", "")
        if value != "cone":
            raise fields.refuse("until", f"{shown(value)} ends no stage", 'it is "cone", or use until_celsius')
    return ends == ["until"]


def _switches(fields: Fields, kiln: Kiln) -> tuple[Switch, ...]:
    names = tuple(ring.name for ring in kiln.rings)
    table = fields.table("switches", names)
    return tuple(table.word(name, Switch) for name in names)


def _expected_end(fields: Fields, kiln: Kiln) -> tuple[float | None, ...]:
    names = tuple(ring.name for ring in kiln.rings)
    table = fields.table("expected_end_celsius", names)
    return tuple(table.number_or(name, None, -50.0, MOST_MAXIMUM_CELSIUS, "degC") for name in names)


def stage_lines(stage: Stage, kiln: Kiln) -> list[str]:
    """The stage as the lines under its [[stage]]."""
    names = [ring.name for ring in kiln.rings]
    ends = stage.expected_end_celsius
    expected = None
    if ends is not None:
        expected = {name: end for name, end in zip(names, ends, strict=True) if end is not None}
    return toml_lines(
        {
            "name": stage.name,
            "switches": {name: switch.value for name, switch in zip(names, stage.switches, strict=True)},
            "plugs": stage.plugs,
            "hours": stage.hours,
            "until_celsius": stage.until_celsius,
            "until": "cone" if stage.until_cone else None,
            "ceiling_celsius": stage.ceiling_celsius,
            "climb_limit": stage.climb_limit,
            "soak_minutes": stage.soak_minutes or None,
            "expected_hours": stage.expected_hours,
            "expected_end_celsius": expected,
        }
    )
