"""The chart as carried: complete, in order, in the range of the trade."""

from itertools import pairwise

import pytest

from spyhole.core.cones.chart import COLUMNS, END_POINTS, Form
from spyhole.core.plan import Body


def test_every_published_cell_is_there() -> None:
    assert sum(len(rates) for cones in END_POINTS.values() for rates in cones.values()) == 281
    assert len(END_POINTS[Form.SELF_SUPPORTING, Body.ORDINARY]) == 38
    assert len(END_POINTS[Form.SELF_SUPPORTING, Body.IRON_FREE]) == 13
    assert "2" not in END_POINTS[Form.SELF_SUPPORTING, Body.IRON_FREE]


@pytest.mark.parametrize(("form", "body", "rate"), COLUMNS)
def test_harder_cones_go_down_hotter(form: Form, body: Body, rate: int) -> None:
    column = [rates[rate] for rates in END_POINTS[form, body].values() if rate in rates]
    if (form, rate) == (Form.LARGE, 150):
        column = column[:-1]  # large 14, distrusted
    assert all(a < b for a, b in pairwise(column))


def test_a_faster_climb_goes_down_hotter_but_for_the_pair_the_chart_has_the_wrong_way_round() -> None:
    wrong_way_round = [
        (form, name)
        for (form, _), cones in END_POINTS.items()
        for name, rates in cones.items()
        if list(rates.values()) != sorted(rates.values())
    ]
    assert wrong_way_round == [(Form.LARGE, "14")]
