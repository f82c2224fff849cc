"""Puffin: the kiln of the Tern Street Clay Room, how it is built, and what is fired in it.

An invented kiln. Sizes and switch shares are those of common round kilns of its kind; areas, draughts and
conductivities were chosen so that it fires and cools as such kilns do (common practice, no source):
about 3.5 h on high to an earthenware bisque after the common overnight plan, about a day to cool.
"""

from spyhole.core.kiln import Chamber, Kiln, Probe, Ring, Switch, SwitchShares
from spyhole.core.plan import Cooling, CoolingLimit, Damp, Plan, Plugs, Spread, Stage, Ware
from spyhole_hardware.emulated.script import Script
from spyhole_hardware.emulated.thermal import Brick, Build, Load

KILN = Kiln(
    name="Puffin",
    maximum_celsius=1290,
    rings=(
        Ring("bottom", 3100, Probe("K", 2)),
        Ring("middle", 2900, Probe("K", 2)),
        Ring("top", 3000, Probe("K", 2)),
    ),
    mains_volts=230,
    switch=SwitchShares(low=0.25, medium=0.5, high=1.0),
    chamber=Chamber(wall_millimetres=70, inside_diameter_millimetres=570, ring_height_millimetres=240),
)

BUILD = Build(
    inside_diameter=570,
    ring_height=240,
    wall_layers=(8, 16, 23, 23),
    end_layers=(8, 20, 36, 36),
    brick=Brick(conductivity_at_zero=0.068, conductivity_rise=2.3e-4, density=520, specific_heat=1050),
    outside_coefficient=11,
    element_kilograms=1.9,
    element_specific_heat=650,
    element_to_wall=0.040,
    element_to_load=0.040,
    element_by_air=2.0,
    wall_to_load=0.16,
    wall_to_load_by_air=3.5,
    end_to_load=0.10,
    end_by_air=1.5,
    ring_to_ring=0.05,
    up=4.5,
    across=2.0,
    leak=0.05,
    gaps=0.002,
    plug_half=0.15,
    plug_out=2.2,
    lid_cracked=1.0,
    lid_propped=2.2,
    lid_open=6.0,
    seed=74,
)

BOTTOM_LOW = (Switch.LOW, Switch.OFF, Switch.OFF)
MIDDLE = 1
DAMP = Damp()
LAST_BISQUE_05 = (
    (9.1, (168.0, 91.0, 71.0)),
    (1.6, (257.0, 253.0, 245.0)),
    (2.5, (551.0, 561.0, 555.0)),
    (2.7, (1035.0, 1045.0, 1039.0)),
)
"""Hours, and degC on the probes at the end, of each stage of the last bisque to cone 05 (in EARLIER)."""

GREENWARE = (Load(10.5, 8.5, 1.2, 0.44), Load(9.5, 7.5, 0.6, 0.4), Load(9, 7.5, 0.4, 0.38))
GREENWARE_LIGHT = (Load(9, 8, 0.9, 0.38), Load(8, 7, 0.5, 0.34), Load(7.5, 7, 0.3, 0.32))
GLAZED = (Load(7.5, 9, 0.25), Load(7, 8, 0.2), Load(6.5, 8, 0.2))


def manual_plan(
    name: str,
    cone: str,
    clay: str,
    hours: tuple[float, float, float],
    *,
    ware: Ware = Ware.BISQUE,
    damp: Damp = DAMP,
    expected: tuple[tuple[float, tuple[float, float, float]], ...] | None = None,
) -> Plan:
    """The manual plan of the trade: bottom low, all low, all medium, then all high until the cone.

    clay: the lowest-firing one aboard. hours: candling, low, medium. expected: hours and end temperatures
    [degC] of all four stages in the last good firing.
    """
    last = expected or ((None, None),) * 4
    return Plan(
        name=name,
        cone=cone,
        shutoff_cone=cone,
        lowest_firing_clay_cone=clay,
        ware=ware,
        reference_ring=MIDDLE,
        spread=Spread(limit_celsius=40, above_celsius=600),
        damp=damp,
        cooling=Cooling(limits=(CoolingLimit(620, 540, 150),)),
        stages=tuple(
            Stage(
                stage,
                switches,
                hours=length,
                until_cone=length is None,
                plugs=plugs,
                expected_hours=took,
                expected_end_celsius=reached,
            )
            for (stage, switches, plugs), length, (took, reached) in zip(
                (
                    ("candling", BOTTOM_LOW, Plugs.OUT),
                    ("low", (Switch.LOW,) * 3, Plugs.HALF),
                    ("medium", (Switch.MEDIUM,) * 3, Plugs.IN),
                    ("high", (Switch.HIGH,) * 3, None),
                ),
                (*hours, None),
                last,
                strict=True,
            )
        ),
    )


BISQUE_04 = manual_plan("Bisque, cone 04, overnight", "04", "02", (10, 2, 2))
GLAZE_05 = manual_plan("Glaze, cone 05", "05", "04", (1.5, 1.5, 2), ware=Ware.GLAZE, damp=Damp(celsius_per_hour=150))
BISQUE_05 = manual_plan("Bisque, cone 05, overnight", "05", "04", (9, 1.5, 2.5))

EARLIER = (
    (19, Script(BISQUE_04, GREENWARE, seed=11, room_celsius=17)),
    (12, Script(GLAZE_05, GLAZED, seed=12, room_celsius=13)),
    (5, Script(BISQUE_05, GREENWARE_LIGHT, seed=13, room_celsius=15)),
)
"""Days before tonight, and what was fired then: the kiln book of the demo."""

TONIGHT = Script(
    manual_plan(
        "Bisque, cone 05, overnight",
        "05",
        "04",
        (9, 1.5, 2.5),
        expected=LAST_BISQUE_05,
    ),
    GREENWARE,
    seed=31,
)
"""The firing a rehearsal opens with."""
