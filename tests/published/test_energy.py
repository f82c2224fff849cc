"""Energy in a report against the definition of its unit and the laws of Ohm and Joule.

1 W h = 3600 J, so 1 kWh = 3.6 MJ (IEC 80000-6, from memory). Two equal elements in series, one alone and two side by
side take a quarter, a half and all of a ring's watts (Ohm; arithmetic).
"""

import pytest

from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.report.energy import JOULES_PER_KWH, Span, kwh_of

VOLTS = 230.0
HOUR = 3_600_000


def test_a_kilowatt_hour_is_three_point_six_megajoules() -> None:
    assert JOULES_PER_KWH == 1000 * 3600


@pytest.mark.parametrize(("switch", "ohms"), [(Switch.LOW, 80.0), (Switch.MEDIUM, 40.0), (Switch.HIGH, 20.0)])
def test_two_elements_of_40_ohms_in_series_alone_and_side_by_side(switch: Switch, ohms: float) -> None:
    """Watts are volts squared by ohms; an hour of them in joules, by 3.6 million."""
    full = VOLTS**2 / 20.0
    kiln = Kiln("Puffin", 1290.0, (Ring("bottom", full, Probe()),), mains_volts=VOLTS)
    (kwh,) = kwh_of(kiln, [Span(0, HOUR, (switch,), (True,))])
    assert kwh == pytest.approx(VOLTS**2 / ohms * 3600 / 3.6e6, rel=1e-12)


def test_mains_5_percent_low_make_about_10_percent_less() -> None:
    """What every report says it cannot know."""
    assert pytest.approx(0.10, abs=0.005) == 1 - 0.95**2
