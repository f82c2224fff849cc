"""What the services keep beside the watch: the minute under way, the line of the kiln book, how often an episode told.

A pure fold around `core.watch.step`, so that a recovery makes the same minutes, summaries and message keys again.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from spyhole.core import watch
from spyhole.core.duty import IN_REACH, NO_ANSWER
from spyhole.core.journal import Clock, Row
from spyhole.core.kiln import Kiln
from spyhole.core.outcome import Action, AlarmOutcome, EstimateOutcome, Outcome, PromptOutcome
from spyhole.core.quick import changed
from spyhole.core.reading import Reading
from spyhole.core.state import State
from spyhole.core.timeline import correction
from spyhole.services.archive import Minute, RingMinute
from spyhole.services.desk import FiringSummary
from spyhole.services.escalation import MINUTE_MS, NOTICES

SUMMARY_MINUTES = 10
WARM_CELSIUS = 50.0
"""A ring this warm is kept by the minute without a firing too; a cold kiln between firings is not. Common practice has
the kiln unloaded below it, no source."""
TURN_DUE, TURN_NEAR = "turn-due", "turn-near"
OVERDUE_MS = 10 * 60_000
"""Whoever answered the question before a turn knows of it, and is told again only when it was not made by then."""
EPISODES_COUNTED = 60
"""Episodes whose messages are counted; an older one has long been over."""


class Tally(NamedTuple):
    """One ring's readings in the minute under way [degC], offset applied. A tuple: three are made at every reading."""

    readings: int
    total: float
    lowest: float
    highest: float


@dataclass(frozen=True, slots=True)
class Episode:
    """What was last told of an episode, how often it was told afresh before, and when on the axis."""

    id: str
    number: int
    since_ms: int
    outcome: AlarmOutcome


@dataclass(frozen=True, slots=True)
class Said:
    """A prompt that is worth a message, from then until then on the axis. sequence: of the row it came of."""

    sequence: int
    until_ms: int
    outcome: PromptOutcome
    from_ms: int = 0

    @property
    def to_keepers(self) -> bool:
        """Whether other keepers are told too, since whoever holds the watch has not answered."""
        return dict(self.outcome.facts).get("answer") == NO_ANSWER


@dataclass(frozen=True, slots=True)
class Keeping:
    """The watch's state and ours.

    summary: the line of the kiln book as it was last given to the record. progress: of the firing cone, as last
    estimated. minute: of the watch's own axis, the one that `tallies` (one a ring) is of.
    """

    state: State
    summary: FiringSummary | None = None
    alarms: int = 0
    progress: float | None = None
    ceiling_celsius: float | None = None
    minute: int = 0
    tallies: tuple[Tally | None, ...] = ()
    told: tuple[Episode, ...] = ()
    said: tuple[Said, ...] = ()


@dataclass(frozen=True, slots=True)
class Kept:
    """What one row made. summary: where changed.

    minute_over: a minute has ended with this row, whether or not it is one to keep.
    """

    outcomes: tuple[Outcome, ...] = ()
    minute: Minute | None = None
    summary: FiringSummary | None = None
    minute_over: bool = False


def begin() -> Keeping:
    """Before the first row."""
    return Keeping(watch.begin())


def keep(keeping: Keeping, row: Row) -> tuple[Keeping, Kept]:
    """Fold one row."""
    state, outcomes = watch.step(keeping.state, row)
    kiln = state.kiln
    tallies, minute_number, minute, over = keeping.tallies, keeping.minute, None, False
    summary_before = keeping.summary
    if isinstance(row.told, Clock) and summary_before is not None and summary_before.ended_utc_ms is not None:
        found = correction(keeping.state.line, state.line)
        if found is not None:
            summary_before = replace(summary_before, ended_utc_ms=found.of(summary_before.ended_utc_ms))
    if isinstance(row.told, Reading) and kiln is not None:
        now = state.line.now_ms // 60_000
        if now != minute_number or len(tallies) != len(kiln.rings):
            minute, over = _close(keeping, row), True
            tallies, minute_number = (None,) * len(kiln.rings), now
        tallies = _count(tallies, kiln, row.told)
        if not outcomes and not over:
            return Keeping(
                state, keeping.summary, keeping.alarms, keeping.progress, keeping.ceiling_celsius, minute_number,
                tallies, keeping.told, keeping.said,
            ), Kept()  # fmt: skip
    alarms, progress, ceiling, told = keeping.alarms, keeping.progress, keeping.ceiling_celsius, keeping.told
    if state.firing is None or keeping.summary is None or state.firing.id != keeping.summary.id:
        alarms, progress, ceiling = 0, None, None
    for outcome in outcomes:
        if isinstance(outcome, EstimateOutcome):
            progress, ceiling = outcome.cone_progress, outcome.ceiling_celsius
        elif isinstance(outcome, AlarmOutcome) and outcome.action is Action.RAISE:
            before = next((one for one in told if one.id == outcome.episode), None)
            alarms += before is None
            if before is None or outcome.tell:
                number = 0 if before is None else before.number + 1
                now_told = Episode(outcome.episode, number, state.line.now_ms, outcome)
                told = (*(one for one in told if one is not before), now_told)[-EPISODES_COUNTED:]
    summary = _summary(state, alarms, progress, summary_before)
    line = summary if summary is not None and _worth_a_line(keeping.summary, summary, minute_number) else None
    said = _said(keeping, state, outcomes)
    keeping = Keeping(state, line or keeping.summary, alarms, progress, ceiling, minute_number, tallies, told, said)
    return keeping, Kept(outcomes, minute, line, over)


def joins(keeping: Keeping, row: Row) -> bool:
    """Whether this row only joins the bin and the minute under way, and nothing is concluded from it yet."""
    state = keeping.state
    if not watch.joins(state, row) or state.kiln is None or len(keeping.tallies) != len(state.kiln.rings):
        return False
    return (row.monotonic_ms + state.line.axis_offset_ms) // 60_000 == keeping.minute


def join(keeping: Keeping, rows: Sequence[Row]) -> Keeping:
    """The same as by `keep` row by row, for rows of which each `joins` this one: most of a long record, read again."""
    kiln, tallies = keeping.state.kiln, keeping.tallies
    for row in rows:
        if kiln is not None and isinstance(row.told, Reading):
            tallies = _count(tallies, kiln, row.told)
    return changed(keeping, state=watch.join(keeping.state, rows), tallies=tallies)


def _said(keeping: Keeping, state: State, outcomes: tuple[Outcome, ...]) -> tuple[Said, ...]:
    """What is still worth a message: no longer a turn that was made, nor anything out of date."""
    now_ms, firing, before = state.line.now_ms, state.firing, keeping.state.firing
    turned = firing is None or before is None or firing.stage != before.stage or firing.off
    over = (TURN_DUE, TURN_NEAR) if turned else ()
    kept = tuple(one for one in keeping.said if now_ms < one.until_ms and one.outcome.tag not in over)
    return (*kept, *said_of(state, outcomes))


def said_of(state: State, outcomes: tuple[Outcome, ...]) -> tuple[Said, ...]:
    """What of these is worth a message, and from when on."""
    now_ms = state.line.now_ms
    return tuple(
        Said(state.sequence, now_ms + round(NOTICES[outcome.tag] * MINUTE_MS), outcome, now_ms + _wait_ms(outcome))
        for outcome in outcomes
        if isinstance(outcome, PromptOutcome) and outcome.tag in NOTICES
    )


def _wait_ms(outcome: PromptOutcome) -> int:
    return OVERDUE_MS if dict(outcome.facts).get("answer") == IN_REACH else 0


def line_of_the_book(keeping: Keeping) -> FiringSummary | None:
    """The line of the firing under way or the last one, as it is now."""
    return _summary(keeping.state, keeping.alarms, keeping.progress, keeping.summary)


def _summary(state: State, alarms: int, progress: float | None, before: FiringSummary | None) -> FiringSummary | None:
    firing = state.firing
    if firing is None:
        return None
    ended = before.ended_utc_ms if before is not None and before.id == firing.id else None
    return FiringSummary(
        id=firing.id,
        plan=firing.plan.name,
        cone=firing.plan.cone,
        started_utc_ms=firing.started_utc_ms,
        ended_utc_ms=ended or (state.line.utc_ms if firing.ended else None),
        tripped_utc_ms=firing.off_utc_ms if firing.tripped else None,
        peak_celsius=round(max(firing.peaks), 1),
        cone_progress=None if progress is None else round(progress, 3),
        alarms=alarms,
    )


def _worth_a_line(before: FiringSummary | None, now: FiringSummary, minute: int) -> bool:
    """At once whatever a person would notice in the kiln book; peak and progress, which creep, now and then."""
    if before is None or minute % SUMMARY_MINUTES == 0:
        return now != before
    return now != replace(before, peak_celsius=now.peak_celsius, cone_progress=now.cone_progress)


def _count(tallies: tuple[Tally | None, ...], kiln: Kiln, reading: Reading) -> tuple[Tally | None, ...]:
    counted = list(tallies)
    looked_at = [(ring, one.probe.offset_celsius) for ring, one in enumerate(kiln.rings) if one.probe is not None]
    for (ring, offset_celsius), probe in zip(looked_at, reading.probes, strict=False):
        if probe.celsius is None:
            continue
        celsius = probe.celsius + offset_celsius
        old = counted[ring]
        if old is None:
            counted[ring] = Tally(1, celsius, celsius, celsius)
        else:
            lowest, highest = old.lowest, old.highest
            counted[ring] = Tally(
                old.readings + 1,
                old.total + celsius,
                celsius if celsius < lowest else lowest,
                celsius if celsius > highest else highest,
            )
    return tuple(counted)


def _close(keeping: Keeping, row: Row) -> Minute | None:
    firing = keeping.state.firing
    warm = any(tally is not None and tally.highest >= WARM_CELSIUS for tally in keeping.tallies)
    under_way = firing is not None and not firing.ended
    if not any(keeping.tallies) or not (under_way or warm):
        return None
    return Minute(
        kiln=row.kiln,
        firing=0 if firing is None else firing.id,
        sequence=row.sequence,
        boot=row.boot,
        monotonic_ms=row.monotonic_ms,
        stage="" if firing is None else firing.now_stage.name,
        ceiling_celsius=keeping.ceiling_celsius,
        rings=tuple(
            None if t is None else RingMinute(t.lowest, t.total / t.readings, t.highest) for t in keeping.tallies
        ),
    )
