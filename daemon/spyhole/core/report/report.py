"""The report of a firing: every figure of it, worked out from its story alone. Sentences are made elsewhere."""

from dataclasses import dataclass
from datetime import UTC, tzinfo

from spyhole.core.entry import EntryKind
from spyhole.core.kiln import Switch
from spyhole.core.report import climbing
from spyhole.core.report.climbing import Above, Cooling, Evenness, Range
from spyhole.core.report.differences import Difference, Last, differences
from spyhole.core.report.energy import Energy, Span, between, energy_of, kwh_of, spans, with_currents
from spyhole.core.report.heatwork import Down, Work, down_of, work_of
from spyhole.core.report.questions import Question, questions
from spyhole.core.report.story import Ending, Story, ending
from spyhole.core.report.tariff import Tariff

STEADY_CELSIUS = 3.0
"""A reading this far above its minute's mean is a spike."""


@dataclass(frozen=True, slots=True)
class RingReport:
    """One ring. peak [degC]: the hottest of its hottest minute, that minute's mean where the readings jump; None
    without a probe. kwh: measured, else by its switch."""

    name: str
    probe: bool
    peak_celsius: float | None
    peak_utc_ms: int | None
    work: Work | None
    kwh: float


@dataclass(frozen=True, slots=True)
class StageReport:
    """One stage as it was. end_celsius: one a ring. planned_hours: None where the plan ends it otherwise."""

    name: str
    switches: tuple[Switch, ...]
    began_utc_ms: int
    ended_utc_ms: int
    planned_hours: float | None
    end_celsius: tuple[float | None, ...]
    kwh: float

    @property
    def hours(self) -> float:
        """How long it took."""
        return (self.ended_utc_ms - self.began_utc_ms) / 3_600_000


@dataclass(frozen=True, slots=True)
class Report:
    """All of it. ending None: the kiln is still heated, or nothing shows the end.

    reference: index of the ring whose cone decides. last: the firing it is compared with.
    """

    story: Story
    reference: int
    ending: Ending | None
    rings: tuple[RingReport, ...]
    stages: tuple[StageReport, ...]
    down: Down | None
    ranges: tuple[Range, ...]
    above: tuple[Above, ...]
    soak_minutes: float | None
    evenness: Evenness
    cooling: tuple[Cooling, ...]
    cooled: tuple[tuple[float, int | None], ...]
    spans: tuple[Span, ...]
    energy: Energy
    last: Last | None
    differences: tuple[Difference, ...]
    questions: tuple[Question, ...]

    @property
    def peak_celsius(self) -> float | None:
        """The hottest any ring was."""
        return max((ring.peak_celsius for ring in self.rings if ring.peak_celsius is not None), default=None)

    @property
    def heating_hours(self) -> float | None:
        """From lighting to the end of the heating."""
        return None if self.ending is None else (self.ending.utc_ms - self.story.started_utc_ms) / 3_600_000


def report_of(story: Story, tariff: Tariff | None = None, zone: tzinfo = UTC, before: "Report | None" = None) -> Report:
    """The report of this firing. before: that of the last firing like it. zone: of the tariff's clock."""
    end = ending(story)
    until = _until(story, end)
    spent = spans(story, until)
    paid = with_currents(spent, story.drawn)
    energy = energy_of(story, paid, tariff, zone)
    rings = tuple(_ring(story, index, energy.rings[index]) for index in range(len(story.kiln.rings)))
    reference = rings[story.reference]
    stages = _stages(story, until, paid)
    last = None if before is None else last_of(before)
    now = _last(story, end, rings, stages, energy)
    return Report(
        story=story,
        reference=story.reference,
        ending=end,
        rings=rings,
        stages=stages,
        down=down_of(story, reference.work),
        ranges=climbing.ranges(story),
        above=climbing.above(story),
        soak_minutes=climbing.soak_minutes(story),
        evenness=climbing.evenness(story, None if end is None else end.utc_ms),
        cooling=climbing.cooling(story, None if end is None else end.utc_ms),
        cooled=climbing.cooled(story, None if end is None else end.utc_ms),
        spans=spent,
        energy=energy,
        last=last,
        differences=() if last is None else differences(last, now),
        questions=questions(story, end, spent, _doubted(rings)),
    )


def last_of(report: Report) -> Last:
    """What a later firing is compared with."""
    return _last(report.story, report.ending, report.rings, report.stages, report.energy)


def _last(
    story: Story,
    end: Ending | None,
    rings: tuple[RingReport, ...],
    stages: tuple[StageReport, ...],
    energy: Energy,
) -> Last:
    work = rings[story.reference].work
    return Last(
        id=story.id,
        started_utc_ms=story.started_utc_ms,
        stages=tuple((stage.name, stage.hours) for stage in stages),
        heating_hours=None if end is None else (end.utc_ms - story.started_utc_ms) / 3_600_000,
        how=None if end is None else end.how,
        peak_celsius=max((ring.peak_celsius for ring in rings if ring.peak_celsius is not None), default=None),
        alpha=None if work is None else work.alpha,
        kwh=energy.kwh,
    )


def energy_alone(story: Story, tariff: Tariff | None, zone: tzinfo) -> Energy:
    """Only what a firing used and cost: as in its report, and quick enough for many."""
    spent = spans(story, _until(story, ending(story)))
    return energy_of(story, with_currents(spent, story.drawn), tariff, zone)


def _until(story: Story, end: Ending | None) -> int:
    if end is not None:
        return end.utc_ms
    return max((point.utc_ms + 30_000 for point in story.points), default=story.started_utc_ms)


def _ring(story: Story, index: int, kwh: float) -> RingReport:
    ring, seen = story.kiln.rings[index], story.minutes(index)
    peak_utc_ms = peak = None
    if seen and index not in story.lost:
        hottest = max(seen, key=lambda minute: minute.celsius)
        steady = hottest.highest - hottest.celsius <= STEADY_CELSIUS
        peak_utc_ms, peak = hottest.utc_ms, hottest.highest if steady else hottest.celsius
    return RingReport(ring.name, ring.probe is not None, peak, peak_utc_ms, work_of(story, index), kwh)


def _stages(story: Story, until: int, paid: tuple[Span, ...]) -> tuple[StageReport, ...]:
    """From the minutes, whose stage is what the watch believed; a logged turn says the instant better."""
    begins: list[tuple[str, int]] = [(story.plan.stages[0].name, story.started_utc_ms)]
    turns = [utc_ms for utc_ms, _ in story.entries(EntryKind.SWITCH)]
    for point in story.points:
        if point.stage and point.stage != begins[-1][0] and point.utc_ms < until:
            near = [utc_ms for utc_ms in turns if abs(utc_ms - point.utc_ms) < 150_000]
            begins.append((point.stage, max(near, default=point.utc_ms - 30_000)))
    meant = {stage.name: stage for stage in story.plan.stages}
    made = []
    for number, (name, began) in enumerate(begins):
        ended = begins[number + 1][1] if number + 1 < len(begins) else until
        if ended <= began or name not in meant:
            continue
        inside = [point for point in story.points if began <= point.utc_ms <= ended]
        stretch = between(paid, began, ended)
        made.append(
            StageReport(
                name=name,
                switches=stretch[-1].switches if stretch else meant[name].switches,
                began_utc_ms=began,
                ended_utc_ms=ended,
                planned_hours=meant[name].hours,
                end_celsius=inside[-1].celsius if inside else (),
                kwh=sum(kwh_of(story.kiln, stretch)),
            )
        )
    return tuple(made)


def _doubted(rings: tuple[RingReport, ...]) -> tuple[int, ...]:
    return tuple(sequence for ring in rings if ring.work is not None for sequence in ring.work.doubted)
