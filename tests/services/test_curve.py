"""Minutes of the record as a curve: every lowest and highest is on it."""

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.kiln import Kiln, Probe, Ring
from spyhole.services.archive import CurvePoint, RingMinute
from spyhole.services.curve import STEP_CELSIUS, draw, has_cristobalite

KILN = Kiln("Puffin", 1290.0, (Ring("bottom", 3100.0, Probe()), Ring("top", 3000.0)))


def point(minute: int, ring: RingMinute | None) -> CurvePoint:
    return CurvePoint(minute * 60_000, "high", 1070.0, (ring, None))


rings = st.none() | st.tuples(st.floats(0, 1200), st.floats(0, 200), st.floats(0, 1)).map(
    lambda t: RingMinute(t[0], t[0] + t[1] * t[2], t[0] + t[1])
)


@given(st.lists(rings, min_size=1, max_size=30))
def test_nothing_low_or_high_is_lost(minutes: list[RingMinute | None]) -> None:
    curve = draw(1, KILN, [point(n, ring) for n, ring in enumerate(minutes)], [])
    assert list(curve.rings) == ["bottom"]
    assert len(curve.utc_ms) == len(curve.rings["bottom"]) == len(curve.ceiling)
    assert curve.utc_ms == sorted(set(curve.utc_ms))
    drawn = [c for c in curve.rings["bottom"] if c is not None]
    for ring in minutes:
        if ring is not None and ring.highest_celsius - ring.lowest_celsius > STEP_CELSIUS:
            assert round(ring.lowest_celsius, 1) in drawn
            assert round(ring.highest_celsius, 1) in drawn


def test_a_minute_without_a_number_is_a_gap() -> None:
    curve = draw(1, KILN, [point(0, RingMinute(20.0, 20.0, 20.0)), point(1, None)], [])
    assert curve.rings["bottom"] == [20.0, None]
    assert curve.ceiling == [1070.0, 1070.0]


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
