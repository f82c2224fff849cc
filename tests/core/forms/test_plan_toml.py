"""The plan file: what it says, and the slips of the pen it refuses before they melt anything."""

import dataclasses
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.forms.plan_toml import plan_from_toml, plan_to_toml
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Body, Cooling, CoolingLimit, Damp, Plan, Plugs, Spread, Stage, Ware
from spyhole.core.refusal import Refusal

PUFFIN = Kiln("Puffin", 1290.0, (Ring("bottom", 3100.0, Probe()), Ring("middle", 2900.0), Ring("top ring", 3000.0)))


def refusal(text: str, kiln: Kiln) -> str:
    with pytest.raises(Refusal) as caught:
        plan_from_toml(text, "plan.toml", kiln)
    return str(caught.value)


def test_a_night_is_read_as_written(plan: Plan) -> None:
    low = Switch.LOW
    assert plan == Plan(
        name="Bisque, cone 05, overnight",
        cone="05",
        body=Body.ORDINARY,
        shutoff_cone="06",
        lowest_firing_clay_cone="04",
        ware=Ware.BISQUE,
        reference_ring=1,
        timer_margin_minutes=40.0,
        spread=Spread(40.0, 600.0),
        damp=Damp(45.0, 80.0, 150.0),
        cooling=Cooling(150.0, 100.0, 50.0, (CoolingLimit(620.0, 540.0, 150.0),)),
        stages=(
            Stage(
                name="candling",
                switches=(low, Switch.OFF, Switch.OFF),
                hours=9.0,
                plugs=Plugs.OUT,
                climb_limit=60.0,
                expected_hours=9.1,
                expected_end_celsius=(168.0, 88.0, None),
            ),
            Stage("low", (low, low, low), until_celsius=420.0, plugs=Plugs.HALF, ceiling_celsius=600.0),
            Stage("high", (Switch.HIGH,) * 3, until_cone=True, plugs=Plugs.IN, soak_minutes=10.0),
        ),
    )


def test_what_is_left_out_is_as_usual(kiln: Kiln) -> None:
    plan = plan_from_toml(
        """
        name = "glaze"
        cone = "6"
        [[stage]]
        name = "high"
        switches = { bottom = "high", middle = "high", top = "high" }
        until = "cone"
        """,
        "plan.toml",
        kiln,
    )
    stage = Stage("high", (Switch.HIGH,) * 3, until_cone=True)
    assert plan == Plan("glaze", "6", (stage,), reference_ring=1, shutoff_cone="6")


@pytest.mark.parametrize(
    ("probes", "expected"),
    [
        ("xxx", 1),
        ("x--", 0),
        ("--x", 2),
        ("x-x", 0),
        ("xx", 0),
        ("-x", 1),
        ("xxxx", 1),
        ("x--x", 0),
        ("-" * 7 + "x", 7),
    ],
)
def test_the_reference_ring_is_the_middle_one_or_the_nearest_that_can_be_seen(
    plan: Plan, probes: str, expected: int
) -> None:
    rings = tuple(Ring(f"ring {i}", 3000.0, Probe() if seen == "x" else None) for i, seen in enumerate(probes))
    kiln = Kiln("Puffin", 1290.0, rings)
    stage = Stage("high", (Switch.HIGH,) * len(rings), until_cone=True)
    text = plan_to_toml(dataclasses.replace(plan, reference_ring=0, stages=(stage,)), kiln)
    unnamed = "\n".join(line for line in text.splitlines() if not line.startswith("reference_ring"))
    assert plan_from_toml(unnamed, "plan.toml", kiln).reference_ring == expected


def test_a_plan_may_name_a_ring_without_a_probe(kiln: Kiln, plan_text: str) -> None:
    named = plan_text.replace('reference_ring = "middle"', 'reference_ring = "top"')
    assert plan_from_toml(named, "plan.toml", kiln).reference_ring == 2


def test_5_where_05_was_meant_is_refused_with_the_degrees_between(kiln: Kiln, plan_text: str) -> None:
    """End points at 60 degC/h: cone 5 at 1186, cone 04 at 1063 (wall chart for cones 022-14, see core.cones.chart)."""
    assert refusal(plan_text.replace('cone = "05"', 'cone = "5"', 1), kiln) == (
        "plan.toml, cone: cone 5 is 123 degC hotter than cone 04, the lowest-firing clay aboard; "
        "it would melt; cone 04 at most; was 05 meant?"
    )


def test_a_shutoff_cone_that_melts_the_clay_is_refused_too(kiln: Kiln, plan_text: str) -> None:
    said = refusal(plan_text.replace('shutoff_cone = "06"', 'shutoff_cone = "6"'), kiln)
    assert said.startswith("plan.toml, shutoff_cone: cone 6 is 159 degC hotter than cone 04,")


def test_the_clay_may_be_fired_to_its_own_cone(kiln: Kiln, plan_text: str) -> None:
    assert plan_from_toml(plan_text.replace('clay_cone = "04"', 'clay_cone = "05"'), "plan.toml", kiln).cone == "05"


@pytest.mark.parametrize(
    ("written", "instead", "said"),
    [
        ('cone = "05"', "cone = 5", "plan.toml, cone: 5 is no ordinary cone; the ordinary cones are 022, 021,"),
        ('cone = "05"', "cone = 05", "plan.toml line 2: this is not TOML"),
        ('cone = "05"', 'cone = "15"', "cone: '15' is no ordinary cone"),
        ('cone = "05"\nbody = "ordinary"', 'cone = "2"\nbody = "iron_free"', "cone: '2' is no iron-free cone"),
        (
            'body = "ordinary"',
            'body = "porcelain"',
            "body: 'porcelain' is not one of its words; it is one of ordinary, iron_",
        ),
        ('shutoff_cone = "06"', 'shutoff_cone = "small"', "shutoff_cone: 'small' is no ordinary cone"),
        (
            'lowest_firing_clay_cone = "04"',
            'lowest_firing_clay_cone = "earthenware"',
            "lowest_firing_clay_cone: 'earthen",
        ),
        (
            'ware = "bisque"',
            'wear = "bisque"',
            "plan.toml, wear: there is no such key; the keys here are name, cone, body",
        ),
        (
            'reference_ring = "middle"',
            'reference_ring = "centre"',
            "no ring is called 'centre'; the rings are bottom, m",
        ),
        ("timer_margin_minutes = 40", 'timer_margin_minutes = "40"', "timer_margin_minutes: '40' is not a number"),
        ("timer_margin_minutes = 40", "timer_margin_minutes = true", "timer_margin_minutes: true is not a number"),
        ("limit_celsius = 40, ", "", "plan.toml, spread, limit_celsius: it is missing"),
        ("to_celsius = 150 }", "to_celsius = 70 }", "plan.toml, damp: its band is upside down"),
        ("to_celsius = 540", "to_celsius = 640", "plan.toml, cooling, limits: a band is upside down"),
        ("open_below_celsius = 100", "open_below_celsius = 200", "cooling: its temperatures are out of order"),
        ("hours = 9\n", "", "plan.toml, stage 1, hours: nothing says when it ends; one of hours, until_celsius, until"),
        (
            "hours = 9\n",
            "hours = 9\nuntil_celsius = 90\n",
            "stage 1, until_celsius: it has two ends, hours and until_celsius",
        ),
        ("hours = 9\n", "hours = -9\n", "stage 1, hours: -9 is out of range"),
        ("hours = 9\n", "hours = 0\n", "stage 1, hours: the stage has no length"),
        (
            "hours = 9\n",
            'hours = "nine"\n',
            "stage 1, hours: 'nine' is not a number; it is a number from 0 to 100 hours",
        ),
        ("hours = 9\n", 'until = "cone"\n', "stage 2, name: it comes after 'candling', which ends with the cone"),
        ('until = "cone"', 'until = "down"', "stage 3, until: 'down' ends no stage"),
        ("until_celsius = 420", "until_celsius = 1300", "number from 0 to 1290 degC, this kiln's maximum"),
        ("ceiling_celsius = 600", "ceiling_celsius = 400", "stage 2, ceiling_celsius: it lies below until_celsius"),
        (
            'plugs = "half"',
            'plugs = "open"',
            "stage 2, plugs: 'open' is not one of its words; it is one of in, half, out",
        ),
        (
            'bottom = "low", middle = "off"',
            'bottom = "low", midle = "off"',
            "stage 1, switches, midle: there is no such key",
        ),
        ('middle = "off", ', "", "stage 1, switches, middle: it is missing; it is one of off, low, medium, high"),
        ('middle = "off"', 'middle = "on"', "stage 1, switches, middle: 'on' is not one of its words"),
        (
            "middle = 88",
            "lid = 88",
            "stage 1, expected_end_celsius, lid: there is no such key; the keys here are bottom, m",
        ),
        (
            'bottom = "high", middle = "high", top = "high"',
            'bottom = "off", middle = "off", top = "off"',
            "every switch is off",
        ),
    ],
)
def test_a_slip_is_refused_with_file_key_and_what_may_stand_there(
    kiln: Kiln, plan_text: str, written: str, instead: str, said: str
) -> None:
    assert written in plan_text
    assert said in refusal(plan_text.replace(written, instead, 1), kiln)


def test_a_cone_above_the_kilns_maximum_is_refused(kiln: Kiln, plan_text: str) -> None:
    hot = plan_text.replace('"05"', '"12"').replace('"04"', '"12"')
    assert "plan.toml, cone: cone 12 goes down near 1306 degC, above this kiln's maximum of 1290" in refusal(hot, kiln)


def test_a_plan_without_stages_or_without_anything_is_refused(kiln: Kiln) -> None:
    assert refusal("", kiln) == "plan.toml line 1: the file is empty"
    assert "plan.toml, stage: there is no stage" in refusal('name = "x"\ncone = "05"', kiln)


printable = st.characters(exclude_categories=["C", "Z"]) | st.just(" ")
names = st.text(printable, min_size=1, max_size=60).map(str.strip).filter(bool)
celsius = st.floats(20.0, 1290.0)
ends = st.one_of(
    st.fixed_dictionaries({"hours": st.floats(0.01, 100.0)}),
    st.fixed_dictionaries({"until_celsius": celsius}, optional={"ceiling_celsius": st.just(1290.0)}),
)
common = {
    "name": names,
    "switches": st.tuples(*[st.sampled_from(Switch)] * 3),
    "plugs": st.none() | st.sampled_from(Plugs),
    "climb_limit": st.none() | st.floats(1.0, 1000.0),
    "soak_minutes": st.floats(0.0, 1440.0),
    "expected_hours": st.none() | st.floats(0.0, 100.0),
    "expected_end_celsius": st.none() | st.tuples(*[st.none() | st.floats(-50.0, 1400.0)] * 3),
}
stages = st.builds(lambda first, end: Stage(**first, **end), st.fixed_dictionaries(common), ends)
last_stages = st.fixed_dictionaries(common | {"switches": st.just((Switch.HIGH, Switch.OFF, Switch.LOW))}).map(
    lambda values: Stage(**values, until_cone=True)
)
bands = st.lists(celsius, min_size=2, max_size=2, unique=True).map(lambda two: sorted(two, reverse=True))
limits = st.builds(lambda band, rate: CoolingLimit(band[0], band[1], rate), bands, st.floats(1.0, 1000.0))
cooling = st.builds(
    lambda three, found: Cooling(*sorted(three, reverse=True), limits=tuple(found)),
    st.lists(st.floats(20.0, 600.0), min_size=3, max_size=3),
    st.lists(limits, max_size=3),
)
plans = st.builds(
    Plan,
    name=names,
    cone=st.sampled_from(["010", "05.5", "05", "1", "3"]),
    stages=st.builds(lambda some, last: (*some, last), st.lists(stages, max_size=4), last_stages),
    reference_ring=st.integers(0, 2),
    shutoff_cone=st.sampled_from(["022", "05", "6", "10"]),
    body=st.sampled_from(Body),
    lowest_firing_clay_cone=st.none() | st.sampled_from(["10", "14"]),
    ware=st.sampled_from(Ware),
    timer_margin_minutes=st.floats(0.0, 240.0),
    spread=st.none() | st.builds(Spread, st.floats(1.0, 500.0), st.floats(0.0, 1400.0)),
    damp=st.builds(Damp, st.floats(1.0, 500.0), st.floats(0.0, 199.0), st.floats(200.0, 400.0)),
    cooling=cooling,
)


@given(plans)
def test_a_plan_written_is_read_back_the_same(plan: Plan) -> None:
    assert plan_from_toml(plan_to_toml(plan, PUFFIN), "plan.toml", PUFFIN) == plan


@given(st.text() | st.text().map('name = "x"\ncone = "05"\n{}'.format))
def test_any_text_is_a_plan_or_refused(text: str) -> None:
    with suppress(Refusal):
        plan_from_toml(text, "plan.toml", PUFFIN)


@given(plans, st.data())
def test_a_torn_plan_is_a_plan_or_refused(plan: Plan, data: st.DataObject) -> None:
    text = plan_to_toml(plan, PUFFIN)
    cut = data.draw(st.integers(0, len(text)))
    skip = data.draw(st.integers(0, 40))
    with suppress(Refusal):
        plan_from_toml(text[:cut] + text[cut + skip :], "plan.toml", PUFFIN)
