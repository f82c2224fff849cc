"""Heat work against what is published about pyrometric cones.

End points: Edward Orton Jr. Ceramic Foundation, wall chart of temperature equivalents for cones 022-14, Celsius
edition, and the notes on it about soaking and bending. Rate law under a climb: Kissinger, Analytical Chemistry 29
(1957) 1702. Exponential integral: SciPy. Tolerances: IEC 60584-1:2013.
"""

from math import exp, fsum, log, sqrt
from statistics import median

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import exp1, expn

from spyhole.core.cones.chart import END_POINTS, Form
from spyhole.core.cones.doubt import FIT_CELSIUS
from spyhole.core.cones.fitting import EndPoints, fit_cone
from spyhole.core.cones.integral import GAS_CONSTANT, KELVIN, log_integral, scaled_e2
from spyhole.core.cones.kinetics import (
    alpha_of_bend,
    alpha_of_climb,
    cone,
    cone_names,
    end_point_celsius,
    guard_of,
    heat_work,
    soak_alpha_per_minute,
    whole_cones,
)
from spyhole.core.cones.large import DISTRUSTED, large_cone
from spyhole.core.cones.parameters import PARAMETERS
from spyhole.core.cones.tolerance import tolerance_celsius
from spyhole.core.plan import Body


def self_supporting(body: Body) -> dict[str, EndPoints]:
    return END_POINTS[Form.SELF_SUPPORTING, body]


def rms(values: list[float]) -> float:
    return sqrt(fsum(value * value for value in values) / len(values))


@pytest.mark.parametrize(("body", "most_rms"), [(Body.ORDINARY, 1.5), (Body.IRON_FREE, 1.8)])
def test_the_chart_is_reproduced(body: Body, most_rms: float) -> None:
    off = [
        end_point_celsius(cone(name, body), rate) - celsius
        for name, end_points in self_supporting(body).items()
        if name != "022"  # its published step from 60 to 150 degC/h is odd, see core.cones.chart
        for rate, celsius in end_points.items()
    ]
    assert rms(off) <= most_rms
    assert max(map(abs, off)) <= 4.0
    assert rms(off) == pytest.approx(FIT_CELSIUS[body.value], abs=0.05), "what intervals take the fit to be"


def test_the_cone_left_out_is_off_by_no_more_than_its_odd_step_explains() -> None:
    off = [
        end_point_celsius(cone("022"), rate) - celsius
        for rate, celsius in self_supporting(Body.ORDINARY)["022"].items()
    ]
    assert max(map(abs, off)) < 6.0


@pytest.mark.parametrize(("body", "most_rms"), [(Body.ORDINARY, 4.1), (Body.IRON_FREE, 3.2)])
def test_a_rate_held_out_is_predicted(body: Body, most_rms: float) -> None:
    chart = self_supporting(body)
    off = []
    for name, end_points in chart.items():
        for held_out, celsius in end_points.items() if len(end_points) == 3 else ():
            rest = {rate: known for rate, known in end_points.items() if rate != held_out}
            off.append(fit_cone(name, chart | {name: rest}, body).end_point_celsius(held_out, celsius) - celsius)
    assert len(off) == 3 * sum(len(end_points) == 3 for end_points in chart.values())
    assert rms(off) <= most_rms


@pytest.mark.parametrize("body", Body)
def test_the_parameters_are_those_the_fit_finds(body: Body) -> None:
    chart = self_supporting(body)
    assert [name for name, _, _ in PARAMETERS[body]] == list(chart)
    for name, end_60_celsius, kilojoules_per_mole in PARAMETERS[body]:
        fit = fit_cone(name, chart, body)
        assert fit.end_point_celsius(60.0) == pytest.approx(end_60_celsius, abs=0.02)
        assert fit.kilojoules_per_mole == pytest.approx(kilojoules_per_mole, abs=0.1)


def test_large_cones_stand_two_or_three_below_but_for_the_cells_the_chart_module_distrusts() -> None:
    large, alone = END_POINTS[Form.LARGE, Body.ORDINARY], self_supporting(Body.ORDINARY)
    below = {(name, rate): alone[name][rate] - celsius for name in large for rate, celsius in large[name].items()}
    assert median(below.values()) == 2
    assert below["13", 60] == 10
    assert large["14"][60] > large["14"][150]


@pytest.mark.parametrize(("body", "most_rms"), [(Body.ORDINARY, 2.0), (Body.IRON_FREE, 2.3)])
def test_large_cones_are_reproduced_by_the_standing_ones_moved(body: Body, most_rms: float) -> None:
    """They carry the fit of the standing ones and one number more: so they are allowed half a degree more."""
    off = [
        end_point_celsius(large_cone(name, body), rate) - celsius
        for name, end_points in END_POINTS[Form.LARGE, body].items()
        for rate, celsius in end_points.items()
        if body is not Body.ORDINARY or (name, rate) not in DISTRUSTED
    ]
    assert len(off) == {Body.ORDINARY: 67, Body.IRON_FREE: 26}[body]
    assert rms(off) <= most_rms
    assert max(map(abs, off)) <= 5.5


def test_the_exponential_integral_is_scipys() -> None:
    for x in (10.0, 20.0, 50.0, 100.0, 180.0):
        assert scaled_e2(x) == pytest.approx(exp(x) * expn(2, x), rel=1e-11)
        # E2 = exp(-x) - x E1 (Abramowitz and Stegun 5.1.14), by another routine of SciPy's.
        assert scaled_e2(x) == pytest.approx(1.0 - x * exp(x) * exp1(x), rel=1e-9)


def test_the_temperature_integral_is_that_of_quadrature() -> None:
    activation_kelvin, kelvin = 1e5, 1300.0
    area, _ = quad(lambda t: exp(activation_kelvin / kelvin - activation_kelvin / t), 300.0, kelvin, points=[1200.0])
    assert log_integral(activation_kelvin, kelvin) == pytest.approx(log(area) - activation_kelvin / kelvin, abs=1e-9)


@pytest.mark.parametrize("body", Body)
def test_end_points_are_those_of_scipys_exponential_integral(body: Body) -> None:
    for name in cone_names(body):
        one = cone(name, body)
        activation = one.activation_joules_per_mole / GAS_CONSTANT

        def integral(celsius: float, activation: float = activation) -> float:
            kelvin = celsius + KELVIN
            return kelvin * float(expn(2, activation / kelvin))

        frequency = 60.0 / 3600.0 / integral(one.end_60_celsius)
        for rate in (15.0, 60.0, 150.0):
            done = rate / 3600.0 / frequency
            expected = brentq(lambda t, done=done: log(integral(t) / done), 400.0, 1600.0)
            assert end_point_celsius(one, rate) == pytest.approx(expected, abs=0.05)


@pytest.mark.parametrize("seconds", [1.0, 5.0, 30.0, 60.0, 600.0])
@pytest.mark.parametrize("name", ["022", "014", "05.5", "05", "6", "10", "14"])
def test_a_climb_read_at_any_interval_brings_the_cone_down_where_the_closed_form_does(
    name: str, seconds: float
) -> None:
    one = cone(name)
    step = 60.0 * seconds / 3600.0
    alpha, celsius = 0.0, one.end_60_celsius - 350.0
    while True:
        gain = heat_work(one, celsius, celsius + step, seconds)
        if alpha + gain >= 1.0:
            break
        alpha, celsius = alpha + gain, celsius + step
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = (low + high) / 2.0
        done = alpha + heat_work(one, celsius, celsius + middle * step, middle * seconds)
        low, high = (low, middle) if done >= 1.0 else (middle, high)
    assert celsius + high * step == pytest.approx(end_point_celsius(one, 60.0), abs=0.05)


def test_a_soak_at_the_end_point_is_worth_what_the_chart_notes_say_within_a_factor_of_two() -> None:
    """Notes: 60 to 120 minutes bring down the next cone, 240 to 360 the one after.

    They hold for no cone in particular: neighbours stand from 4 to 52 degC apart. The median cone is held to them,
    with the factor of two that holds without a witness cone. Single cones stray further: 7 minutes from 1 to 2, hours
    from 020 to 019.
    """
    whole = whole_cones()
    one_cone, two_cones = [], []
    for name, after in zip(whole, whole[2:], strict=False):
        firing = cone(name)
        held_at = end_point_celsius(firing, 60.0)
        following = guard_of(firing)
        assert following is not None
        for target, minutes in ((following, one_cone), (cone(after), two_cones)):
            missing = 1.0 - alpha_of_climb(target, held_at, 60.0)
            minutes.append(missing / soak_alpha_per_minute(target, held_at))
    assert 60.0 / 2.0 <= median(one_cone) <= 120.0 * 2.0
    assert 240.0 / 2.0 <= median(two_cones) <= 360.0 * 2.0


def test_a_cone_bends_from_first_sign_to_down_in_the_minutes_the_chart_notes_give() -> None:
    """Notes: 15 to 25 minutes from the first bend. At 60 degC/h, where a degree is a minute, from 22 degrees.

    Sharp cones (05 to 010) take 10 to 13 and wide ones (014, 013) up to 31: the median cone and two in three are held.
    """
    minutes = []
    for name in whole_cones():
        one = cone(name)
        begins = brentq(lambda t, c=one: alpha_of_climb(c, t, 60.0) - alpha_of_bend(22.0), 400.0, one.end_60_celsius)
        minutes.append(one.end_60_celsius - begins)
    assert 15.0 <= median(minutes) <= 25.0
    assert all(15.0 / 2.0 <= one <= 25.0 * 2.0 for one in minutes)
    assert sum(13.0 <= one <= 25.0 for one in minutes) >= len(minutes) * 2 / 3


def test_a_cone_10_bends_slowly_first_and_fast_at_last() -> None:
    """Orton guide to pyrometric cones, figure 5, a large cone 10 at 60 degC/h: 5 degC for 10 degrees of bend early, 1
    late. The figure does not say where early begins: from 22 degrees, and a factor of two."""
    ten = cone("10")

    def celsius_at(degrees: float) -> float:
        alpha = alpha_of_bend(degrees)
        return float(brentq(lambda t: alpha_of_climb(ten, t, 60.0) - alpha, 900.0, 1300.0))

    assert 2.5 <= celsius_at(32.0) - celsius_at(22.0) <= 10.0
    assert 0.5 <= celsius_at(90.0) - celsius_at(80.0) <= 2.0


@pytest.mark.parametrize(
    ("type_", "tolerance_class", "celsius", "expected"),
    [
        ("K", 1, 300.0, 1.5),
        ("K", 1, 1000.0, 4.0),
        ("K", 2, 300.0, 2.5),
        ("K", 2, 1200.0, 9.0),
        ("N", 2, 1000.0, 7.5),  # from here on: the standard from memory
        ("S", 1, 1000.0, 1.0),
        ("S", 1, 1300.0, 1.6),
        ("S", 2, 1300.0, 3.25),
        ("R", 2, 500.0, 1.5),
        ("B", 3, 1300.0, 6.5),
    ],
)
def test_tolerances_are_those_of_iec_60584(type_: str, tolerance_class: int, celsius: float, expected: float) -> None:
    assert tolerance_celsius(tolerance_class, celsius, type_) == pytest.approx(expected)
