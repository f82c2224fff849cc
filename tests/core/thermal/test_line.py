"""The climb's line, against kilns whose answer is known in closed form."""

from math import exp

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.thermal.line import fit


def lumped(start: float, settles_at: float, hours: float, minutes: int) -> tuple[tuple[int, float], ...]:
    """A lumped capacitance under constant power (Incropera et al., the lumped capacitance method), minute by minute."""
    return tuple((m * 60_000, settles_at + (start - settles_at) * exp(-m / 60 / hours)) for m in range(minutes))


@given(hours=st.floats(2.5, 8.0))
def test_the_line_of_a_linear_kiln_is_found_within_its_own_doubt(hours: float) -> None:
    line = fit(lumped(650, 1300, hours, 120))
    assert line is not None
    assert abs(line.fall - 1 / hours) < 2 * line.fall_spread


def test_little_data_gives_no_line() -> None:
    assert fit(lumped(600, 1300, 4, 15)) is None
