"""What somebody has to be near for: the backup timer, and an answer."""

from spyhole.core.alarms.book import Judgement
from spyhole.core.outcome import Facts
from spyhole.core.view import View

TIMER_SOON_MS = 20 * 60_000
"""A timer is wound again and again; it matters when it would run out soon and the cone would not be down."""
ANSWER_MS = 10 * 60_000


def timer_short(view: View) -> Judgement:
    """The backup timer ends soon, and before the cone."""
    firing = view.firing
    if firing.off or not firing.heating or firing.timer_ends_ms is None or firing.cone_down_ms is not None:
        return Judgement("timer-short", None, False)
    left_ms = firing.timer_ends_ms - view.now_ms
    if not -2 * TIMER_SOON_MS < left_ms < TIMER_SOON_MS:
        return Judgement("timer-short", None, False)
    down = view.cone_down
    # Without a forecast: before the last stage the cone is hours away.
    short = not firing.last_stage if down is None else down.low - view.utc_ms > left_ms
    facts: Facts = (
        ("ends_utc_ms", view.utc_ms + left_ms), ("down_utc_ms", None if down is None else down.median),
        ("cone", firing.plan.cone),
    )  # fmt: skip
    return Judgement("timer-short", None, short, facts)


def nobody_near(view: View) -> Judgement:
    """On high, and 'are you in reach?' has stayed without an answer."""
    asked, firing = view.duty.asked, view.firing
    on_high = firing.heating and not firing.off and firing.last_stage
    holds = asked is not None and on_high and view.now_ms - asked.since_ms > ANSWER_MS
    facts: Facts = (("who", view.duty.holder), ("why", asked.why if asked is not None else ""))
    return Judgement("nobody-near", None, holds, facts)
