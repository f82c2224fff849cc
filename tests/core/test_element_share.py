"""Nothing on low and half on high: one element of two is open. And nothing else is."""

import pytest

from spyhole.core.element_share import LEAST_SEEN, open_elements, shares
from spyhole_hardware.emulated.puffin import KILN

WELL = (0.26, 0.5, 0.99)


def test_nothing_on_low_and_half_on_high_is_one_open() -> None:
    # Ohm: two alike in series leave nothing with one open, in parallel a half; one alone is that one, or none.
    for medium in (0.02, 0.5):
        assert open_elements(KILN, (WELL, WELL, (0.03, medium, 0.52))) == (2,)


@pytest.mark.parametrize(
    "ring",
    [
        WELL,
        (0.22, 0.42, 0.86),  # an aged ring
        (0.25, 0.5, 0.55),  # half on high alone: a switch left at medium
        (0.02, 0.5, 0.98),  # nothing on low alone: it was off while the others were on low
        (0.02, 0.01, 0.02),  # the whole ring
        (None, 0.5, 0.5),  # low was never seen
    ],
)
def test_anything_else_is_not(ring: tuple[float | None, ...]) -> None:
    assert open_elements(KILN, (WELL, WELL, ring)) == ()


def test_all_rings_alike_are_the_mains() -> None:
    assert open_elements(KILN, ((0.03, 0.5, 0.5),) * 3) == ()


def test_what_was_seen_too_shortly_is_not_known() -> None:
    got = (((LEAST_SEEN, 0.75), (LEAST_SEEN - 1, 0.9), (0, 0.0)),)
    assert shares(got) == ((0.25, None, None),)
    assert open_elements(KILN, shares(())) == ()
