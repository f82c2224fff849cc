"""The plan file: a firing as meant, read against the kiln it is for, and written.

What a slip of the pen could melt is refused here: a firing or shut-off cone hotter than the lowest-firing clay aboard.
"""

from collections.abc import Mapping

from spyhole.core.cones.chart import END_POINTS, Form
from spyhole.core.forms.kiln_toml import MOST_MAXIMUM_CELSIUS, kiln_from_toml
from spyhole.core.forms.stage_toml import STAGE_KEYS, stage_from_fields, stage_lines
from spyhole.core.forms.toml_fields import Fields, shown, table_from_toml, toml_lines
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Body, Cooling, CoolingLimit, Damp, Plan, Spread, Stage, Ware

MOST_STAGES = 50

_KEYS = (
    "name", "cone", "body", "shutoff_cone", "lowest_firing_clay_cone", "ware", "reference_ring",
    "timer_margin_minutes", "spread", "damp", "cooling", "stage",
)  # fmt: skip


def followed(kiln_text: str, plan_text: str) -> tuple[Kiln, Plan]:
    """Kiln and plan of a firing, as the record keeps them with it. Refusal."""
    kiln = kiln_from_toml(kiln_text, "the kiln of this firing")
    return kiln, plan_from_toml(plan_text, "the plan of this firing", kiln)


def plan_from_toml(text: str, file: str, kiln: Kiln) -> Plan:
    """The plan in this text, for this kiln; Refusal naming file and key. file: its name, for messages only."""
    return plan_from_table(table_from_toml(text, file), kiln, file)


def plan_table(plan: Plan, kiln: Kiln) -> dict[str, object]:
    """The plan in the form of its file, as a table: `plan_from_table` gives the same plan back."""
    return table_from_toml(plan_to_toml(plan, kiln), plan.name)


def plan_from_table(table: Mapping[str, object], kiln: Kiln, file: str = "") -> Plan:
    """The plan in this table, which has the form of its file; Refusal naming the key."""
    fields = Fields(table, file, "", _KEYS)
    body = fields.word_or("body", Body, Body.ORDINARY)
    cone = _cone(fields, "cone", body)
    shutoff_cone = _cone(fields, "shutoff_cone", Body.ORDINARY) if fields.has("shutoff_cone") else cone
    clay = "lowest_firing_clay_cone"
    clay_cone = _cone(fields, clay, Body.ORDINARY) if fields.has(clay) else None
    _refuse_too_hot(fields, "cone", cone, body, clay_cone, kiln)
    _refuse_too_hot(fields, "shutoff_cone", shutoff_cone, Body.ORDINARY, clay_cone, kiln)
    return Plan(
        name=fields.text("name", "Bisque, cone 05, overnight"),
        cone=cone,
        body=body,
        shutoff_cone=shutoff_cone,
        lowest_firing_clay_cone=clay_cone,
        ware=fields.word_or("ware", Ware, Ware.BISQUE),
        reference_ring=_reference_ring(fields, kiln),
        timer_margin_minutes=fields.number_or("timer_margin_minutes", 30.0, 0.0, 240.0, "minutes"),
        spread=_spread(fields) if fields.has("spread") else None,
        damp=_damp(fields),
        cooling=_cooling(fields),
        stages=_stages(fields, kiln),
    )


def end_point_published(cone: str, body: Body) -> int:
    """Where the chart has this cone down at 60 degC/h [degC].

    >>> end_point_published("5", Body.ORDINARY) - end_point_published("05", Body.ORDINARY)
    155
    """
    return END_POINTS[Form.SELF_SUPPORTING, body][cone][60]


def _cone(fields: Fields, key: str, body: Body) -> str:
    """The name of a cone of this body."""
    known = END_POINTS[Form.SELF_SUPPORTING, body]
    kind = body.value.replace("_", "-")
    allowed = f"the {kind} cones are {', '.join(known)}, in quotes: 05 and 5 are two cones, 155 degC apart"
    value = fields.raw(key, allowed)
    if not isinstance(value, str) or value not in known:
        raise fields.refuse(key, f"{shown(value)} is no {kind} cone", allowed)
    return value


def _refuse_too_hot(fields: Fields, key: str, cone: str, body: Body, clay_cone: str | None, kiln: Kiln) -> None:
    """Refuse a cone that melts the clay aboard or that this kiln cannot reach."""
    end = end_point_published(cone, body)
    namesake = f"0{cone}"
    meant = f"; was {namesake} meant?" if namesake in END_POINTS[Form.SELF_SUPPORTING, body] else ""
    if clay_cone is not None:
        apart = end - end_point_published(clay_cone, Body.ORDINARY)
        if apart > 0:
            found = f"cone {cone} is {apart} degC hotter than cone {clay_cone}, the lowest-firing clay aboard"
            raise fields.refuse(key, found, f"it would melt; cone {clay_cone} at most{meant}")
    if end > kiln.maximum_celsius:
        found = f"cone {cone} goes down near {end} degC, above this kiln's maximum of {kiln.maximum_celsius:g}"
        raise fields.refuse(key, found, f"a cone below it{meant}")


def _reference_ring(fields: Fields, kiln: Kiln) -> int:
    """The ring named; else the middle one (of two, the lower), or the nearest to it that has a probe."""
    names = [ring.name for ring in kiln.rings]
    if not fields.has("reference_ring"):
        middle = (len(names) - 1) / 2
        return min(kiln.probe_rings, key=lambda ring: abs(ring - middle))
    name = fields.text("reference_ring", names[0])
    if name not in names:
        raise fields.refuse("reference_ring", f"no ring is called {name!r}", f"the rings are {', '.join(names)}")
    return names.index(name)


def _spread(fields: Fields) -> Spread:
    table = fields.table("spread", ("limit_celsius", "above_celsius"))
    return Spread(
        limit_celsius=table.number("limit_celsius", 1.0, 500.0, "degC"),
        above_celsius=table.number("above_celsius", 0.0, MOST_MAXIMUM_CELSIUS, "degC"),
    )


def _damp(fields: Fields) -> Damp:
    usual = Damp()
    table = fields.table("damp", ("celsius_per_hour", "from_celsius", "to_celsius"))
    damp = Damp(
        celsius_per_hour=table.number_or("celsius_per_hour", usual.celsius_per_hour, 1.0, 500.0, "degC an hour"),
        from_celsius=table.number_or("from_celsius", usual.from_celsius, 0.0, 400.0, "degC"),
        to_celsius=table.number_or("to_celsius", usual.to_celsius, 0.0, 400.0, "degC"),
    )
    if damp.from_celsius >= damp.to_celsius:
        raise fields.refuse("damp", "its band is upside down", "from_celsius lies below to_celsius")
    return damp


def _cooling(fields: Fields) -> Cooling:
    usual = Cooling()
    table = fields.table("cooling", ("crack_below_celsius", "open_below_celsius", "unload_below_celsius", "limits"))
    cooling = Cooling(
        crack_below_celsius=table.number_or("crack_below_celsius", usual.crack_below_celsius, 20.0, 600.0, "degC"),
        open_below_celsius=table.number_or("open_below_celsius", usual.open_below_celsius, 20.0, 600.0, "degC"),
        unload_below_celsius=table.number_or("unload_below_celsius", usual.unload_below_celsius, 20.0, 600.0, "degC"),
        limits=tuple(
            CoolingLimit(
                from_celsius=limit.number("from_celsius", 20.0, MOST_MAXIMUM_CELSIUS, "degC"),
                to_celsius=limit.number("to_celsius", 20.0, MOST_MAXIMUM_CELSIUS, "degC"),
                celsius_per_hour=limit.number("celsius_per_hour", 1.0, 1000.0, "degC an hour"),
            )
            for limit in table.tables("limits", ("from_celsius", "to_celsius", "celsius_per_hour"), 20)
        ),
    )
    if not cooling.crack_below_celsius >= cooling.open_below_celsius >= cooling.unload_below_celsius:
        raise fields.refuse("cooling", "its temperatures are out of order", "crack first, then open, then unload")
    for limit in cooling.limits:
        if limit.from_celsius <= limit.to_celsius:
            raise table.refuse("limits", "a band is upside down", "a kiln cools from from_celsius down to to_celsius")
    return cooling


def _stages(fields: Fields, kiln: Kiln) -> tuple[Stage, ...]:
    tables = fields.tables("stage", STAGE_KEYS, MOST_STAGES)
    if not tables:
        raise fields.refuse("stage", "there is no stage", "one [[stage]] or more, in the order of the firing")
    stages: list[Stage] = []
    for table in tables:
        if stages and stages[-1].until_cone:
            found = f"it comes after {stages[-1].name!r}, which ends with the cone"
            raise table.refuse("name", found, 'the stage with until = "cone" is the last')
        stages.append(stage_from_fields(table, kiln))
    return tuple(stages)


def plan_to_toml(plan: Plan, kiln: Kiln) -> str:
    """The plan as its file: `plan_from_toml` gives the same plan back."""
    lines = toml_lines(
        {
            "name": plan.name,
            "cone": plan.cone,
            "body": plan.body,
            "shutoff_cone": plan.shutoff_cone,
            "lowest_firing_clay_cone": plan.lowest_firing_clay_cone,
            "ware": plan.ware,
            "reference_ring": kiln.rings[plan.reference_ring].name,
            "timer_margin_minutes": plan.timer_margin_minutes,
            "spread": None if plan.spread is None else _spread_table(plan.spread),
            "damp": {
                "celsius_per_hour": plan.damp.celsius_per_hour,
                "from_celsius": plan.damp.from_celsius,
                "to_celsius": plan.damp.to_celsius,
            },
        }
    )
    lines += ["", "[cooling]", *_cooling_lines(plan.cooling)]
    for stage in plan.stages:
        lines += ["", "[[stage]]", *stage_lines(stage, kiln)]
    return "\n".join(lines) + "\n"


def _spread_table(spread: Spread) -> Mapping[str, str | float]:
    return {"limit_celsius": spread.limit_celsius, "above_celsius": spread.above_celsius}


def _cooling_lines(cooling: Cooling) -> list[str]:
    lines = toml_lines(
        {
            "crack_below_celsius": cooling.crack_below_celsius,
            "open_below_celsius": cooling.open_below_celsius,
            "unload_below_celsius": cooling.unload_below_celsius,
        }
    )
    for limit in cooling.limits:
        band = {
            "from_celsius": limit.from_celsius,
            "to_celsius": limit.to_celsius,
            "celsius_per_hour": limit.celsius_per_hour,
        }
        lines += ["", "[[cooling.limits]]", *toml_lines(band)]
    return lines
