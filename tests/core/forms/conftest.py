"""Puffin of the Tern Street Clay Room and a night's bisque, as files."""

import pytest

from spyhole.core.forms.kiln_toml import kiln_from_toml
from spyhole.core.forms.plan_toml import plan_from_toml
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan

KILN = """\
name = "Puffin"
maximum_celsius = 1290
mains_volts = 230
cone_shutoff = true
timer_stops_in_power_cut = false

[switch]
low = 0.25
medium = 0.5
high = 1.0

[chamber]
wall_millimetres = 70
inside_diameter_millimetres = 570
ring_height_millimetres = 240

[[ring]]
name = "bottom"
watts = 3100
probe = { type = "K", tolerance_class = 1 }

[[ring]]
name = "middle"
watts = 2900
probe = { type = "K", tolerance_class = 2, offset_celsius = -1.5 }

[[ring]]
name = "top"
watts = 3000
"""

PLAN = """\
name = "Bisque, cone 05, overnight"
cone = "05"
body = "ordinary"
shutoff_cone = "06"
lowest_firing_clay_cone = "04"
ware = "bisque"
reference_ring = "middle"
timer_margin_minutes = 40
spread = { limit_celsius = 40, above_celsius = 600 }
damp = { celsius_per_hour = 45, from_celsius = 80, to_celsius = 150 }

[cooling]
crack_below_celsius = 150
open_below_celsius = 100
unload_below_celsius = 50
limits = [{ from_celsius = 620, to_celsius = 540, celsius_per_hour = 150 }]

[[stage]]
name = "candling"
switches = { bottom = "low", middle = "off", top = "off" }
plugs = "out"
hours = 9
climb_limit = 60
expected_hours = 9.1
expected_end_celsius = { bottom = 168, middle = 88 }

[[stage]]
name = "low"
switches = { bottom = "low", middle = "low", top = "low" }
plugs = "half"
until_celsius = 420
ceiling_celsius = 600

[[stage]]
name = "high"
switches = { bottom = "high", middle = "high", top = "high" }
plugs = "in"
until = "cone"
soak_minutes = 10
"""


@pytest.fixture
def kiln_text() -> str:
    return KILN


@pytest.fixture
def plan_text() -> str:
    return PLAN


@pytest.fixture(scope="session")
def kiln() -> Kiln:
    return kiln_from_toml(KILN, "kiln.toml")


@pytest.fixture(scope="session")
def plan(kiln: Kiln) -> Plan:
    return plan_from_toml(PLAN, "plan.toml", kiln)
