"""Whole firings without a daemon: Puffin headless, the real driver on emulated registers, the watch on each row, and
the messages that are due with it.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import pytest

from spyhole.core.forms.entries_csv import check_entry
from spyhole.core.journal import Clock, InReach, Row, Settings, Told, WatchTaken
from spyhole.core.outcome import Action, AlarmOutcome, EstimateOutcome, Outcome, PromptOutcome
from spyhole.core.words import Manner
from spyhole.services.archive import Message
from spyhole.services.digest import subject_of
from spyhole.services.keeping import begin, keep
from spyhole.services.outbox import Outbox
from spyhole.services.people import Channel, People, Role
from spyhole.services.studio import Studio
from spyhole_hardware.bus import Channel as Wire
from spyhole_hardware.emulated.puffin import BUILD, KILN, TONIGHT
from spyhole_hardware.emulated.rehearsal import Rehearsal
from spyhole_hardware.probes import open_sensors

LIT_UTC_MS = 1_951_155_600_000
"""2031-10-30T19:40:00Z."""

NIGHT_SECONDS = 30
LONGEST_HOURS = 60
ANSWERED_MS = 120_000

WREN, INES = "Wren", "Ines"
WAY = Channel("phone", "json://nowhere")


@dataclass(slots=True)
class Firing:
    """What the watch said of one firing, in order. hours: how long it was watched. messages: to the one who is told."""

    outcomes: list[Outcome] = field(default_factory=list)
    hours: float = 0.0
    messages: list[Message] = field(default_factory=list)

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

    def told_of(self, subjects: str) -> list[str]:
        """What was sent of each episode (`a`) or prompt (`p`): one title each, however often it was told."""
        first = {subject_of(message): message for message in reversed(self.messages)}
        return [message.title for subject, message in reversed(first.items()) if subject.startswith(subjects)]

    @property
    def estimates(self) -> list[EstimateOutcome]:
        return [o for o in self.outcomes if isinstance(o, EstimateOutcome)]


FireIt = Callable[..., Firing]


@pytest.fixture
def fire() -> FireIt:
    """`fire(trouble, seconds, until=(stage, hours))`: one firing of tonight's script, sampled each so many seconds.

    until: so many hours into this stage of the plan; None goes on until the ware is out. fine_from_stage: before this
    stage readings come each 30 s at most, which spares a night at 1 s. holder: who holds the watch, and answers
    two minutes after being asked.
    """
    return _fire


def _fire(
    trouble: str, seconds: int, *, until: tuple[int, float] | None = None, fine_from_stage: int = 0, holder: str = ""
) -> Firing:
    firing = Firing()
    keeping, sequence = begin(), 0
    people = People().add(WREN, Role.KEEPER).with_channel(WREN, WAY).add(INES, Role.KEEPER).with_channel(INES, WAY)
    outbox, studio = Outbox(lambda: people), Studio(KILN, TONIGHT.plan, "", "", Manner(), seconds)

    def tell(told: Told) -> None:
        nonlocal keeping, sequence
        sequence += 1
        now = rehearsal.now()
        keeping, kept = keep(keeping, Row(KILN.name, sequence, now.boot, now.monotonic_ms, told))
        firing.outcomes += kept.outcomes
        due = outbox.draw(keeping, studio, now)
        outbox.posted(due)
        firing.messages += [one for one in due if one.recipient.startswith(WREN)]

    def write(kind: str, subject: str, value: str) -> None:
        tell(check_entry(kind, subject, value, "the keeper", KILN, TONIGHT.plan))

    rehearsal = Rehearsal(KILN, BUILD, TONIGHT, start_utc_ms=LIT_UTC_MS, trouble=trouble, log=write)
    channels = [Wire(ring.name, number) for number, ring in enumerate(KILN.rings)]
    probes, _ = open_sensors("emulated", channels, None, mains_hertz=50, averaging=4, junctions=rehearsal.junctions)
    tell(Clock(rehearsal.now().utc_ms, synchronised=True))
    tell(Settings(KILN, TONIGHT.plan))
    if holder:
        tell(WatchTaken(holder))
    due_ms = clock_ms = 0
    while not _enough(rehearsal, until) and due_ms < LONGEST_HOURS * 3_600_000:
        rehearsal.wait_until(due_ms)
        if due_ms - clock_ms >= 600_000:
            clock_ms = due_ms
            tell(Clock(rehearsal.now().utc_ms, synchronised=True))
        tell(probes.read())
        duty = keeping.state.duty
        if duty.asked is not None and keeping.state.line.now_ms - duty.asked.since_ms >= ANSWERED_MS:
            tell(InReach(holder))
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
