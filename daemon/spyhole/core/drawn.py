"""What each ring draws, where current transformers are fitted, and when it is worth a row of the journal."""

from dataclasses import dataclass

CHANGED_AMPERES = 0.3
CHANGED_SHARE = 0.03
"""The mains move a current by a percent or two from minute to minute; a switch by half or all of it. Chosen."""

HELD_MS = 600_000
"""A row holds until the next; so there is one each ten minutes at least."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """amperes: root mean square, one a ring from the bottom up, as it was measured about once a minute.

    None: the ring has no transformer, or what came from it is not to be believed.
    """

    amperes: tuple[float | None, ...]


def worth_a_row(before: Drawn | None, before_ms: int, now: Drawn, now_ms: int) -> bool:
    """Whether this is to be written down after that. Instants are monotonic [ms]."""
    if before is None or now_ms - before_ms >= HELD_MS or len(before.amperes) != len(now.amperes):
        return True
    return any(_differ(was, it_is) for was, it_is in zip(before.amperes, now.amperes, strict=True))


def _differ(was: float | None, it_is: float | None) -> bool:
    if was is None or it_is is None:
        return was is not it_is
    return abs(it_is - was) > max(CHANGED_AMPERES, CHANGED_SHARE * was)
