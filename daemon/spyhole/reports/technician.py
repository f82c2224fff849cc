"""The pages for a technician: every figure in tables, what happened line by line, and what cannot be known."""

from collections.abc import Sequence

from spyhole.core.report import sentences
from spyhole.core.report.climbing import SOAK_CELSIUS
from spyhole.core.report.report import Report
from spyhole.core.words import Manner
from spyhole.reports import curve
from spyhole.reports.paper import ACCENT, HEIGHT, LINE, SOFT, WIDTH, Face, Pen

GUTTER = 6.0
COLUMN = (WIDTH - GUTTER) / 2
HEADING = Face(9.0, bold=True, tone=ACCENT)
CELL = Face(7.6)
STRONG = Face(7.6, bold=True)
SMALL = Face(7.0, tone=SOFT)
ROW = 3.9
FOOT = 4.0


class Flow:
    """Two columns, page after page."""

    def __init__(self, pen: Pen, head: str) -> None:
        self._pen = pen
        self._head = head
        self.column = 0
        self._begin_page()

    def _begin_page(self, tall: float = 0.0) -> None:
        self._pen.text(0, 4, self._head, Face(11, bold=True))
        self._pen.text(WIDTH, 4, f"page {self._pen.pages}", SMALL, "right")
        self._pen.line([(0, 6), (WIDTH, 6)], LINE)
        self.top = 8.0 + tall
        self.y = self.top

    @property
    def x(self) -> float:
        """Where the column begins."""
        return self.column * (COLUMN + GUTTER)

    def reserve(self, tall: float) -> float:
        """Keep so much of the page, over both columns; returns where it begins."""
        before = self.y
        self.top = self.y = before + tall
        return before

    def room(self, tall: float) -> None:
        """Go on in the next column, or page, where there is not so much left."""
        if self.y + tall <= HEIGHT - FOOT:
            return
        if self.column == 0:
            self.column, self.y = 1, self.top
        else:
            self._pen.turn_page()
            self.column = 0
            self._begin_page()

    def heading(self, words: str, following: float = 2 * ROW) -> None:
        """A heading that does not stand alone at the foot of a column."""
        self.room(following + 6)
        self.y = self._pen.paragraph(self.x, self.y + 1.5, COLUMN, words, HEADING) + 0.6

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float]) -> None:
        """Rows with their heads; the first column to the left, the others to the right. shares: of the width."""
        edges = [COLUMN * sum(shares[: n + 1]) / sum(shares) for n in range(len(shares))]
        widths = [edge - (edges[n - 1] if n else 0.0) - 1.2 for n, edge in enumerate(edges)]
        self._row(heads, edges, widths, SMALL)
        self._pen.line([(self.x, self.y), (self.x + COLUMN, self.y)], LINE)
        for row in rows:
            self._row(row, edges, widths, CELL)

    def _row(self, cells: Sequence[str], edges: Sequence[float], widths: Sequence[float], face: Face) -> None:
        lines = [face.wrapped(cell, widths[n]) for n, cell in enumerate(cells)]
        tall = max(map(len, lines)) * face.line + 0.5
        self.room(tall)
        for n, cell in enumerate(lines):
            for number, line in enumerate(cell):
                y = self.y + (number + 0.78) * face.line
                if n == 0:
                    self._pen.text(self.x, y, line, face)
                else:
                    self._pen.text(self.x + edges[n], y, line, face, "right")
        self.y += tall

    def lines(self, said: Sequence[str], face: Face = CELL) -> None:
        """Sentences, one under the other."""
        for one in said:
            self.room(len(face.wrapped(one, COLUMN)) * face.line)
            self.y = self._pen.paragraph(self.x, self.y, COLUMN, one, face)

    def noted(self, left: str, words: str, strong: bool) -> None:
        """A time, and what happened then."""
        face = STRONG if strong else CELL
        lines = face.wrapped(words, COLUMN - 19)
        self.room(len(lines) * face.line + 0.3)
        self._pen.text(self.x, self.y + 0.78 * face.line, left, SMALL)
        self.y = self._pen.paragraph(self.x + 19, self.y, COLUMN - 19, words, face) + 0.3


def draw(pen: Pen, report: Report, manner: Manner) -> None:
    """All of it; a long story goes on overleaf."""
    story = report.story
    lit = sentences.short_day(story.started_utc_ms, manner)
    flow = Flow(pen, f"{story.kiln.name}, {lit}, cone {story.plan.cone}: for the technician")
    top = flow.reserve(61)
    curve.draw(pen, report, curve.frame(report, (11, top + 9, WIDTH - 12, 40), whole=True), manner)
    names = [ring.name for ring in report.rings]
    shares = (2.2, *(1.0 for _ in names))
    _heat_work(flow, report)
    _stages(flow, report, manner)
    _climbs(flow, report, manner, names, shares)
    _above(flow, report, manner, names, shares)
    _evenness(flow, report, manner)
    _cooling(flow, report, manner)
    _energy(flow, report)
    _differences(flow, report, manner)
    _questions(flow, report, manner)
    flow.heading("What cannot be known")
    flow.lines(sentences.unknown(report))
    _happened(flow, report, manner)


def _heat_work(flow: Flow, report: Report) -> None:
    rows = []
    for ring in reversed(report.rings):
        work = ring.work
        if work is None:
            rows.append((ring.name, "-", "-", "-", sentences.ring_work(work, ring.probe)))
            continue
        offset = "-" if work.offset is None else f"{work.offset.value:+.1f} ± {work.offset.deviation:.1f}"
        said = sentences.ring_work(work, ring.probe)
        rows.append((ring.name, f"{work.alpha:.3f}", f"{work.low:.2f}-{work.high:.2f}", offset, said))
    flow.heading(f"Heat work of cone {report.story.plan.cone} (1 is down)")
    flow.table(("ring", "is", "80 %", "probe [°C]", "as cones"), rows, (1.2, 0.8, 1.3, 1.5, 2.9))
    flow.lines(("Probe: what the cones that were seen say has to be added to it.",), SMALL)


def _stages(flow: Flow, report: Report, manner: Manner) -> None:
    rows = [
        (
            stage.name,
            manner.clock(stage.began_utc_ms),
            sentences.hours_words(stage.hours),
            "-" if stage.planned_hours is None else sentences.hours_words(stage.planned_hours),
            " ".join(sentences.degrees(celsius, manner) for celsius in stage.end_celsius),
            f"{stage.kwh:.1f}",
        )
        for stage in report.stages
    ]
    flow.heading("Stages")
    heads = ("stage", "from", "took", "plan", "ended at, from the bottom", "kWh")
    flow.table(heads, rows, (1.5, 0.9, 1.2, 1.2, 2.2, 0.8))


def _climbs(flow: Flow, report: Report, manner: Manner, names: list[str], shares: tuple[float, ...]) -> None:
    rows = []
    for one in report.ranges:
        if one.last:
            words = f"last {manner.difference(one.to_celsius - one.from_celsius)} to the peak"
        else:
            words = f"{sentences.degrees(one.from_celsius, manner)} to {sentences.degrees(one.to_celsius, manner)}"
        rows.append((words, *(sentences.climb(climb, manner) for climb in one.rings)))
    flow.heading(f"Climb [{_unit(manner)} per hour]")
    flow.table((_unit(manner), *names), rows, shares)
    boils, from_, to, quartz = (sentences.degrees(celsius, manner) for celsius in (100.0, 450.0, 600.0, 573.0))
    said = f"Water boils at {boils}; clay loses its bound water at about {from_} to {to}; quartz turns at {quartz}."
    flow.lines((said,), SMALL)


def _above(flow: Flow, report: Report, manner: Manner, names: list[str], shares: tuple[float, ...]) -> None:
    rows = []
    for one in report.above:
        if one.below_peak:
            words = f"within {manner.difference(one.celsius)} of its peak"
        else:
            words = f"above {sentences.degrees(one.celsius, manner)}"
        rows.append((words, *("-" if hours is None else sentences.hours_words(hours) for hours in one.rings)))
    flow.heading("Time above")
    flow.table((_unit(manner), *names), rows, shares)


def _evenness(flow: Flow, report: Report, manner: Manner) -> None:
    even = report.evenness
    flow.heading("Soak and evenness", ROW)
    said = []
    if report.soak_minutes is not None:
        name, five = report.rings[report.reference].name, f"{manner.difference(SOAK_CELSIUS)} {_unit(manner)}"
        said.append(f"The {name} ring stayed {report.soak_minutes:.0f} min within {five} of its peak.")
    if even.at_end is not None:
        said.append(f"Rings {manner.difference(even.at_end)} apart when the heating ended.")
    if even.widest is not None:
        when = manner.clock(even.widest_utc_ms)
        said.append(
            f"At most {manner.difference(even.widest)} apart above {manner.heat(even.above_celsius)}, at {when}."
        )
    elif even.at_end is None:
        said.append("Evenness cannot be told: fewer than two probes, or never hot enough.")
    flow.lines(said)


def _cooling(flow: Flow, report: Report, manner: Manner) -> None:
    rows = [
        (
            f"{sentences.degrees(one.from_celsius, manner)} to {sentences.degrees(one.to_celsius, manner)}",
            one.name or "plan",
            sentences.climb(one.celsius_per_hour, manner),
            sentences.climb(one.fastest, manner),
            sentences.climb(one.limit, manner),
        )
        for one in report.cooling
    ]
    flow.heading(f"Cooling [{_unit(manner)} per hour]")
    if not rows:
        flow.lines(("Not seen yet.",))
        return
    flow.table(("band", "", "whole band", "fastest 10 min", "plan's limit"), rows, (1.5, 1.4, 1.2, 1.4, 1.2))
    middle = manner.heat(226.0)
    flow.lines((f"Cristobalite matters to bodies that have it; {middle} is in the middle of its band.",), SMALL)
    reached = [
        f"{sentences.degrees(celsius, manner)} {'not seen' if at is None else _when(at, manner)}"
        for celsius, at in report.cooled
    ]
    flow.lines((f"Hottest ring below {'; '.join(reached)}.",))


def _when(utc_ms: int, manner: Manner) -> str:
    return f"{sentences.short_day(utc_ms, manner)} {manner.clock(utc_ms)}"


def _energy(flow: Flow, report: Report) -> None:
    energy = report.energy
    flow.heading("Energy [kWh] and cost")
    rings = [(ring.name, f"{ring.kwh:.2f}") for ring in reversed(report.rings)]
    flow.table(("ring", "kWh"), [*rings, ("all", f"{energy.kwh:.2f}")], (3, 1))
    if energy.charges:
        rows = [(f"{one.per_kwh:.4g} per kWh", f"{one.kwh:.2f}", f"{one.money:.2f}") for one in energy.charges]
        total = ("all" if not energy.lit_by else f"all, to {energy.lit_by}", f"{energy.kwh:.2f}", f"{energy.money:.2f}")
        flow.y += 1
        flow.table(("price", "kWh", energy.currency), [*rows, total], (3, 1, 1))
    else:
        flow.lines(("No tariff is set: [cost] in the settings takes one.",), SMALL)


def _differences(flow: Flow, report: Report, manner: Manner) -> None:
    if report.last is None or not report.differences:
        return
    rows = [sentences.difference(one, manner) for one in report.differences]
    flow.heading(f"Against {sentences.short_day(report.last.started_utc_ms, manner)}, firing {report.last.id}")
    flow.table(("", "then", "now", "change"), rows, (2.4, 1.7, 1.7, 1.1))


def _questions(flow: Flow, report: Report, manner: Manner) -> None:
    if report.questions:
        flow.heading("Open questions")
        flow.lines([sentences.question(one, manner) for one in report.questions])


def _happened(flow: Flow, report: Report, manner: Manner) -> None:
    """What is of one minute stands on one line; an alarm stands alone."""
    flow.heading("What happened")
    waiting: list[str] = []
    at = ""
    day = ""
    for one in report.story.happenings:
        now = sentences.short_day(one.utc_ms, manner).split(" ", 1)[0] + " " + manner.clock(one.utc_ms)
        alarm = sentences.kind(one) == "alarm"
        if waiting and (now != at or alarm):
            flow.noted(at if at != day else "", "; ".join(waiting), False)
            waiting = []
        words = sentences.happening(one, manner)
        if alarm:
            flow.noted(now, words, True)
        else:
            waiting.append(words.removesuffix("."))
        at = now
    if waiting:
        flow.noted(at, "; ".join(waiting), False)


def _unit(manner: Manner) -> str:
    return manner.unit.replace("deg", "°")
