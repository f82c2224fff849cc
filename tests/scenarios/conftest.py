"""Whole firings without a daemon: Puffin headless, the real driver on emulated registers, the watch on each row."""

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from spyhole.core import watch
from spyhole.core.forms.entries_csv import check_entry
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.outcome import Action, AlarmOutcome, EstimateOutcome, Outcome, PromptOutcome
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.puffin import BUILD, KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal
from spyhole_hardware.probes import open_probes

LIT_UTC_MS = 1_951_155_600_000
"""2031-10-30T19:40:00Z."""

NIGHT_SECONDS = 30
LONGEST_HOURS = 60


@dataclass(slots=True)
class Firing:
    """What the watch said of one firing, in order. hours: how long it was watched."""

    outcomes: list[Outcome] = field(default_factory=list)
    hours: float = 0.0

    @property
    def raised(self) -> list[AlarmOutcome]:
        return [o for o in self.outcomes if isinstance(o, AlarmOutcome) and o.action is Action.RAISE]

    @property
    def tags(self) -> list[str]:
        return [alarm.tag for alarm in self.raised]

    @property
    def told(self) -> list[AlarmOutcome]:
        return [alarm for alarm in self.raised if alarm.tell]

    @property
    def prompts(self) -> list[str]:
        return [o.tag for o in self.outcomes if isinstance(o, PromptOutcome)]

    @property
    def estimates(self) -> list[EstimateOutcome]:
        return [o for o in self.outcomes if isinstance(o, EstimateOutcome)]


FireIt = Callable[..., Firing]


@pytest.fixture
def fire() -> FireIt:
    """`fire(trouble, seconds, until=(stage, hours))`: one firing of tonight's script, sampled each so many seconds.

    until: so many hours into this stage of the plan; None goes on until the ware is out. fine_from_stage: before this
    stage readings come each 30 s at most, which spares a night at 1 s.
    """
    return _fire


def _fire(trouble: str, seconds: int, *, until: tuple[int, float] | None = None, fine_from_stage: int = 0) -> Firing:
    firing = Firing()
    state, sequence = watch.begin(), 0

    def tell(told: Told) -> None:
        nonlocal state, sequence
        sequence += 1
        now = rehearsal.now()
        state, outcomes = watch.step(state, Row(KILN.name, sequence, now.boot, now.monotonic_ms, told))
        firing.outcomes += outcomes

    def write(kind: str, subject: str, value: str) -> None:
        tell(check_entry(kind, subject, value, "the keeper", KILN, TONIGHT.plan))

    rehearsal = Rehearsal(KILN, BUILD, TONIGHT, start_utc_ms=LIT_UTC_MS, trouble=trouble, log=write)
    channels = [Channel(ring.name, number) for number, ring in enumerate(KILN.rings)]
    probes = open_probes("emulated", channels, mains_hertz=50, averaging=4, junctions=rehearsal.junctions)
    tell(Clock(rehearsal.now().utc_ms, synchronised=True))
    tell(Settings(KILN, TONIGHT.plan))
    due_ms = clock_ms = 0
    while not _enough(rehearsal, until) and due_ms < LONGEST_HOURS * 3_600_000:
        rehearsal.wait_until(due_ms)
        if due_ms - clock_ms >= 600_000:
            clock_ms = due_ms
            tell(Clock(rehearsal.now().utc_ms, synchronised=True))
        tell(probes.read())
        fine = rehearsal.keeper.progress.stage >= fine_from_stage
        due_ms += seconds * 1000 if fine else max(seconds, NIGHT_SECONDS) * 1000
    firing.hours = due_ms / 3_600_000
    return firing


def _enough(rehearsal: Rehearsal, until: tuple[int, float] | None) -> bool:
    here = rehearsal.keeper.progress
    if until is None:
        return here.unloaded
    stage, hours = until
    return here.stage > stage or (here.stage == stage and rehearsal.kiln.ms - here.began_ms >= hours * 3_600_000)
