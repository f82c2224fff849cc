"""The same firings with less to go by: nothing written down but the start, or one probe of all.

The readings are the very ones of the whole firing, so that nothing but what is known differs.
"""

from dataclasses import replace

from family import Case
from hearth import Fired
from kinds import TROUBLES

from spyhole.core.entry import EntryKind

NEED_ENTRIES = ("timer-short",)
"""A backup timer wound too short is known by its entry alone."""


def without_entries(case: Case, fired: Fired) -> tuple[Case, Fired]:
    """The keeper says that it is lit, and never another word."""
    start = [(at, entry) for at, entry in fired.entries if entry.kind is EntryKind.START]
    return replace(case, logs="none"), replace(fired, entries=start)


def with_one_probe(case: Case, fired: Fired) -> tuple[Case, Fired]:
    """The probe in trouble, or else the one that decides about the cone; what others saw last time is unknown."""
    trouble = TROUBLES.get(case.kind)
    sick = trouble is not None and trouble.where == "sick"
    kept = len(fired.steps) // 2 if sick else case.kiln.probe_nearest(case.plan.reference_ring)
    here = case.kiln.probe_rings[kept]
    rings = tuple(ring if i == here else replace(ring, probe=None) for i, ring in enumerate(case.kiln.rings))
    stages = tuple(
        stage
        if stage.expected_end_celsius is None
        else replace(
            stage,
            expected_end_celsius=tuple(c if i == here else None for i, c in enumerate(stage.expected_end_celsius)),
        )
        for stage in case.plan.stages
    )
    case = replace(
        case, kiln=replace(case.kiln, rings=rings), plan=replace(case.plan, stages=stages),
        probe_near=[case.probe_near[kept]],
    )  # fmt: skip
    return case, replace(fired, steps=[fired.steps[kept]])
