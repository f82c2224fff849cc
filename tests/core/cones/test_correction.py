"""A cone that somebody saw moves the probe's offset: shrunk, narrowed, and never beyond belief."""

import doctest
from math import erfc, exp, fsum, hypot, log, sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from spyhole.core.cones import correction
from spyhole.core.cones.correction import SUREST_CELSIUS, WIDTH_SHARE, Sighting, corrected
from spyhole.core.cones.doubt import (
    FURTHEST_FACTOR,
    alpha_between,
    cone_deviation_celsius,
    corrected_alpha,
    end_point_between,
    factor_of,
    offset_prior,
)
from spyhole.core.cones.kinetics import alpha_of_bend, bend_degrees, cone, end_point_celsius
from spyhole.core.kiln import Probe
from spyhole.core.learned import Belief
from spyhole.core.plan import Body

PEAK = 1031.0
PRIOR = offset_prior(Probe(), PEAK)
offsets = st.floats(min_value=-12.0, max_value=12.0)
bends = st.floats(min_value=12.0, max_value=86.0)


def saw(bend: float, off_celsius: float, *, sequence: int = 7, look: float | None = None) -> Sighting:
    """Cone 05 bent so far, where the probe reads `off_celsius` too low."""
    width = cone("05").width_celsius(PEAK)
    alpha = alpha_of_bend(bend) * exp(-off_celsius / width)
    return Sighting(sequence, 0, "05", Body.ORDINARY, bend, alpha, PEAK, look)


def test_the_examples_in_the_docstrings_hold() -> None:
    assert doctest.testmod(correction).failed == 0


def test_without_a_cone_nothing_moves() -> None:
    assert corrected(PRIOR, ()).offset == PRIOR


@given(bends, offsets)
def test_a_bend_moves_the_offset_towards_it_but_not_all_the_way(bend: float, off: float) -> None:
    after = corrected(PRIOR, (saw(bend, off),)).offset
    assert abs(after.value) <= abs(off) + 1e-9
    assert after.value * off >= 0.0
    assert SUREST_CELSIUS <= after.deviation < PRIOR.deviation


@given(bends, offsets)
def test_a_second_sight_of_the_same_brings_it_closer_and_makes_nobody_too_sure(bend: float, off: float) -> None:
    once = corrected(PRIOR, (saw(bend, off),)).offset
    twice = corrected(PRIOR, (saw(bend, off), saw(bend, off, sequence=8))).offset
    assert abs(off - twice.value) <= abs(off - once.value) + 1e-9
    assert SUREST_CELSIUS <= twice.deviation <= once.deviation


@given(offsets)
def test_a_cone_found_down_says_only_that_it_is_down_by_now(off: float) -> None:
    after = corrected(PRIOR, (saw(90.0, off),)).offset
    assert after.value >= 0.0
    assert after.deviation < PRIOR.deviation
    if off < -10.0:
        assert after.value < 1.0, "long down by our reckoning: no news"


@given(offsets)
def test_a_cone_seen_to_fall_says_it_both_ways(off: float) -> None:
    found = corrected(PRIOR, (saw(90.0, off),)).offset
    fell = corrected(PRIOR, (saw(90.0, off, look=20.0),)).offset
    assert fell.value <= found.value + 1e-9
    assert fell.deviation <= found.deviation + 1e-9


def test_a_cone_down_before_we_held_it_so_raises_heat_work_and_one_still_upright_lowers_it() -> None:
    assert corrected(PRIOR, (saw(90.0, 8.0, look=20.0),)).offset.value > 2.0
    upright = Sighting(7, 0, "05", Body.ORDINARY, 8.0, 0.9, PEAK)
    assert corrected(PRIOR, (upright,)).offset.value < -2.0


def test_a_flat_cone_asks_for_more_than_one_that_is_down() -> None:
    one = Sighting(7, 0, "05", Body.ORDINARY, 90.0, 1.0, PEAK)
    flat = Sighting(7, 0, "05", Body.ORDINARY, 130.0, 1.0, PEAK)
    assert corrected(PRIOR, (flat,)).offset.value > corrected(PRIOR, (one,)).offset.value


@pytest.mark.parametrize("bend", [90.0, 130.0, 45.0])
@pytest.mark.parametrize("early_celsius", [40.0, 200.0, 900.0])
def test_a_mistaken_entry_far_too_early_is_doubted_and_moves_nothing(bend: float, early_celsius: float) -> None:
    one = cone("06")
    alpha = exp(-early_celsius / one.width_celsius(999.0))
    mistaken = Sighting(9, 0, "06", Body.ORDINARY, bend, alpha, 999.0 - early_celsius, 20.0)
    taught = corrected(PRIOR, (mistaken,))
    assert taught.doubted == (9,)
    assert taught.offset == PRIOR


def early(name: str, by_celsius: float, sequence: int) -> Sighting:
    """A cone seen to fall so far before its number."""
    one = cone(name)
    alpha = exp(-by_celsius / one.width_celsius(one.end_60_celsius))
    return Sighting(sequence, 0, name, Body.ORDINARY, 90.0, alpha, one.end_60_celsius - by_celsius, 15.0)


def test_two_cones_that_agree_beyond_belief_are_believed_for_then_the_probe_has_drifted() -> None:
    taught = corrected(PRIOR, (early("06", 35.0, 8), early("05", 33.0, 9)))
    assert taught.doubted == ()
    assert 20.0 < taught.offset.value < 40.0
    assert corrected(PRIOR, (early("06", 35.0, 8),)).doubted == (8,)


@pytest.mark.parametrize(("first", "second"), [(200.0, 210.0), (35.0, 75.0), (35.0, -35.0)])
def test_two_mistaken_entries_that_do_not_agree_or_are_past_all_sense_move_nothing(first: float, second: float) -> None:
    taught = corrected(PRIOR, (early("06", first, 8), early("05", second, 9)))
    assert 8 in taught.doubted
    assert abs(taught.offset.value) < 2.0


def test_one_entry_written_twice_is_not_two_cones() -> None:
    assert corrected(PRIOR, (early("06", 35.0, 8), early("06", 35.0, 9))).doubted == (8, 9)


def test_a_cone_that_has_done_no_work_cannot_be_down() -> None:
    taught = corrected(PRIOR, (Sighting(9, 0, "06", Body.ORDINARY, 90.0, 0.0, 400.0),))
    assert taught.doubted == (9,)


def test_an_upright_cone_that_must_be_flat_is_doubted() -> None:
    taught = corrected(PRIOR, (Sighting(9, 0, "06", Body.ORDINARY, 8.0, 9.0, 1030.0),))
    assert taught.doubted == (9,)


@given(st.sampled_from([12.0, 30.0, 60.0, 86.0, 90.0, 130.0, 8.0]), st.floats(0.0, 50.0), st.floats(300.0, 1300.0))
def test_no_single_entry_moves_the_offset_beyond_a_few_deviations(bend: float, alpha: float, peak: float) -> None:
    taught = corrected(PRIOR, (Sighting(9, 0, "05", Body.ORDINARY, bend, alpha, peak, 20.0),))
    assert abs(taught.offset.value - PRIOR.value) <= 4.0 * PRIOR.deviation
    assert taught.offset.deviation <= PRIOR.deviation + 1e-9


@given(bends, offsets, st.floats(min_value=0.3, max_value=2.0))
def test_the_correction_lets_the_watch_see_what_was_seen(bend: float, off: float, alpha: float) -> None:
    sighting = saw(bend, off)
    taught = corrected(PRIOR, (sighting,))
    assume(not taught.doubted)
    now = bend_degrees(corrected_alpha(cone("05"), sighting.alpha, PEAK, taught.offset.value))
    assert abs(now - bend) <= abs(bend_degrees(sighting.alpha) - bend) + 1e-6
    low, high = alpha_between(cone("05"), alpha, PEAK, taught.offset.deviation)
    wide_low, wide_high = alpha_between(cone("05"), alpha, PEAK, PRIOR.deviation)
    assert wide_low < low < alpha < high < wide_high


@given(st.floats(min_value=20.0, max_value=55.0), offsets)
def test_the_further_a_cone_is_from_down_the_less_it_says_of_the_probe(bend: float, off: float) -> None:
    """Charts say where cones end, not how they get there."""
    nearly_down, leaning = (corrected(PRIOR, (saw(b, off),)).offset for b in (80.0, bend))
    assert leaning.deviation >= nearly_down.deviation
    assert abs(leaning.value) < abs(nearly_down.value) or abs(off) < 0.01


@pytest.mark.parametrize("exponent", [0.0, 1.0, 50.0, 800.0, 1e6])
def test_a_probe_that_reads_nonsense_asks_for_no_number_beyond_all_doubt(exponent: float) -> None:
    """A wire the wrong way round at -200 degC: a cone's width there is a twentieth of a degree."""
    assert factor_of(exponent) == pytest.approx(min(exp(min(exponent, 50.0)), FURTHEST_FACTOR))
    assert factor_of(-exponent) == pytest.approx(1.0 / factor_of(exponent))


def test_a_probe_known_from_earlier_firings_is_surer_but_never_certain() -> None:
    known = offset_prior(Probe(), PEAK, Belief(-3.0, 0.1))
    assert known.value == -3.0
    assert 1.0 < known.deviation < PRIOR.deviation


def test_a_probe_of_a_better_class_is_surer() -> None:
    # IEC 60584-1: type S class 2 at 1222 degC is 3.1 degC, type K class 2 is 9.2.
    assert offset_prior(Probe("S", 2), 1222.0).deviation < offset_prior(Probe("K", 2), 1222.0).deviation
    low, high = end_point_between(cone("6"), 60.0, offset_prior(Probe("K", 2), 1222.0).deviation)
    assert low < end_point_celsius(cone("6"), 60.0) < high
    # About half a cone either way: 6 and 7 stand 16 degC apart (common practice, no source).
    assert 8.0 <= (high - low) / 2.0 <= 10.0


@given(st.floats(min_value=-10.0, max_value=10.0), st.booleans())
def test_a_one_sided_sighting_has_the_moments_of_the_whole_integral(edge: float, down: bool) -> None:
    """Rasmussen and Williams (2006), section 3.9, against a plain sum over prior times likelihood."""
    one, prior = cone("05"), PRIOR
    bend = 90.0 if down else 8.0
    alpha_at = 1.0 if down else alpha_of_bend(15.0)
    own = hypot(cone_deviation_celsius(one), WIDTH_SHARE * one.width_celsius(PEAK) * abs(log(alpha_at)))
    sighting = Sighting(7, 0, "05", Body.ORDINARY, bend, alpha_at * exp(-edge / one.width_celsius(PEAK)), PEAK)
    side = 1.0 if down else -1.0
    grid = [prior.deviation * (i / 400.0) for i in range(-3200, 3201)]
    weights = [exp(-0.5 * (x / prior.deviation) ** 2) * 0.5 * erfc(-side * (x - edge) / own / sqrt(2.0)) for x in grid]
    mean = fsum(w * x for w, x in zip(weights, grid, strict=True)) / fsum(weights)
    variance = fsum(w * (x - mean) ** 2 for w, x in zip(weights, grid, strict=True)) / fsum(weights)
    after = corrected(prior, (sighting,)).offset
    assert after.value == pytest.approx(mean, abs=1e-3)
    assert after.deviation == pytest.approx(max(sqrt(variance), SUREST_CELSIUS), abs=1e-3)
