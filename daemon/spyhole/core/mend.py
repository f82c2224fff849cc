"""The instants a state remembers, moved once the clock they were read from is known to have been wrong.

Only what is shown moves: durations, delays and latches live on the axis (`core.timeline`) and never do.
"""

from dataclasses import replace

from spyhole.core.alarms.book import AlarmBook
from spyhole.core.firing import Firing, Written
from spyhole.core.outcome import EstimateOutcome, Facts, Forecast
from spyhole.core.timeline import Correction


def mend_firing(firing: Firing, correction: Correction) -> Firing:
    """The firing with its instants as they are known now."""
    ours = firing.id >= correction.first_sequence
    return replace(
        firing,
        started_utc_ms=firing.started_utc_ms + correction.by_ms if ours else firing.started_utc_ms,
        off_utc_ms=None if firing.off_utc_ms is None else correction.of(firing.off_utc_ms),
        written=tuple(_written(one, correction) for one in firing.written),
    )


def mend_alarms(book: AlarmBook, correction: Correction) -> AlarmBook:
    """The alarms that stand, with their instants as they are known now. What was sent stands as it was."""
    return replace(
        book,
        alarms=tuple(
            replace(alarm, raised_utc_ms=correction.of(alarm.raised_utc_ms), facts=_facts(alarm.facts, correction))
            for alarm in book.alarms
        ),
    )


def mend_estimate(latest: EstimateOutcome, correction: Correction) -> EstimateOutcome:
    """The latest view of what is to come: it moves as a whole, or not at all."""
    by_ms = correction.of(latest.utc_ms) - latest.utc_ms
    if by_ms == 0:
        return latest

    def moved(forecast: Forecast | None) -> Forecast | None:
        return forecast and Forecast(forecast.low + by_ms, forecast.median + by_ms, forecast.high + by_ms)

    timer = latest.timer
    if timer is not None and timer.ends is not None:
        timer = replace(timer, ends=timer.ends + by_ms)
    return replace(
        latest,
        utc_ms=latest.utc_ms + by_ms,
        next_turn=moved(latest.next_turn),
        cone_down=moved(latest.cone_down),
        shut_off=moved(latest.shut_off),
        timer=timer,
        moved=latest.moved and replace(latest.moved, utc_ms=latest.moved.utc_ms + by_ms),
        cool=tuple((target, moved(forecast)) for target, forecast in latest.cool),
    )


def _written(one: Written, correction: Correction) -> Written:
    return replace(one, utc_ms=one.utc_ms + correction.by_ms) if one.sequence >= correction.first_sequence else one


def _facts(facts: Facts, correction: Correction) -> Facts:
    return tuple(
        (name, correction.of(value) if name.endswith("utc_ms") and isinstance(value, int) else value)
        for name, value in facts
    )
