"""What only the keeper can answer, the morning after."""

import itertools
from dataclasses import dataclass

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.kiln import Switch
from spyhole.core.outcome import AlarmOutcome
from spyhole.core.report.energy import Span
from spyhole.core.report.story import Ending, Story


@dataclass(frozen=True, slots=True)
class Question:
    """tag: which question. subject: the ring, cone or turn it is about, else "". utc_ms: when."""

    tag: str
    subject: str = ""
    utc_ms: int | None = None


def questions(
    story: Story, end: Ending | None, spent: tuple[Span, ...], doubted: tuple[int, ...]
) -> tuple[Question, ...]:
    """spent: how the switches stood. doubted: sequences of cones that cannot be true."""
    asked: list[Question] = []
    if end is not None:
        seen = {entry.subject for at, entry in story.entries(EntryKind.CONE) if at >= end.utc_ms}
        unseen = [ring.name for ring in story.kiln.rings if ring.name not in seen]
        if unseen:
            asked.append(Question("witness", listed(unseen)))
        if end.how in ("seen", "curve"):
            asked.append(Question("ended-how", "", end.utc_ms))
        if end.how != "by hand" and not _switched_off(story, end.utc_ms):
            asked.append(Question("switched-off", "", end.utc_ms))
    asked += [
        Question("cone-doubted", entry.what.value, entry.utc_ms)
        for entry in story.happenings
        if isinstance(entry.what, Entry) and entry.sequence in doubted
    ]
    asked += _probes(story)
    asked += _turns(story, spent)
    if not any(entry.who for _, entry in story.entries(EntryKind.START)):
        asked.append(Question("lit-by"))
    return tuple(asked)


def listed(names: list[str]) -> str:
    """`bottom, middle and top`."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _switched_off(story: Story, end_utc_ms: int) -> bool:
    off = {
        entry.subject for at, entry in story.entries(EntryKind.SWITCH) if entry.value == Switch.OFF and at >= end_utc_ms
    }
    return off == {ring.name for ring in story.kiln.rings}


def _probes(story: Story) -> list[Question]:
    first: dict[str, Question] = {}
    for one in story.happenings:
        if isinstance(one.what, AlarmOutcome) and one.what.tag.startswith(("probe-", "chip-")) and one.what.ring:
            first.setdefault(one.what.ring, Question("probe", one.what.ring, one.utc_ms))
    return list(first.values())


def _turns(story: Story, spent: tuple[Span, ...]) -> list[Question]:
    """Turns that were taken from the plan or the curve: nobody wrote them down."""
    return [
        Question("turn", listed(_moved(story, before, after)), after.from_utc_ms)
        for before, after in itertools.pairwise(spent)
        if _moved(story, before, after)
    ]


def _moved(story: Story, before: Span, after: Span) -> list[str]:
    return [
        f"{ring.name} to {after.switches[i]}"
        for i, ring in enumerate(story.kiln.rings)
        if before.switches[i] != after.switches[i] and not after.logged[i]
    ]
