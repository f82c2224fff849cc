"""When each alarm's condition holds. Delays, latches and episodes are not here: see `life` and `book`.

Fast rules are judged at every bin, slow ones once a minute; those of `house` also when nothing is lit.
None means: cannot be judged now.
"""

from spyhole.core.alarms.book import Judgement
from spyhole.core.alarms.rules.behind import behind
from spyhole.core.alarms.rules.climbing import damp_hurry, runaway
from spyhole.core.alarms.rules.cooling import cooling_fast
from spyhole.core.alarms.rules.ending import fell_short, heat_lost, no_cone_left, power_back, still_on
from spyhole.core.alarms.rules.overfire import overfire
from spyhole.core.alarms.rules.people import nobody_near, timer_short
from spyhole.core.alarms.rules.probes import blind, probes, swapped
from spyhole.core.alarms.rules.spread import uneven
from spyhole.core.view import View

__all__ = ("fast", "slow")


def fast(view: View) -> tuple[Judgement, ...]:
    """Every bin: what must be known within a minute."""
    return (*overfire(view), heat_lost(view), power_back(view), fell_short(view), blind(view), *probes(view))


def slow(view: View) -> tuple[Judgement, ...]:
    """Every minute: what is told from a climb, a forecast or a clock."""
    return (
        damp_hurry(view),  # before runaway: of the two it has the more to say
        runaway(view),
        still_on(view),
        no_cone_left(view),
        cooling_fast(view),
        uneven(view),
        timer_short(view),
        nobody_near(view),
        *swapped(view),
        *behind(view),
    )
