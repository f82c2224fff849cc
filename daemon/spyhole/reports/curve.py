"""The curve of a firing on paper: rings by dash and name, the ceiling as a hem, inversions as courses of brick, stages
along the foot, entries as marks on the axis and alarms as flags."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from spyhole.core.outcome import Action, AlarmOutcome
from spyhole.core.report import sentences
from spyhole.core.report.report import Report
from spyhole.core.words import Manner
from spyhole.reports.paper import ACCENT, COURSE, HEM, INK, JOINT, LINE, SOFT, WHITE, Face, Pen

DASHES: tuple[tuple[float, ...], ...] = ((), (2.6, 1.1), (0.6, 0.9), (2.6, 0.8, 0.6, 0.8))
INVERSIONS = ((573.0, "quartz"), (226.0, "cristobalite"))
GAP_MS = 300_000
SMALL = Face(6.5, tone=SOFT)
LABEL = Face(7.0)
AFTER_HOURS = 3.0
FOOT = 9.0


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the curve stands on the page [mm], and what it spans."""

    x: float
    y: float
    width: float
    height: float
    from_ms: int
    to_ms: int
    top_celsius: float

    def at(self, utc_ms: float) -> float:
        """Where this instant is."""
        share = (utc_ms - self.from_ms) / max(1, self.to_ms - self.from_ms)
        return self.x + self.width * min(1.0, max(0.0, share))

    def level(self, celsius: float) -> float:
        """How high this temperature is."""
        return self.y + self.height * (1.0 - min(1.0, max(0.0, celsius / self.top_celsius)))


def frame(report: Report, place: tuple[float, float, float, float], *, whole: bool) -> Frame:
    """whole: cooling too; else from lighting until some hours after the end of the heating."""
    points = report.story.points
    first = report.story.started_utc_ms
    last = max((p.utc_ms for p in points), default=first + 3_600_000)
    if not whole and report.ending is not None:
        last = min(last, report.ending.utc_ms + round(AFTER_HOURS * 3_600_000))
    inside = [p for p in points if p.utc_ms <= last]
    tops = [c for p in inside for c in (*p.highest, p.ceiling_celsius) if c is not None]
    top = max(200.0, max(tops, default=200.0) * 1.06)
    return Frame(*place, first, max(last, first + 60_000), top)


def draw(pen: Pen, report: Report, here: Frame, manner: Manner) -> None:
    """The whole picture."""
    _grid(pen, here, manner)
    _courses(pen, here, manner)
    _stages(pen, report, here)
    _ceiling(pen, report, here)
    _expected(pen, report, here)
    _rings(pen, report, here)
    _marks(pen, report, here)
    _ends(pen, report, here, manner)


def _courses(pen: Pen, here: Frame, manner: Manner) -> None:
    for celsius, name in INVERSIONS:
        if celsius < here.top_celsius:
            y = here.level(celsius)
            pen.box(here.x, y - 1.4, here.width, 2.8, COURSE)
            pen.text(here.x + 1, y + 0.8, f"{name} {sentences.degrees(celsius, manner)}", SMALL)


def _grid(pen: Pen, here: Frame, manner: Manner) -> None:
    fahrenheit = manner.unit == "degF"
    shown = 0
    step = 400 if fahrenheit else 200
    top = here.top_celsius * 1.8 + 32 if fahrenheit else here.top_celsius
    while shown <= top:
        celsius = (shown - 32) / 1.8 if fahrenheit else float(shown)
        if celsius >= 0.0:
            y = here.level(celsius)
            pen.line([(here.x, y), (here.x + here.width, y)], LINE, 0.12)
            pen.text(here.x - 1.2, y + 0.8, str(shown), SMALL, "right")
        shown += step
    pen.text(here.x - 1.2, here.y - 1.6, manner.unit.replace("deg", "°"), SMALL, "right")
    hours = (here.to_ms - here.from_ms) / 3_600_000
    every = next(n for n in (1, 2, 3, 4, 6, 12, 24, 48, 168) if hours / n <= 13)
    local = datetime.fromtimestamp(here.from_ms / 1000, manner.zone).replace(minute=0, second=0, microsecond=0)
    foot = here.y + here.height
    for _ in range(int(hours) + 2):
        local = datetime.fromtimestamp(local.timestamp(), manner.zone) + timedelta(hours=1)
        ms = local.timestamp() * 1000
        if local.hour % min(every, 24) or not here.from_ms <= ms <= here.to_ms:
            continue
        x = here.at(ms)
        pen.line([(x, foot), (x, foot + 1.0)], SOFT, 0.15)
        pen.text(x, foot + 3.6, f"{local:%H:%M}", SMALL, "middle")
    pen.line([(here.x, foot), (here.x + here.width, foot)], SOFT, 0.2)


def _stages(pen: Pen, report: Report, here: Frame) -> None:
    top = here.y + here.height + 4.8
    for number, stage in enumerate(report.stages):
        left, right = here.at(stage.began_utc_ms), here.at(stage.ended_utc_ms)
        if right - left < 0.3:
            continue
        pen.box(left, top, right - left, 3.8, COURSE if number % 2 else JOINT)
        if SMALL.wide(stage.name) < right - left - 1:
            pen.text((left + right) / 2, top + 2.7, stage.name, Face(6.5), "middle")
        if number:
            pen.line([(left, here.y), (left, top)], LINE, 0.15, (0.5, 0.8))


def _ceiling(pen: Pen, report: Report, here: Frame) -> None:
    end = report.ending.utc_ms if report.ending is not None else here.to_ms
    hem: list[tuple[float, float]] = []
    for point in report.story.points:
        if point.ceiling_celsius is None or point.utc_ms > min(end, here.to_ms):
            continue
        here_now = here.at(point.utc_ms), here.level(point.ceiling_celsius)
        if hem and abs(hem[-1][1] - here_now[1]) > 0.01:
            hem.append((here_now[0], hem[-1][1]))
        hem.append(here_now)
    pen.line(hem, HEM, 0.35, (1.2, 0.7))
    if hem:
        pen.text(hem[0][0] + 34, hem[0][1] - 1.0, "no hotter than this", Face(6.5, tone=HEM))


def _rings(pen: Pen, report: Report, here: Frame) -> None:
    """A gap in the readings is a gap in the line."""
    for index in range(len(report.rings)):
        dash = _dash(report, index)
        piece: list[tuple[float, float]] = []
        before: int | None = None
        for at, celsius in report.story.seen(index):
            if not here.from_ms <= at <= here.to_ms:
                continue
            if before is not None and at - before > GAP_MS:
                pen.line(piece, INK, 0.4, dash)
                piece = []
            piece.append((here.at(at), here.level(celsius)))
            before = at
        pen.line(piece, INK, 0.4, dash)
    _legend(pen, report, here)


def _dash(report: Report, index: int) -> tuple[float, ...]:
    """Counted from the top ring, as on the page, so that a ring looks alike on both."""
    return DASHES[(len(report.rings) - 1 - index) % len(DASHES)]


def _expected(pen: Pen, report: Report, here: Frame) -> None:
    """Where the deciding ring stood at the end of each stage of the last good firing, as the plan has it."""
    at = float(here.from_ms)
    marks: list[tuple[float, float]] = []
    for stage in report.story.plan.stages:
        reached = stage.expected_end_celsius[report.reference] if stage.expected_end_celsius else None
        if stage.expected_hours is None or reached is None:
            break
        at += stage.expected_hours * 3_600_000
        if at > here.to_ms:
            break
        marks.append((here.at(at), here.level(reached)))
    pen.line(marks, HEM, 0.25, (0.4, 0.9))
    for x, y in marks:
        pen.shape([(x - 0.9, y - 0.9), (x + 0.9, y - 0.9), (x + 0.9, y + 0.9), (x - 0.9, y + 0.9)], WHITE, HEM, 0.3)
    if marks:
        x, y = marks[-1]
        pen.text(x - 1.8, y - 1.6, "last good firing", Face(6.5, tone=HEM), "right")


def _legend(pen: Pen, report: Report, here: Frame) -> None:
    """Above the picture, where nothing else is."""
    x, y = here.x, here.y - 5.6
    for index, ring in reversed(list(enumerate(report.rings))):
        if not report.story.seen(index):
            continue
        pen.line([(x, y - 0.8), (x + 9, y - 0.8)], INK, 0.4, _dash(report, index))
        pen.text(x + 10.5, y, ring.name, LABEL)
        x += 15.0 + LABEL.wide(ring.name)


def _marks(pen: Pen, report: Report, here: Frame) -> None:
    foot = here.y + here.height
    for one in report.story.happenings:
        if not here.from_ms <= one.utc_ms <= here.to_ms:
            continue
        x = here.at(one.utc_ms)
        if sentences.kind(one) == "entry":
            pen.line([(x, foot), (x, foot - 1.8)], ACCENT, 0.3)
        elif isinstance(one.what, AlarmOutcome) and one.what.action is Action.RAISE:
            pen.line([(x, foot), (x, here.y + 2)], INK, 0.2)
            pen.shape([(x, here.y + 2), (x + 3, here.y + 3.2), (x, here.y + 4.4)], INK)


def _ends(pen: Pen, report: Report, here: Frame, manner: Manner) -> None:
    ring = report.rings[report.reference]
    if report.down is not None and report.down.utc_ms <= here.to_ms:
        x = here.at(report.down.utc_ms)
        pen.line([(x, here.y - 0.5), (x, here.y + here.height)], SOFT, 0.2, (0.8, 0.8))
        words = f"cone {report.story.plan.cone} down {manner.clock(report.down.utc_ms)}"
        pen.text(x - 1, here.y - 1.6, words, LABEL, "right")
    if report.ending is not None:
        x = here.at(report.ending.utc_ms)
        pen.line([(x, here.y - 0.5), (x, here.y + here.height)], INK, 0.25)
        pen.text(x + 1, here.y - 1.6, f"heating ended {manner.clock(report.ending.utc_ms)}", LABEL)
    if ring.peak_celsius is not None and ring.peak_utc_ms is not None and ring.peak_utc_ms <= here.to_ms:
        x, y = here.at(ring.peak_utc_ms), here.level(ring.peak_celsius)
        pen.shape([(x - 0.7, y), (x, y - 0.7), (x + 0.7, y), (x, y + 0.7)], WHITE, INK, 0.25)
