"""The outcomes file: exact keys, exact order, numbers rounded for a reader."""

import pytest

from spyhole.core.forms.outcomes_jsonl import line
from spyhole.core.kiln import Switch
from spyhole.core.moment import utc_ms_from_text
from spyhole.core.outcome import (
    Action,
    AlarmOutcome,
    ConeEstimate,
    EstimateOutcome,
    Forecast,
    Priority,
    PromptOutcome,
    RingEstimate,
    TimerEstimate,
)

AT = utc_ms_from_text("2031-10-31T12:31:00Z")


def minutes(low: int, median: int, high: int) -> Forecast:
    return Forecast(AT + low * 60_000, AT + median * 60_000, AT + high * 60_000)


def test_an_alarm() -> None:
    outcome = AlarmOutcome(
        AT + 999, "a7", "probe-doubtful", "top", Priority.MEDIUM, Action.RAISE, True, (("below", 34.0),)
    )
    assert line(outcome, "The top probe reads 34 below.") == (
        '{"time": "2031-10-31T12:31:00Z", "type": "alarm", "id": "a7", "tag": "probe-doubtful", "ring": "top", '
        '"priority": "medium", "action": "raise", "text": "The top probe reads 34 below."}'
    )
    kiln_wide = AlarmOutcome(AT, "a8", "still-on", None, Priority.HIGH, Action.CLEAR, False, ())
    assert '"ring": null, "priority": "high", "action": "clear", "text": ""' in line(kiln_wide, "")


def test_a_prompt() -> None:
    assert line(PromptOutcome(AT, "shut-off-seen", ()), "Stopped heating 12:39.") == (
        '{"time": "2031-10-31T12:31:00Z", "type": "prompt", "tag": "shut-off-seen", "text": "Stopped heating 12:39."}'
    )


def test_an_estimate() -> None:
    outcome = EstimateOutcome(
        utc_ms=AT,
        stage="high",
        heating=True,
        rings=(
            RingEstimate("bottom", 1017.2031, 103.7, Switch.HIGH, True, 0.7449),
            RingEstimate("top", None, None, Switch.OFF, False, None),
        ),
        cones=(
            ConeEstimate("guide", "06", 2.4, 90.0),
            ConeEstimate("firing", "05", 0.9312, 79.2),
            ConeEstimate("guard", "04", 0.28, 17.4),
            ConeEstimate("shutoff", "05", 0.9312, None),
        ),
        cone_progress=0.9312,
        bend_degrees=79.2,
        next_turn=None,
        cone_down=minutes(1, 4, 10),
        shut_off=None,
        timer=TimerEstimate(AT + 641_000, 45),
        cool=((200, minutes(600, 700, 800)), (100, None), (50, None)),
        ceiling_celsius=1090.0,
    )
    assert line(outcome, "") == (
        '{"time": "2031-10-31T12:31:00Z", "type": "estimate", "stage": "high", "heating": true, "rings": {"bottom": '
        '{"celsius": 1017.2, "climb": 104, "switch": "high", "switch_sure": true, "alpha": 0.74}, "top": {"celsius": '
        'null, "climb": null, "switch": "off", "switch_sure": false, "alpha": null}}, "cones": {"guide": {"cone": '
        '"06", "alpha": 2.4, "bend_degrees": 90}, "firing": {"cone": "05", "alpha": 0.93, "bend_degrees": 79}, '
        '"guard": {"cone": "04", "alpha": 0.28, "bend_degrees": 17}, "shutoff": {"cone": "05", "alpha": 0.93}}, '
        '"cone_progress": 0.93, "bend_degrees": 79, "next_turn": null, "cone_down": {"low": "2031-10-31T12:32:00Z", '
        '"median": "2031-10-31T12:35:00Z", "high": "2031-10-31T12:41:00Z"}, "shut_off": null, "timer": {"ends": '
        '"2031-10-31T12:41:41Z", "advised_minutes": 45}, "cool": {"200": {"low": "2031-10-31T22:31:00Z", "median": '
        '"2031-11-01T00:11:00Z", "high": "2031-11-01T01:51:00Z"}, "100": null, "50": null}}'
    )


@pytest.mark.parametrize(("celsius", "written"), [(-0.04, "0.0"), (842.0, "842.0"), (0.05, "0.1"), (1017.25, "1017.2")])
def test_a_temperature_has_one_decimal_and_zero_no_sign(celsius: float, written: str) -> None:
    ring = RingEstimate("bottom", celsius, -0.4, Switch.OFF, True, 0.0)
    outcome = EstimateOutcome(AT, "", False, (ring,), (), None, None, None, None, None, None, (), None)
    assert f'"celsius": {written}, "climb": 0, ' in line(outcome, "")


def test_a_number_that_is_none_is_never_written() -> None:
    ring = RingEstimate("bottom", float("nan"), None, Switch.OFF, True, None)
    outcome = EstimateOutcome(AT, "", False, (ring,), (), None, None, None, None, None, None, (), None)
    with pytest.raises(ValueError, match="not JSON compliant"):
        line(outcome, "")
