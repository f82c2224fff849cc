"""The outcomes file: one JSON object a line for each alarm, prompt and estimate, in order."""

import json

from spyhole.core.moment import utc_text
from spyhole.core.outcome import (
    AlarmOutcome,
    ConeEstimate,
    EstimateOutcome,
    Forecast,
    Outcome,
    PromptOutcome,
    RingEstimate,
)

Json = str | int | float | bool | None | dict[str, "Json"]


def line(outcome: Outcome, text: str) -> str:
    """The outcome as its line, without the line's end.

    text: the sentence of an alarm or prompt, made outside the fold; unused for an estimate. Rounded for a reader:
    degC to 0.1, climb and bend whole, heat work to 0.01, times to the second.
    """
    head: dict[str, Json] = {"time": utc_text(outcome.utc_ms)}
    if isinstance(outcome, AlarmOutcome):
        body = _alarm(outcome, text)
    elif isinstance(outcome, PromptOutcome):
        body = {"type": "prompt", "tag": outcome.tag, "text": text}
    else:
        body = _estimate(outcome)
    return json.dumps(head | body, ensure_ascii=False, allow_nan=False)


def _alarm(outcome: AlarmOutcome, text: str) -> dict[str, Json]:
    return {
        "type": "alarm",
        "id": outcome.episode,
        "tag": outcome.tag,
        "ring": outcome.ring,
        "priority": outcome.priority.value,
        "action": outcome.action.value,
        "text": text,
    }


def _estimate(outcome: EstimateOutcome) -> dict[str, Json]:
    timer = outcome.timer
    return {
        "type": "estimate",
        "stage": outcome.stage,
        "heating": outcome.heating,
        "rings": {ring.name: _ring(ring) for ring in outcome.rings},
        "cones": {cone.role: _cone(cone) for cone in outcome.cones},
        "cone_progress": _rounded(outcome.cone_progress, 2),
        "bend_degrees": _whole(outcome.bend_degrees),
        "next_turn": _forecast(outcome.next_turn),
        "cone_down": _forecast(outcome.cone_down),
        "shut_off": _forecast(outcome.shut_off),
        "timer": None
        if timer is None
        else {
            "ends": None if timer.ends is None else utc_text(timer.ends),
            "advised_minutes": timer.advised_minutes,
        },
        "cool": {str(celsius): _forecast(forecast) for celsius, forecast in outcome.cool},
    }


def _ring(ring: RingEstimate) -> Json:
    return {
        "celsius": _rounded(ring.celsius, 1),
        "climb": _whole(ring.climb),
        "switch": ring.switch.value,
        "switch_sure": ring.switch_sure,
        "alpha": _rounded(ring.alpha, 2),
    }


def _cone(cone: ConeEstimate) -> Json:
    known: dict[str, Json] = {"cone": cone.cone, "alpha": _rounded(cone.alpha, 2)}
    if cone.bend_degrees is not None:
        known["bend_degrees"] = _whole(cone.bend_degrees)
    return known


def _forecast(forecast: Forecast | None) -> Json:
    if forecast is None:
        return None
    return {"low": utc_text(forecast.low), "median": utc_text(forecast.median), "high": utc_text(forecast.high)}


def _rounded(value: float | None, places: int) -> float | None:
    """Rounded, and never minus zero."""
    return None if value is None else round(float(value), places) + 0.0


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)
