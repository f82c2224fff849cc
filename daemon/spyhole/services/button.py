"""The button at the kiln: a contact that bounces becomes a press, or a long one. Pure; times in seconds."""

from dataclasses import dataclass, replace
from enum import StrEnum

SETTLE_SECONDS = 0.03
"""A contact that has not moved for so long is where it is; what is shorter is bouncing or a spark."""

LONG_SECONDS = 2.0
STUCK_SECONDS = 60.0


class Press(StrEnum):
    """short: let go again before it was long. long: while it is still down. stuck: nobody holds a button so long."""

    SHORT = "short"
    LONG = "long"
    STUCK = "stuck"
    FREE = "free"


@dataclass(frozen=True, slots=True)
class Button:
    """down: as last settled, since then. raw: as the contact was last seen, and since when it has not moved."""

    down: bool = False
    since: float = 0.0
    raw: bool = False
    moved: float = float("-inf")
    said: Press | None = None


def sense(button: Button, raw: bool, moved: bool, now: float) -> tuple[Button, Press | None]:
    """The button as it is seen now. moved: it has moved since it was last seen, even if it is where it was."""
    if moved or raw != button.raw:
        button = replace(button, raw=raw, moved=now)
    if button.raw != button.down:
        if now - button.moved < SETTLE_SECONDS:
            return button, None
        before = button
        button = replace(button, down=button.raw, since=button.moved, said=None)
        if button.down:
            return button, None
        if before.said is Press.STUCK:
            return button, Press.FREE
        return button, Press.SHORT if before.said is None else None
    if button.down and button.said is None and now - button.since >= LONG_SECONDS:
        return replace(button, said=Press.LONG), Press.LONG
    if button.down and button.said is Press.LONG and now - button.since >= STUCK_SECONDS:
        return replace(button, said=Press.STUCK), Press.STUCK
    return button, None


def look_again(button: Button) -> float | None:
    """When it has to be looked at again, though nothing moves; None for never."""
    if button.raw != button.down:
        return button.moved + SETTLE_SECONDS
    if not button.down or button.said is Press.STUCK:
        return None
    return button.since + (LONG_SECONDS if button.said is None else STUCK_SECONDS)
