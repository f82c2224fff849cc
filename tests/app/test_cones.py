"""`spyhole cones`: answers for a climb, in the potter's unit, or one sentence why not."""

import re

import pytest

from spyhole.app.commands import main
from spyhole.core.cones.kinetics import cone, cone_names, end_point_celsius
from spyhole.core.plan import Body


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(["cones", *arguments]) == 0
    return capsys.readouterr().out


def test_a_climb_alone_names_every_cone_of_the_body(capsys: pytest.CaptureFixture[str]) -> None:
    for more, body in (([], Body.ORDINARY), (["--iron-free"], Body.IRON_FREE)):
        shown = re.findall(r"cone (\S+) +(\d+) degC", said(capsys, "--climb", "80", *more))
        assert shown == [(name, f"{end_point_celsius(cone(name, body), 80.0):.0f}") for name in cone_names(body)]


def test_one_cone_says_its_end_its_interval_its_neighbours_and_the_shut_off(capsys: pytest.CaptureFixture[str]) -> None:
    shown = said(capsys, "--climb", "60", "--cone", "05")
    # Chart of temperature equivalents, self-supporting 05 at 60 degC/h: 1031; our fit says 1034.
    assert "Cone 05 is down at 1034 degC, climbing 60 degC an hour" in shown
    low, high = map(int, re.findall(r"it reads (\d+) degC to (\d+) degC", shown)[0])
    assert low < 1031 < high
    assert "guide, cone 06," in shown
    assert "guard, cone 04," in shown
    assert "lying in a shut-off is not in the chart" in shown


def test_fahrenheit_is_the_same_answer_in_the_other_unit(capsys: pytest.CaptureFixture[str]) -> None:
    # 60 degC/h is 108 degF/h. Chart, Fahrenheit edition, cone 6 at 108: 2232 degF; our fit says 1220.3 degC.
    assert "Cone 6 is down at 2228 degF, climbing 108 degF an hour" in said(
        capsys, "--climb", "108", "--fahrenheit", "--cone", "6"
    )
    celsius = said(capsys, "--climb", "60", "--cone", "6", "--peak", "1200", "--soak", "20")
    other = said(capsys, "--climb", "108", "--fahrenheit", "--cone", "6", "--peak", "2192", "--soak", "20")
    minutes = re.compile(r"down after (\d+) minutes")
    assert minutes.findall(celsius) == minutes.findall(other)
    assert "degC" not in other


def test_the_peak_it_names_for_a_soak_is_one_that_needs_that_soak(capsys: pytest.CaptureFixture[str]) -> None:
    peak = re.findall(r"from a peak of (\d+) degC", said(capsys, "--climb", "80", "--cone", "6", "--soak", "30"))[0]
    held = said(capsys, "--climb", "80", "--cone", "6", "--peak", peak)
    assert 28 <= int(re.findall(r"down after (\d+) minutes", held)[0]) <= 32


def test_a_peak_past_the_end_needs_no_soak_and_one_far_below_never_does_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert "no soak is needed" in said(capsys, "--climb", "80", "--cone", "06", "--peak", "1040")
    assert "more than a day" in said(capsys, "--climb", "80", "--cone", "06", "--peak", "700")


def test_a_climb_the_chart_does_not_cover_is_answered_with_a_word_of_doubt(capsys: pytest.CaptureFixture[str]) -> None:
    assert "chart covers 15 degC to 150 degC" in said(capsys, "--climb", "300")
    assert "chart covers 15 degC to 150 degC" in said(capsys, "--climb", "10", "--cone", "05")
    assert "chart covers" not in said(capsys, "--climb", "150", "--cone", "05")


def test_a_class_past_its_range_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    # IEC 60584-1: class 2 of type K ends at 1200 degC, of type S at 1600.
    assert "IEC 60584-1 promises nothing" in said(capsys, "--climb", "60", "--cone", "6")
    assert "IEC 60584-1 promises nothing" not in said(capsys, "--climb", "60", "--cone", "6", "--probe", "S2")


def test_where_a_climb_begins_counts_only_when_it_is_near(capsys: pytest.CaptureFixture[str]) -> None:
    assert "is not counted" in said(capsys, "--climb", "60", "--cone", "6", "--from", "1150")
    assert "is not counted" not in said(capsys, "--climb", "60", "--cone", "6", "--from", "600")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--climb", "0"], "--climb: 0 degC an hour cannot be answered; it is 1 to 1000 degC an hour"),
        (["--climb", "nan"], "--climb: nan degC an hour"),
        (["--climb", "-80"], "--climb: -80 degC"),
        (["--climb", "9000", "--fahrenheit"], "it is 2 to 1800 degF an hour"),
        (["--climb", "80", "--cone", "o5"], "there is no ordinary cone 'o5'; the ordinary cones are 022"),
        (["--climb", "80", "--cone", "2", "--iron-free"], "there is no iron-free cone '2'"),
        (["--climb", "80", "--cone", "022", "--large"], "the chart has no large cone '022'"),
        (["--climb", "80", "--cone", "05", "--soak", "-1"], "--soak: -1 cannot be; it is 0 to 1440 minutes"),
        (["--climb", "80", "--cone", "05", "--soak", "inf"], "--soak: inf cannot be"),
        (["--climb", "80", "--cone", "05", "--peak", "9000"], "--peak: 9000 degC"),
        (["--climb", "80", "--cone", "05", "--peak", "900", "--from", "950"], "--peak: it is not above"),
        (["--climb", "80", "--soak", "15"], "--cone: a soak, a peak or a beginning is asked of one cone"),
        (["--climb", "80", "--cone", "05", "--probe", "Z9"], "--probe: 'Z9' is no type and tolerance class"),
    ],
)
def test_what_cannot_be_answered_is_one_sentence(
    capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    assert main(["cones", *arguments]) == 2
    shown = capsys.readouterr().err
    assert words in shown
    assert shown.count("\n") == 1
