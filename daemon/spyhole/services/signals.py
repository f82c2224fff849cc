"""What sounder and lamp say, from the alarms in memory. Pure; patterns run in real seconds, also in a rehearsal.

The patterns are ours, no source. A sounder on one line has one loudness: it grows denser the longer nobody answers.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from spyhole.core.alarms.life import RANK, Alarm, DeedKind, Standing
from spyhole.core.outcome import Priority

MINUTE_MS = 60_000


@dataclass(frozen=True, slots=True)
class Pattern:
    """On from and until these seconds of each period."""

    period: float
    on: tuple[tuple[float, float], ...]

    def at(self, seconds: float) -> bool:
        """Whether it is on so long after it began."""
        here = seconds % self.period
        return any(begin <= here < end for begin, end in self.on)

    def next_change(self, seconds: float) -> float:
        """When it may next change, later than this [s after it began]."""
        begun = seconds - seconds % self.period
        edges = sorted({edge for pair in self.on for edge in pair} | {self.period})
        return next((begun + edge for edge in edges if begun + edge > seconds), begun + self.period)


def _beeps(count: int, seconds: float, period: float) -> Pattern:
    return Pattern(period, tuple((2 * i * seconds, (2 * i + 1) * seconds) for i in range(count)))


SILENCE = Pattern(60.0, ())
TEST = _beeps(5, 0.2, 60.0)
TEST_SECONDS = 2.0

SOUNDS: dict[Priority, tuple[tuple[int, Pattern], ...]] = {
    Priority.HIGH: ((0, _beeps(3, 0.2, 4.0)), (2, _beeps(3, 0.2, 2.0)), (5, Pattern(0.6, ((0.0, 0.4),)))),
    Priority.MEDIUM: ((0, _beeps(2, 0.2, 30.0)), (10, _beeps(2, 0.2, 10.0)), (30, _beeps(2, 0.2, 5.0))),
    Priority.LOW: ((0, _beeps(1, 0.1, 60.0)), (30, _beeps(1, 0.1, 20.0))),
}
"""From so many minutes without an answer on, this pattern."""


class Lamp(StrEnum):
    """awake: a short flash, the watch goes on and nothing stands. lit: what stands has been seen by somebody.

    slow, fast: somebody is called; fast for a high alarm. dark: no reading is being completed.
    """

    DARK = "dark"
    AWAKE = "awake"
    LIT = "lit"
    SLOW = "slow"
    FAST = "fast"


LAMPS: dict[Lamp, Pattern] = {
    Lamp.DARK: SILENCE,
    Lamp.AWAKE: Pattern(5.0, ((0.0, 0.1),)),
    # It blinks off now and then: a lamp that does not is one whose daemon has died, for a Pi keeps the level.
    Lamp.LIT: Pattern(5.0, ((0.0, 4.8),)),
    Lamp.SLOW: Pattern(2.0, ((0.0, 1.0),)),
    Lamp.FAST: Pattern(0.4, ((0.0, 0.2),)),
}

_CALLS_AGAIN = frozenset(
    {DeedKind.RAISED, DeedKind.AGAIN, DeedKind.WORSE, DeedKind.SHELF_OVER, DeedKind.TAKEN_BACK, DeedKind.BACK,
     DeedKind.APPLIES}
)  # fmt: skip
_ANSWERED = frozenset({DeedKind.ACKNOWLEDGED, DeedKind.SHELVED, DeedKind.OUT, DeedKind.SUPPRESSED})


@dataclass(frozen=True, slots=True)
class Call:
    """Somebody is called, for the worst of what nobody has seen. waited_ms: for how long already."""

    priority: Priority
    waited_ms: int


def call(alarms: Iterable[Alarm], now_ms: int) -> Call | None:
    """Whether somebody is to be called at the kiln now [axis ms]."""
    calling = [alarm for alarm in alarms if alarm.calls]
    if not calling:
        return None
    worst = max(calling, key=lambda alarm: RANK[alarm.priority]).priority
    waited_ms = max(now_ms - _since_ms(alarm) for alarm in calling if alarm.priority is worst)
    return Call(worst, max(0, waited_ms))


def _since_ms(alarm: Alarm) -> int:
    """Since when it calls: the first call that nobody has answered."""
    since_ms = alarm.since_ms
    for deed in reversed(alarm.history):
        if deed.kind in _ANSWERED:
            break
        if deed.kind in _CALLS_AGAIN:
            since_ms = deed.at_ms
    return since_ms


def sound(called: Call | None) -> Pattern:
    """What the sounder says."""
    if called is None:
        return SILENCE
    return [pattern for minutes, pattern in SOUNDS[called.priority] if called.waited_ms >= minutes * MINUTE_MS][-1]


def lamp(alarms: Iterable[Alarm], called: Call | None, *, awake: bool) -> Lamp:
    """What the lamp says. awake: readings are being completed."""
    if called is not None:
        return Lamp.FAST if called.priority is Priority.HIGH else Lamp.SLOW
    if not awake:
        return Lamp.DARK
    return Lamp.LIT if any(alarm.standing is not Standing.NORMAL for alarm in alarms) else Lamp.AWAKE
