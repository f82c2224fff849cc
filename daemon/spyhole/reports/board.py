"""The page to pin to the board: what came of it, the curve, the stack with its cones, cost, and what is still open."""

from math import cos, pi, sin

from spyhole.core import words as trade
from spyhole.core.report import sentences
from spyhole.core.report.climbing import SOAK_CELSIUS
from spyhole.core.report.report import Report, RingReport
from spyhole.core.words import Manner
from spyhole.reports import curve
from spyhole.reports.cones import slab
from spyhole.reports.paper import ACCENT, BRICK, HEIGHT, INK, JOINT, LINE, SOFT, WHITE, WIDTH, Face, Pen

HEAD = 30.0
HALF = 88.0
RIGHT = 94.0
CAUTION_LINES = 9.0
ORDER = ("peak", "end", "heating", "energy", "work", "stage")
MOST_DIFFERENCES = 4
SMALL = Face(8.0, tone=SOFT)
TEXT = Face(9.0)
STRONG = Face(9.0, bold=True)
SECTION = Face(10.0, bold=True, tone=ACCENT)


def draw(pen: Pen, report: Report, manner: Manner) -> None:
    """The whole page."""
    _head(pen, report, manner)
    y = pen.paragraph(0, HEAD + 2, WIDTH, sentences.headline(report, manner), Face(14, bold=True)) + 10
    tall = 68.0
    curve.draw(pen, report, curve.frame(report, (11, y, WIDTH - 12, tall), whole=False), manner)
    y = _stack(pen, report, y + tall + curve.FOOT + 5, manner)
    left = _energy(pen, report, 0, y)
    _cooling(pen, report, left + 2, manner)
    right = _different(pen, report, y, manner)
    _open(pen, report, right + 2, manner)
    pen.line([(0, HEIGHT - CAUTION_LINES), (WIDTH, HEIGHT - CAUTION_LINES)], LINE)
    pen.paragraph(0, HEIGHT - CAUTION_LINES + 0.6, WIDTH, sentences.CAUTION, Face(7.5, tone=SOFT))


def _head(pen: Pen, report: Report, manner: Manner) -> None:
    """A wall of brick with a hole to look through, and the three cones in it."""
    tall = HEAD / 5
    pen.box(0, 0, WIDTH, HEAD, BRICK)
    for course in range(6):
        pen.line([(0, course * tall), (WIDTH, course * tall)], JOINT, 0.3)
        for brick in range(8):
            x = 13 + brick * 26 - (13 if course % 2 else 0)
            if course < 5 and 0 < x < WIDTH:
                pen.line([(x, course * tall), (x, (course + 1) * tall)], JOINT, 0.3)
    pen.box(34, 1.5 * tall, 133, 3 * tall - 1, BRICK)
    ragged = [12.4 + 0.5 * sin(7 * turn) + 0.3 * sin(13 * turn + 1) for turn in (2 * pi * n / 72 for n in range(72))]
    hole = [(17 + r * cos(2 * pi * n / 72), 15 + r * sin(2 * pi * n / 72)) for n, r in enumerate(ragged)]
    pen.shape(hole, INK, JOINT, 0.6)
    work = report.rings[report.reference].work
    if work is not None:
        for place, one in enumerate(work.pack):
            slab(pen, 9.5 + 6.2 * place, 20.5, 8.0, one.bend_degrees, WHITE)
    pen.box(34, 3.5, 135, 23, BRICK)
    story = report.story
    pen.text(37, 12, story.kiln.name, Face(22, bold=True))
    pen.text(37, 18.2, _fitting(story.plan.name, Face(11), 130), Face(11))
    lit = f"Lit {sentences.day(story.started_utc_ms, manner)}, {manner.clock(story.started_utc_ms)}"
    by = f" by {report.energy.lit_by}" if report.energy.lit_by else ""
    pen.text(37, 23.6, _fitting(f"{lit}{by}, for cone {story.plan.cone}", Face(9.5), 130), Face(9.5))


def _fitting(text: str, face: Face, width: float) -> str:
    """The first line of it, with three dots where there is more."""
    lines = face.wrapped(text, width - 3)
    return lines[0] if len(lines) == 1 else f"{lines[0]} ..."


def _stack(pen: Pen, report: Report, y: float, manner: Manner) -> float:
    """The kiln as its rings, top above bottom, with the pack as each ring would have bent it."""
    tall = min(13.0, 39.0 / len(report.rings))
    for number, ring in enumerate(reversed(report.rings)):
        top = y + number * (tall + 0.8)
        pen.box(0, top, WIDTH, tall, BRICK)
        middle = top + tall / 2
        decides = report.rings.index(ring) == report.reference
        pen.text(3, middle + 1.2, ring.name.capitalize(), Face(11, bold=True))
        if decides:
            pen.text(3, middle + 4.6, "this ring's cone decides", Face(6.5, tone=SOFT))
        _peak(pen, ring, middle, manner)
        _pack(pen, ring, top, tall)
        words = sentences.ring_work(ring.work, ring.probe)
        words = f"Cone {words}" if ring.work is not None and ring.work.down else words
        lines = len(TEXT.wrapped(words, 48))
        pen.paragraph(110, middle + 1.2 - (lines - 0.25) * TEXT.line + (lines - 1) * TEXT.line / 2, 48, words, TEXT)
        pen.text(WIDTH - 3, middle + 1.2, f"{ring.kwh:.1f} kWh", TEXT, "right")
    return y + len(report.rings) * (tall + 0.8) + 2


def _peak(pen: Pen, ring: RingReport, middle: float, manner: Manner) -> None:
    if ring.peak_celsius is not None:
        pen.text(58, middle + 1.2, manner.heat(ring.peak_celsius), Face(13, bold=True), "right")
        pen.text(58, middle + 4.6, f"peak, {manner.clock(ring.peak_utc_ms)}", Face(6.5, tone=SOFT), "right")


def _pack(pen: Pen, ring: RingReport, top: float, tall: float) -> None:
    if ring.work is None:
        return
    for place, one in enumerate(ring.work.pack):
        x = 66 + 14.5 * place
        slab(pen, x, top + tall - 3.6, tall * 0.6, one.bend_degrees, WHITE, INK)
        pen.text(x, top + tall - 0.9, one.cone, Face(6.5), "middle")


def _energy(pen: Pen, report: Report, x: float, y: float) -> float:
    energy = report.energy
    y = pen.paragraph(x, y, HALF, "What it cost", SECTION)
    money = sentences.money(energy.money, energy.currency)
    whom = f", to {energy.lit_by}" if energy.lit_by and energy.charges else ""
    how = "by measured current" if energy.measured_share > 0.995 else "by the switches"
    if 0.005 < energy.measured_share <= 0.995:
        how = "partly by measured current"
    said = f"{energy.kwh:.1f} kWh {how}; {money}{whom}."
    y = pen.paragraph(x, y, HALF, said, STRONG)
    if len(energy.charges) > 1:
        parts = ", ".join(f"{one.kwh:.1f} kWh at {one.per_kwh:.3g}" for one in energy.charges)
        y = pen.paragraph(x, y, HALF, f"{parts} {energy.currency} each.", TEXT)
    if energy.believed_share > 0.005:
        y = pen.paragraph(x, y, HALF, "Part of it by settings nobody wrote down.", SMALL)
    return y


def _cooling(pen: Pen, report: Report, y: float, manner: Manner) -> None:
    said = _times(report, manner)
    if said:
        y = pen.paragraph(0, y, HALF, "Heating and cooling", SECTION)
    for line in said:
        y = pen.paragraph(0, y, HALF, line, TEXT)


def _times(report: Report, manner: Manner) -> list[str]:
    said = []
    down = report.down
    cone = f"Cone {report.story.plan.cone}"
    if down is not None:
        low, high = manner.clock(down.low), manner.clock(down.high) if down.high is not None else "never"
        between = f" (between {low} and {high})" if down.low is not None else ""
        said.append(f"{cone} went down {manner.clock(down.utc_ms)}{between}, by heat work.")
    elif report.ending is not None:
        work = report.rings[report.reference].work
        if work is not None:
            said.append(f"{cone} did not go down: {trade.stands(work.alpha)}, by heat work.")
    if report.heating_hours is not None:
        near = f"{manner.difference(SOAK_CELSIUS)} degrees of the peak"
        soak = f"; {report.soak_minutes:.0f} min within {near}" if report.soak_minutes is not None else ""
        said.append(f"Heated for {sentences.hours_words(report.heating_hours)}{soak}.")
    if report.evenness.at_end is not None:
        apart = manner.difference(report.evenness.at_end)
        said.append(f"Hottest and coolest ring {apart} apart when the heating ended.")
    for band in report.cooling:
        if band.name and band.celsius_per_hour is not None:
            middle = sentences.degrees(573.0 if band.name == "quartz" else 226.0, manner)
            said.append(f"Cooled past {band.name} ({middle}) at {manner.difference(band.celsius_per_hour)} per hour.")
    reached = [
        f"{sentences.degrees(celsius, manner)} at {manner.clock(at)}" for celsius, at in report.cooled if at is not None
    ]
    if reached:
        said.append(f"Below {', '.join(reached)}.")
    return said


def _different(pen: Pen, report: Report, y: float, manner: Manner) -> float:
    y = pen.paragraph(RIGHT, y, HALF, "Different from last time", SECTION)
    if report.last is None:
        return pen.paragraph(RIGHT, y, HALF, "No earlier firing by this plan is in the kiln book.", TEXT)
    matters = [one for one in report.differences if one.matters]
    if not report.differences:
        return pen.paragraph(RIGHT, y, HALF, "Said when this firing is over.", TEXT)
    y = pen.paragraph(RIGHT, y, HALF, f"Than on {sentences.day(report.last.started_utc_ms, manner)}:", SMALL)
    if not matters:
        return pen.paragraph(RIGHT, y, HALF, "Nothing worth a word: it went as it did then.", TEXT)
    matters.sort(key=lambda one: ORDER.index(one.what))
    for one in matters[:MOST_DIFFERENCES]:
        what, before, now, change = sentences.difference(one, manner)
        words = f"{what} {now}; last time {before}" + (f" ({change})" if change else "")
        y = pen.paragraph(RIGHT, y, HALF, f"{words}.", TEXT)
    if len(matters) > MOST_DIFFERENCES:
        y = pen.paragraph(RIGHT, y, HALF, f"{len(matters) - MOST_DIFFERENCES} more on the next page.", SMALL)
    return y


def _open(pen: Pen, report: Report, y: float, manner: Manner) -> None:
    """Questions with room to write, as far as the page goes."""
    y = pen.paragraph(RIGHT, y, HALF, "For the keeper", SECTION)
    if not report.questions:
        pen.paragraph(RIGHT, y, HALF, "Nothing is open.", TEXT)
        return
    for number, one in enumerate(report.questions):
        words = sentences.question(one, manner)
        needs = len(TEXT.wrapped(words, HALF)) * TEXT.line + 5.5
        left = len(report.questions) - number
        if y + needs > HEIGHT - CAUTION_LINES - (0 if left == 1 else TEXT.line):
            pen.paragraph(RIGHT, y, HALF, f"{left} more on the next page.", SMALL)
            return
        y = pen.paragraph(RIGHT, y, HALF, words, TEXT)
        pen.line([(RIGHT, y + 4.6), (WIDTH, y + 4.6)], SOFT, 0.15, (0.4, 0.8))
        y += 5.5
