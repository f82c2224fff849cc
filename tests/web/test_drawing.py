"""What the page computes for itself, in the browser where it does so: the colour of heat, a bend, units and words."""

import math
from itertools import pairwise

import pytest

# Chromaticity of a black body, CIE 1931 2 degree observer: Wyszecki and Stiles, Color Science, 2nd ed. 1982, table of
# the Planckian locus (from memory; the same to four places when computed by Planck's law from the CIE's own tables, as
# the first and third were); the last is the CIE's standard illuminant A (ISO 11664-2).
PLANCKIAN = [
    (850, 0.6741, 0.3248),
    (1000, 0.6528, 0.3444),
    (1273, 0.6152, 0.3747),
    (1500, 0.5857, 0.3931),
    (2000, 0.5267, 0.4133),
    (2855.5, 0.4476, 0.4075),
]
DRAPER_CELSIUS = 525  # nothing glows below: Draper, American Journal of Science 4 (1847) 388


@pytest.fixture(scope="module")
def compute(daemon, browser):
    context = browser.new_context(locale="en-GB")
    page = context.new_page()
    page.goto(daemon.url + "/static/hole.svg")  # any page of this origin: the modules need no document

    def run(module: str, call: str, *values: object) -> object:
        return page.evaluate(f"async (values) => (await import('/static/{module}.js')).{call}(...values)", list(values))

    yield run
    context.close()


@pytest.mark.parametrize(("kelvin", "x", "y"), PLANCKIAN)
def test_the_colour_of_heat_is_a_black_bodys(compute, kelvin, x, y) -> None:
    assert compute("glow", "chromaticity", kelvin) == pytest.approx([x, y], abs=0.0012)


def test_the_hole_is_black_until_heat_can_be_seen(compute) -> None:
    assert compute("glow", "glow", DRAPER_CELSIUS - 5) == [0, 0, 0]
    red, green, blue = compute("glow", "glow", DRAPER_CELSIUS + 60)
    assert red > 0
    assert green == pytest.approx(0, abs=8)
    assert blue == pytest.approx(0, abs=8)


def test_hotter_is_brighter_and_yellower_and_never_white(compute) -> None:
    colours = [compute("glow", "glow", celsius) for celsius in range(600, 1351, 25)]
    for cooler, hotter in pairwise(colours):
        assert sum(hotter) >= sum(cooler)
        assert hotter[1] >= cooler[1]
    assert all(red >= green >= blue for red, green, blue in colours)
    assert max(colours[-1]) < 255
    assert colours[-1][2] < 140


@pytest.mark.parametrize("bend", [8, 20, 45, 70, 90])
def test_a_cones_tip_is_where_its_bend_says(compute, bend) -> None:
    """The angle from upright of the line from foot to tip, as a bent cone is measured."""
    line = compute("cone", "middleLine", bend, 100)
    x, y = line[-1]
    assert math.degrees(math.atan2(-x, -y)) == pytest.approx(bend, abs=0.5)
    length = sum(math.dist(a, b) for a, b in pairwise(line))
    assert length == pytest.approx(100, abs=0.5), "a cone bends, it does not stretch"


@pytest.mark.parametrize(
    ("celsius", "unit", "words"),
    [(573.4, "degC", "573"), (573, "degF", "1063"), (-0.4, "degC", "0"), (-12.6, "degC", "−13")],
)
def test_a_temperature_in_the_readers_unit(compute, celsius, unit, words) -> None:
    assert compute("units", "degrees", celsius, unit) == words


@pytest.mark.parametrize(
    ("climb", "unit", "words"),
    [
        (112.4, "degC", "112 per hour"),
        (100, "degF", "180 per hour"),
        (-181, "degC", "falling 181 per hour"),
        (0.2, "degC", "steady"),
        (None, "degC", ""),
    ],
)
def test_a_climb_in_words(compute, climb, unit, words) -> None:
    assert compute("units", "climbWords", climb, unit) == words


@pytest.mark.parametrize(
    ("utc_ms", "zone", "clock"),
    [
        (1_793_494_800_000, "Europe/London", "01:00"),  # 1 November 2026, 01:00 UTC: an hour after the clocks went back
        (1_793_494_800_000, "America/New_York", "21:00"),
        (1_793_494_800_000, "Asia/Kathmandu", "06:45"),
    ],
)
def test_an_instant_on_the_studios_clock(compute, utc_ms, zone, clock) -> None:
    assert compute("time", "clock", utc_ms, zone) == clock


@pytest.mark.parametrize(
    ("ms", "words"), [(20_000, "20 s"), (59 * 60_000, "59 min"), (160 * 60_000, "2 h 40 min"), (90_000_000, "25 h")]
)
def test_a_duration_in_words(compute, ms, words) -> None:
    assert compute("time", "duration", ms) == words


def test_a_forecast_says_the_clock_first(compute) -> None:
    now = 1_793_354_400_000
    at = {"low": now + 60 * 60_000, "median": now + 72 * 60_000, "high": now + 90 * 60_000}
    said = compute("time", "forecastWords", at, "UTC", now)
    assert said == "11:12, in 1 h 12 min; between 11:00 and 11:30"


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ("Crack the lid", "stand aside"),
        ("Look in with care", "shade about 2"),
        ("Cool enough to unload", "isolate the kiln"),
        ("Turn all rings to high", None),
    ],
)
def test_a_caution_stands_where_the_hand_is_about_to_act(compute, words, part) -> None:
    said = compute("cautions", "cautionFor", words)
    assert said == "" if part is None else part in said
