"""Minutes of the record as a curve: every lowest and highest is on it."""

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.services.archive import Course, RingCourse, RingMinute
from spyhole.services.curve import STEP_CELSIUS, draw, has_cristobalite

KILN = Kiln("Puffin", 1290.0, (Ring("bottom", 3100.0, Probe()), Ring("top", 3000.0)))


def course(*minutes: RingMinute | None) -> Course:
    """The bottom ring's minutes, one after the other; nothing of the top ring."""
    columns = zip(*((None,) * 3 if ring is None else ring for ring in minutes), strict=True)
    nothing = [None] * len(minutes)
    return Course(
        [minute * 60_000 for minute in range(len(minutes))],
        [1070.0] * len(minutes),
        (RingCourse(*map(list, columns)), RingCourse(nothing, nothing, nothing)),
    )


rings = st.none() | st.tuples(st.floats(0, 1200), st.floats(0, 200), st.floats(0, 1)).map(
    lambda t: RingMinute(t[0], t[0] + t[1] * t[2], t[0] + t[1])
)


@given(st.lists(rings, min_size=1, max_size=30))
def test_nothing_low_or_high_is_lost(minutes: list[RingMinute | None]) -> None:
    curve = draw(1, KILN, course(*minutes), [])
    assert list(curve.rings) == ["bottom"]
    assert len(curve.utc_ms) == len(curve.rings["bottom"]) == len(curve.ceiling)
    assert curve.utc_ms == sorted(set(curve.utc_ms))
    drawn = [c for c in curve.rings["bottom"] if c is not None]
    for ring in minutes:
        if ring is not None and ring.highest_celsius - ring.lowest_celsius > STEP_CELSIUS:
            assert round(ring.lowest_celsius, 1) in drawn
            assert round(ring.highest_celsius, 1) in drawn


def test_a_minute_without_a_number_is_a_gap() -> None:
    curve = draw(1, KILN, course(RingMinute(20.0, 20.0, 20.0), None), [])
    assert curve.rings["bottom"] == [20.0, None]
    assert curve.ceiling == [1070.0, 1070.0]


def test_a_minute_that_moved_a_good_deal_is_two_points_in_the_order_they_came() -> None:
    curve = draw(1, KILN, course(RingMinute(20, 20, 20), RingMinute(20, 30, 40), RingMinute(10, 25, 40)), [])
    assert curve.rings["bottom"] == [20.0, 20.0, 40.0, 40.0, 10.0]
    assert curve.utc_ms == [0, 60_000, 90_000, 120_000, 150_000]
    assert curve.ceiling == [1070.0] * 5


def test_a_ring_the_record_does_not_know_yet_has_no_numbers() -> None:
    kiln = Kiln("Puffin", 1290.0, (*KILN.rings, Ring("lid", 3000.0, Probe())))
    curve = draw(1, kiln, course(RingMinute(20, 20, 20), RingMinute(20, 30, 40)), [])
    assert curve.rings["lid"] == [None] * len(curve.utc_ms) == [None] * 3


PLAN = """name = "Glaze"
cone = "6"
[[stage]]
name = "high"
switches = { bottom = "high", top = "high" }
until = "cone"
"""


def test_a_body_has_cristobalite_where_its_plan_cools_slower_there() -> None:
    kiln = kiln_to_toml(KILN)
    band = "[[cooling.limits]]\nfrom_celsius = 280\nto_celsius = {}\ncelsius_per_hour = 50\n"
    assert has_cristobalite(kiln, PLAN + band.format(210))
    assert not has_cristobalite(kiln, PLAN + band.format(240)), "it ends above"
    assert not has_cristobalite(kiln, PLAN)
    assert not has_cristobalite(kiln, "what cannot be read any more")
