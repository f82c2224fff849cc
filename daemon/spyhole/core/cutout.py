"""Why the cut-out heartbeat may not run: alarms raised since a person last re-armed it. Times are axis milliseconds.

Every high alarm is kept here; which of them stop the heartbeat is a setting, and chosen when it is asked. So a
setting may change without a row, and a replay says the same.
"""

from dataclasses import dataclass, replace

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.journal import Rearm
from spyhole.core.outcome import Action, AlarmOutcome, Outcome, Priority

MAY_STOP = frozenset(tag for tag, declared in CATALOGUE.items() if declared.priority is Priority.HIGH)
"""Alarms that may be chosen: those somebody has to act on at once."""

USUAL = frozenset({"kiln-limit", "guard-cone", "shutoff-overdue"})
"""Those whose first action is all switches off. The others have answers that keep a firing."""


@dataclass(frozen=True, slots=True)
class Cause:
    """An alarm that was raised then, for the first time since the last re-arming."""

    tag: str
    ring: str | None
    episode: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class CutOut:
    """causes: oldest first. rearmed: sequence of the last re-arming, 0 for never."""

    causes: tuple[Cause, ...] = ()
    rearmed: int = 0
    rearmed_by: str = ""
    rearmed_ms: int | None = None

    def stopped_by(self, chosen: frozenset[str]) -> Cause | None:
        """What stops it, of the alarms chosen."""
        return next((cause for cause in self.causes if cause.tag in chosen), None)


def follow(cutout: CutOut, outcomes: tuple[Outcome, ...], now_ms: int) -> CutOut:
    """After these outcomes. A shelf holds messages back and not this; a probe out of service decides nothing."""
    for one in outcomes:
        if not isinstance(one, AlarmOutcome) or one.action is not Action.RAISE or one.tag not in MAY_STOP:
            continue
        known = any((cause.tag, cause.ring) == (one.tag, one.ring) for cause in cutout.causes)
        if not known and ("overlay", "out of service") not in one.facts:
            cause = Cause(one.tag, one.ring, one.episode, now_ms)
            cutout = replace(cutout, causes=(*cutout.causes, cause))
    return cutout


def rearm(
    cutout: CutOut, told: Rearm, holding: frozenset[tuple[str, str | None]], sequence: int, now_ms: int
) -> CutOut:
    """Somebody re-arms it. holding: tag and ring of the alarms that hold; these go on stopping it."""
    causes = tuple(cause for cause in cutout.causes if (cause.tag, cause.ring) in holding)
    return CutOut(causes, sequence, told.who, now_ms)
