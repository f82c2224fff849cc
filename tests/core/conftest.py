"""Puffin's firings as journal rows, each made once: the watch is tested on what a kiln does, not on invented ramps."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import pytest

from spyhole.core import watch
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.outcome import Action, AlarmOutcome, EstimateOutcome, Outcome, PromptOutcome
from spyhole.core.state import State
from spyhole_hardware.emulated import puffin
from spyhole_hardware.emulated.firing import fire
from spyhole_hardware.emulated.rehearsal import Rehearsal

LIT_UTC_MS = 1_951_155_660_000  # 2031-10-30 in the evening, Tern Street


@dataclass(frozen=True)
class Fired:
    """One firing: its rows, and what the watch made of them."""

    rows: tuple[Row, ...]
    outcomes: tuple[Outcome, ...]
    state: State

    @property
    def raised(self) -> list[AlarmOutcome]:
        return [o for o in self.outcomes if isinstance(o, AlarmOutcome) and o.action is Action.RAISE]

    @property
    def tags(self) -> list[str]:
        return [o.tag for o in self.raised]

    @property
    def told(self) -> list[str]:
        return [o.tag for o in self.raised if o.tell]

    @property
    def prompts(self) -> list[PromptOutcome]:
        return [o for o in self.outcomes if isinstance(o, PromptOutcome)]

    @property
    def estimates(self) -> list[EstimateOutcome]:
        return [o for o in self.outcomes if isinstance(o, EstimateOutcome)]


def fold(rows: tuple[Row, ...]) -> tuple[State, tuple[Outcome, ...]]:
    """The watch over these rows."""
    state, outcomes = watch.begin(), []
    for row in rows:
        state, concluded = watch.step(state, row)
        outcomes += concluded
    return state, tuple(outcomes)


@cache
def _fired(trouble: str, every_seconds: int, entries: bool) -> Fired:
    notes: list[tuple[str, str, str]] = []
    rehearsal = Rehearsal(
        puffin.KILN,
        puffin.BUILD,
        puffin.TONIGHT,
        start_utc_ms=LIT_UTC_MS,
        trouble=trouble,
        log=lambda kind, subject, value: notes.append((kind, subject, value)),
    )
    rows: list[Row] = []

    def tell(told: Told) -> None:
        moment = rehearsal.now()
        rows.append(Row("Puffin", len(rows) + 1, moment.boot, moment.monotonic_ms, told))

    tell(Clock(LIT_UTC_MS, True))
    tell(Settings(puffin.KILN, puffin.TONIGHT.plan))
    for _, reading in fire(rehearsal, every_seconds):
        for kind, subject, value in notes:
            if entries or kind == "start":
                tell(Entry(EntryKind(kind), subject, value, "keeper"))
        notes.clear()
        tell(reading)
    state, outcomes = fold(tuple(rows))
    return Fired(tuple(rows), outcomes, state)


@pytest.fixture(scope="session")
def fired() -> Callable[..., Fired]:
    """fired(trouble, every_seconds=30, entries=True)."""

    def make(trouble: str, every_seconds: int = 30, *, entries: bool = True) -> Fired:
        return _fired(trouble, every_seconds, entries)

    return make
