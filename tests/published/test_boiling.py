"""Where water boils, against the standard atmosphere and the steam tables (both from memory of the tables)."""

import pytest

from spyhole.core.boiling import boiling_celsius

# ISO 2533: altitude [m] -> pressure [kPa] 0: 101.325, 1000: 89.875, 2000: 79.495, 3000: 70.109. IAPWS saturation line:
# 101.325 kPa 99.97 degC; 89.875 kPa 96.7; 79.495 kPa 93.3; 70.109 kPa 90.0 (70.18 kPa at 90 degC).
TABLE = {0: 99.97, 1000: 96.7, 2000: 93.3, 3000: 90.0}


@pytest.mark.parametrize(("metres", "celsius"), TABLE.items())
def test_water_boils_where_the_tables_say(metres: float, celsius: float) -> None:
    assert boiling_celsius(metres) == pytest.approx(celsius, abs=0.15)


def test_it_falls_about_a_degree_in_300_metres() -> None:
    """The rule of thumb on the page of parts."""
    assert boiling_celsius(0) - boiling_celsius(300) == pytest.approx(1.0, abs=0.05)
